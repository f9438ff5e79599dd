"""Enters: a mail's HTML and how a reader shows it; leaves: a page of headless Chromium, off the network.

Pictures are answered from the mail's own output folder, every other request is refused and noted.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal
from urllib.parse import unquote, urlsplit

from playwright.sync_api import Browser, BrowserContext, Page, Route, sync_playwright

# RFC 6761 section 6.4: names under .invalid never resolve.
ADDRESS = "https://mail.invalid/campaign/main/email.html"
SWITCHES = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--font-render-hinting=none",
)
STYLE = re.compile(r"<style\b.*?</style\s*>", re.DOTALL | re.IGNORECASE)
# Who blocks pictures blocks these too; what is behind the text is then its solid colour alone.
NO_BACKGROUNDS = "* { background-image: none !important }"
LOOK = Path(__file__).with_name("look.js")


@dataclass(frozen=True)
class View:
    """One way of showing a mail; `width` in CSS px, `scale` in device px per CSS px."""

    width: int
    scheme: Literal["light", "dark"] = "light"
    pictures: bool = True
    styles: bool = True
    scale: float = 1

    def __str__(self) -> str:
        parts = [str(self.width), self.scheme]
        parts += ["no pictures"] * (not self.pictures) + ["no styles"] * (not self.styles)
        return " ".join(parts)


@dataclass
class Shown:
    """An open mail: the page, and the addresses it asked for in vain."""

    page: Page
    refused: list[str] = field(default_factory=list)

    def show(self, view: View) -> None:
        """The same mail, not loaded again, at another width or in the other scheme."""
        self.page.set_viewport_size({"width": view.width, "height": 800})
        self.page.emulate_media(color_scheme=view.scheme)

    def look(self) -> dict[str, Any]:
        """What `look.js` sees, with the window as tall as the mail so that every point can be probed."""
        height = self.page.evaluate("document.documentElement.scrollHeight")
        size = self.page.viewport_size
        assert size is not None
        self.page.set_viewport_size({"width": size["width"], "height": max(height, 100)})
        seen = self.page.evaluate(LOOK.read_text("utf-8"))
        assert isinstance(seen, dict)
        return seen


class Reader:
    """A mail reader made of one browser."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser

    @contextmanager
    def bare(self) -> Iterator[Page]:
        """An empty page that asks the network for nothing."""
        context = self._browser.new_context()
        try:
            context.route("**/*", lambda route: route.abort())
            yield context.new_page()
        finally:
            context.close()

    @contextmanager
    def open(self, html: str, pictures: Path, view: View) -> Iterator[Shown]:
        """Show `html`; pictures are sought by file name in the folder `pictures`, whatever their address."""
        context = self._browser.new_context(
            viewport={"width": view.width, "height": 800},
            device_scale_factor=view.scale,
            color_scheme=view.scheme,
        )
        try:
            shown = Shown(context.new_page())
            self._answer(context, shown, html if view.styles else STYLE.sub("", html), pictures, view)
            shown.page.goto(ADDRESS, wait_until="load")
            if not view.pictures:
                shown.page.add_style_tag(content=NO_BACKGROUNDS)
            yield shown
        finally:
            context.close()

    def _answer(self, context: BrowserContext, shown: Shown, html: str, pictures: Path, view: View) -> None:
        def answer(route: Route) -> None:
            if route.request.url == ADDRESS:
                route.fulfill(body=html, content_type="text/html; charset=utf-8")
                return
            file = pictures / Path(unquote(urlsplit(route.request.url).path)).name
            if route.request.resource_type == "image" and not view.pictures:
                route.abort()
            elif route.request.resource_type == "image" and file.is_file():
                route.fulfill(path=file)
            else:
                shown.refused.append(route.request.url)
                route.abort()

        context.route("**/*", answer)


@contextmanager
def start_reader() -> Iterator[Reader]:
    """Debian's Chromium, headless. Raises RuntimeError when it is not installed."""
    chromium = shutil.which("chromium")
    if chromium is None:
        raise RuntimeError("chromium is not installed; sh tests/run installs it")
    # As root, Chromium refuses to start inside its sandbox.
    sandbox = ("--no-sandbox",) if os.geteuid() == 0 else ()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=[*SWITCHES, *sandbox])
        try:
            yield Reader(browser)
        finally:
            browser.close()
