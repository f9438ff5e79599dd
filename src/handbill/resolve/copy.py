"""Copy as templates place it. Enters: a parsed `Tree`, facts, a voice; leaves: HTML or plain text.

Facts and links are filled once (`fill_copy`), then any number of voices write the result (`Copy`). Every
piece of text is escaped where it is written, so nothing in it can open or close an element.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

from handbill.resolve.facts import LINKS, Fact, Formats, fill
from handbill.resolve.markdown import (
    Block,
    Break,
    Inline,
    Items,
    Link,
    Mark,
    Paragraph,
    Run,
    Tree,
    links_of,
    parse_copy,
)
from handbill.resolve.text import Filled, Voice, differs, kept, write

__all__ = ["Copy", "Tree", "fill_copy", "parse_copy"]


def fill_copy(
    tree: Tree,
    facts: Mapping[str, Fact],
    formats: Formats,
    *,
    link: Callable[[Filled], Filled],
    rtl: bool = False,
    recipient: Collection[str] | None = None,
    links: Collection[str] = LINKS,
) -> Tree:
    """`tree` with its facts filled in, ready for any number of `Copy`.

    `link` resolves each target, facts in it percent-encoded, and raises a Fault for one that may not be. The
    other arguments and the Faults are those of `facts.fill`.
    """
    if tree.fixed:
        return tree

    def run(parts: Run, url: bool = False) -> Filled:
        # A parsed tree holds no Send yet, and a filled one no Ref.
        return fill(parts, facts, formats, rtl=rtl, url=url, recipient=recipient, links=links)  # type: ignore[arg-type]

    def inline(node: Inline) -> Inline:
        if isinstance(node, tuple):
            return run(node)
        if isinstance(node, Mark):
            return Mark(node.tag, tuple(map(inline, node.children)))
        if isinstance(node, Link):
            return Link(tuple(map(inline, node.children)), link(run(node.href, url=True)))
        return node

    def block(node: Block) -> Block:
        if isinstance(node, Paragraph):
            return Paragraph(tuple(map(inline, node.children)))
        return Items(node.start, tuple(tuple(map(block, item)) for item in node.items))

    return Tree(tuple(map(block, tree.blocks)), fixed=True)


class _Slot(str):
    """The place in HTML where an element's attributes go, named by their key."""


class Copy:
    """Filled copy in the words of a voice, for templates; each form is made on first use and kept."""

    def __init__(self, tree: Tree, voice: Voice) -> None:
        self.tree = tree
        self._voice = voice

    @classmethod
    def of(cls, tree: Tree, voice: Voice) -> Copy:
        """`tree`, as `fill_copy` leaves it. A dialect's Copy whose `send` is false serves a sample too."""
        return cls(tree, voice)

    def html(self, attrs: Mapping[str, str]) -> str:
        """Block content. `attrs` gives the raw attributes, each with its leading space, for the keys p,
        p-last (a paragraph at the end; falls back to p), a, ul, ol, li, strong and em."""
        return _with(self._html, attrs)

    def inline_html(self, attrs: Mapping[str, str]) -> str:
        """The same where only inline content fits: paragraphs and list items are parted by `<br>`."""
        return _with(self._inline_html, attrs)

    @kept
    def plain(self) -> str:
        """As text: paragraphs parted by a blank line, `- ` before items, links as `label: URL` where they
        stand alone and as `label (URL)` in a sentence."""
        return "\n".join(self._block_lines(self.tree.blocks, loose=True))

    @kept
    def send(self) -> bool:
        """Whether another voice would write it otherwise: send-time parts, or text that this voice guards."""
        return any(differs(run, self._voice) for run in self._runs(self.tree.blocks)) or any(
            differs(href, self._voice) for href in self.links
        )

    @kept
    def links(self) -> tuple[Filled, ...]:
        """The resolved targets in reading order."""
        return tuple(_filled(link.href) for link in links_of(self.tree.blocks))

    @property
    def runs(self) -> tuple[Filled, ...]:
        """The text in reading order, without where links lead."""
        return tuple(self._runs(self.tree.blocks))

    def __bool__(self) -> bool:
        return any(
            not isinstance(part, str) or bool(part.strip())
            for run in self._runs(self.tree.blocks)
            for part in run
        )

    @kept
    def _html(self) -> tuple[str, ...]:
        out: list[str] = []
        for at, block in enumerate(self.tree.blocks):
            if at:
                out.append("\n")
            self._block(block, out, last=at == len(self.tree.blocks) - 1)
        return tuple(out)

    @kept
    def _inline_html(self) -> tuple[str, ...]:
        out: list[str] = []
        for at, (mark, children) in enumerate(_rows(self.tree.blocks)):
            out.append(f"<br>{mark}" if at else mark)
            self._inlines(children, out)
        return tuple(out)

    def _block(self, block: Block, out: list[str], last: bool) -> None:
        if isinstance(block, Paragraph):
            out += "<p", _Slot("p-last" if last else "p"), ">"
            self._inlines(block.children, out)
            out.append("</p>")
            return
        tag = "ul" if block.start is None else "ol"
        out += f"<{tag}", _Slot(tag), ">" if block.start in (None, 1) else f' start="{block.start}">'
        for item in block.items:
            out += "\n<li", _Slot("li"), ">"
            # One paragraph needs no element of its own, and a list below it none above.
            tight = sum(isinstance(part, Paragraph) for part in item) < 2
            for at, part in enumerate(item):
                if tight and isinstance(part, Paragraph):
                    self._inlines(part.children, out)
                else:
                    if at:
                        out.append("\n")
                    self._block(part, out, last=at == len(item) - 1)
            out.append("</li>")
        out.append(f"\n</{tag}>")

    def _inlines(self, children: tuple[Inline, ...], out: list[str]) -> None:
        for child in children:
            if isinstance(child, tuple):
                out.append(write(_filled(child), "html", self._voice))
            elif isinstance(child, Break):
                out.append("<br>")
            else:
                tag = "a" if isinstance(child, Link) else child.tag
                if isinstance(child, Link):
                    out.append(f'<a href="{write(_filled(child.href), "url", self._voice)}"')
                else:
                    out.append(f"<{tag}")
                out += _Slot(tag), ">"
                self._inlines(child.children, out)
                out.append(f"</{tag}>")

    def _block_lines(self, blocks: tuple[Block, ...], loose: bool) -> Iterator[str]:
        """The lines of `blocks`; a blank one parts them when `loose`, and before a paragraph."""
        before: Block | None = None
        for block in blocks:
            if before is not None and (loose or isinstance(block, Paragraph)):
                yield ""
            before = block
            if isinstance(block, Paragraph):
                yield from self._plain(block.children, alone=len(block.children) == 1).split("\n")
                continue
            for at, item in enumerate(block.items):
                mark = "- " if block.start is None else f"{block.start + at}. "
                lines = list(self._block_lines(item, loose=False)) or [""]
                yield (mark + lines[0]).rstrip()
                yield from (f"{' ' * len(mark)}{line}" if line else "" for line in lines[1:])

    def _plain(self, children: tuple[Inline, ...], alone: bool) -> str:
        out: list[str] = []
        for child in children:
            if isinstance(child, tuple):
                out.append(write(_filled(child), "plain", self._voice))
            elif isinstance(child, Break):
                out.append("\n")
            elif isinstance(child, Mark):
                out.append(self._plain(child.children, alone=alone and len(child.children) == 1))
            else:
                label = self._plain(child.children, alone=False)
                url = write(_filled(child.href), "plain_url", self._voice)
                if url in (label, f"mailto:{label}", f"tel:{label}"):
                    out.append(label)
                else:
                    out.append(f"{label}: {url}" if alone else f"{label} ({url})")
        return "".join(out)

    def _runs(self, found: Sequence[Block | Inline]) -> Iterator[Filled]:
        for node in found:
            if isinstance(node, tuple):
                yield _filled(node)
            elif isinstance(node, Items):
                for item in node.items:
                    yield from self._runs(item)
            elif not isinstance(node, Break):
                yield from self._runs(node.children)


def _filled(run: Run) -> Filled:
    """A run of a filled tree; a reference in it is a fault in the program."""
    return run  # type: ignore[return-value]


def _rows(blocks: tuple[Block, ...]) -> Iterator[tuple[str, tuple[Inline, ...]]]:
    """Every paragraph with the mark of the list item that it starts."""
    for block in blocks:
        if isinstance(block, Paragraph):
            yield "", block.children
            continue
        for at, item in enumerate(block.items):
            mark = "- " if block.start is None else f"{block.start + at}. "
            for row in _rows(item):
                yield mark + row[0], row[1]
                mark = ""


def _with(pieces: tuple[str, ...], attrs: Mapping[str, str]) -> str:
    last = attrs.get("p-last", attrs.get("p", ""))
    return "".join(
        [
            (last if piece == "p-last" else attrs.get(piece, "")) if type(piece) is _Slot else piece
            for piece in pieces
        ]
    )
