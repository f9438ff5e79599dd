"""What makes a button of a link. Enters: a link that is one; leaves: what is painted, and what is behind."""

from __future__ import annotations

from handbill.dom.tree import Element
from handbill.preflight.inks import Ground, Inks


def face(element: Element, inks: Inks) -> Element | None:
    """The element whose face or border makes a button of the link, the link itself or its cell."""
    style, cell = inks.styler.of(element), element.parent
    if element not in inks.grounds or cell is None or style.display == "inline":
        return None
    if next(element.iter("img"), None) is not None:
        return None
    if _drawn(element, inks):
        return element
    return cell if cell.tag == "td" and _drawn(cell, inks) and not _more(cell, element) else None


def _drawn(element: Element, inks: Inks) -> bool:
    style, around = inks.styler.of(element), outside(element, inks)
    filled = style.background_color[3] > 0 and inks.grounds[element].colour != around.colour
    return filled or sum(1 for width in style.border if width) == 4


def outside(element: Element, inks: Inks) -> Ground:
    """What is behind an element."""
    return inks.grounds.get(element.parent, Ground()) if element.parent is not None else Ground()


def _more(cell: Element, link: Element) -> bool:
    """Whether a cell holds more than the link."""
    return any(child is not link and (isinstance(child, Element) or child.strip()) for child in cell.children)
