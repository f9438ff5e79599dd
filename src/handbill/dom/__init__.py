"""Reading a mail's HTML back. Enters: its bytes; leaves: a light tree with byte places and computed styles.

Follows the HTML standard for the tree and CSS 2.2, Media Queries 4 and the HTML standard's rendering section
for the styles, as far as mails use them. What lies outside is named in `Document.notes` and `Sheet.notes`.
"""

from handbill.dom.cascade import Styler
from handbill.dom.css import View
from handbill.dom.parse import parse
from handbill.dom.style import Style
from handbill.dom.tree import Document, Element, Section, text_of

__all__ = ["Document", "Element", "Section", "Style", "Styler", "View", "parse", "text_of"]
