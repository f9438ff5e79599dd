"""Enters: compiled mails; leaves: full-page PNGs of each as phones, desktops and dark screens show it.

Further ones show what is left when a reader drops pictures or styles. For a person to look at.
usage: python tests/tools/shots.py OUT_DIR MAIL_HTML...   (email.html, or email.eml for the sample's copy)
"""

from __future__ import annotations

import sys
from email import message_from_bytes
from email.policy import default
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from outside.browser import View, start_reader

VIEWS = {
    "phone": View(375, scale=2),
    "phone-dark": View(375, scheme="dark", scale=2),
    "phone-no-pictures": View(375, pictures=False, scale=2),
    "desktop": View(700),
    "desktop-dark": View(700, scheme="dark"),
    "desktop-no-pictures": View(700, pictures=False),
    "narrow-no-styles": View(320, styles=False, scale=2),
}


# Where Georgia is missing and Gelasio (OFL, the same widths) is installed, it stands in: Chromium does not
# take it by itself.
FACES = (
    (400, "normal", " Regular"),
    (400, "italic", " Italic"),
    (700, "normal", " Bold"),
    (700, "italic", " Bold Italic"),
)
STAND_IN = "".join(
    f"@font-face{{font-family:Georgia;font-weight:{weight};font-style:{style};"
    f"src:local('Gelasio{name}'),local('Gelasio')}}"
    for weight, style, name in FACES
)


def html_of(file: Path) -> str:
    if file.suffix != ".eml":
        return file.read_text("utf-8")
    body = message_from_bytes(file.read_bytes(), policy=default).get_body(("html",))
    if body is None:
        raise SystemExit(f"{file} has no HTML part")
    return str(body.get_content())


def main(arguments: list[str]) -> int:
    if len(arguments) < 2:
        print(__doc__, file=sys.stderr)
        return 2
    out, mails = Path(arguments[0]), [Path(name).resolve() for name in arguments[1:]]
    out.mkdir(parents=True, exist_ok=True)
    with start_reader() as reader:
        for mail in mails:
            html, variant = html_of(mail), mail.parent
            copy = "-sample" if mail.suffix == ".eml" else ""
            for name, view in VIEWS.items():
                with reader.open(html, variant.parent / "pictures", view) as opened:
                    opened.page.add_style_tag(content=STAND_IN)
                    opened.page.evaluate("document.fonts.ready")
                    file = out / f"{variant.parent.name}-{variant.name}{copy}-{name}.png"
                    opened.page.screenshot(path=file, full_page=True)
                    print(file)
                    for url in opened.refused:
                        print(f"  not found: {url}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
