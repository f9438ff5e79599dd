"""CSS as mails use it. Enters: `style` attributes and the head's style sheets; leaves: declarations that
apply.

Follows CSS Syntax 3, Selectors 4 (types, classes, ids, attributes, `:root`, descendants and children) and
Media Queries 4 (unknown features do not match). Plain rules are cut at their braces and kept by their text,
anything else goes through tinycss2.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Literal

from handbill.base.frozen import dataclass
from handbill.dom.tree import Element, Look

Declaration = tuple[str, str, bool]  # property, value, important
_PLAIN = re.compile(r"[^{}\"'\\@/<]*\Z")
_PLAIN_STYLE = re.compile(r"[^{}\"\\@(;:/<]*\Z")
_LIMIT = 50_000  # texts kept; past it they are read again


@dataclass(frozen=True, slots=True)
class View:
    """How a mail is shown: `width` and `height` of the window in CSS px."""

    width: int
    height: int = 844
    scheme: Literal["light", "dark"] = "light"


class Declarations:
    """The declarations of one rule or `style` attribute, in order; one object for each text."""

    __slots__ = ("important", "normal", "text")

    def __init__(self, text: str) -> None:
        found = read_declarations(text)
        self.text = text
        self.normal = tuple((name, value) for name, value, important in found if not important)
        self.important = tuple((name, value) for name, value, important in found if important)


_DECLARATIONS: dict[str, Declarations] = {}


def declarations(text: str) -> Declarations:
    found = _DECLARATIONS.get(text)
    if found is None:
        if len(_DECLARATIONS) > _LIMIT:
            _DECLARATIONS.clear()
        found = _DECLARATIONS[text] = Declarations(text)
    return found


def read_declarations(text: str) -> list[Declaration]:
    """Property (lower case), value, importance; what CSS cannot read is left out, as it says."""
    found: list[Declaration] = []
    if "\\" not in text and "/*" not in text and '"' not in text and "{" not in text and "(" not in text:
        for part in text.split(";"):
            name, colon, value = part.partition(":")
            value = value.strip()
            if colon and value:
                important = value[-10:].lower() == "!important"
                found.append((name.strip().lower(), value[:-10].strip() if important else value, important))
        return found
    import tinycss2

    for node in tinycss2.parse_declaration_list(text, skip_comments=True, skip_whitespace=True):
        if node.type == "declaration":
            found.append((node.lower_name, tinycss2.serialize(node.value).strip(), node.important))
    return found


class Selector:
    """A complex selector: compounds from the left, each with the combinator before it."""

    __slots__ = ("asks", "compounds", "only_class", "only_tag", "specificity")

    def __init__(self, compounds: list[tuple[str, Compound]]) -> None:
        self.compounds = compounds
        ids = sum(len(one.ids) for _, one in compounds)
        classes = sum(len(one.classes) + len(one.attributes) + one.root for _, one in compounds)
        self.specificity = (ids, classes, sum(one.tag != "" for _, one in compounds))
        # Attributes without which it matches nothing, and the whole of it if it is but a class or a type.
        self.asks = frozenset(name for _, one in compounds for name, _ in one.attributes)
        last = compounds[-1][1]
        bare = len(compounds) == 1 and not (last.attributes or last.ids) and not (last.root and last.tag)
        one_class = bare and len(last.classes) == 1 and not last.tag and not last.root
        self.only_class = last.classes[0] if one_class else ""
        self.only_tag = ("html" if last.root else last.tag) if bare and not last.classes else ""

    @property
    def subject(self) -> Compound:
        return self.compounds[-1][1]

    def matches(self, element: Element) -> bool:
        return self.subject.matches(element) and self._above(element, len(self.compounds) - 1)

    def _above(self, element: Element, at: int) -> bool:
        if at == 0:
            return True
        combinator, wanted = self.compounds[at][0], self.compounds[at - 1][1]
        parent = element.parent
        while parent is not None:
            if wanted.matches(parent) and self._above(parent, at - 1):
                return True
            if combinator == ">":
                return False
            parent = parent.parent
        return False


class Compound:
    __slots__ = ("attributes", "classes", "ids", "root", "tag")

    def __init__(self) -> None:
        self.tag = ""
        self.ids: list[str] = []
        self.classes: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.root = False

    def matches(self, element: Element) -> bool:
        look: Look = element.head.look
        return (
            (not self.tag or element.tag == self.tag)
            and all(name in look.classes for name in self.classes)
            and all(name == look.id for name in self.ids)
            and (not self.root or element.parent is None)
            and all(
                name in element.attributes and (value is None or element.attributes[name] == value)
                for name, value in self.attributes
            )
        )


_COMPOUND = re.compile(
    r"(?P<tag>\*|[a-zA-Z][\w-]*)?(?P<rest>(?:[.#][\w-]+|\[[^\]]+\]|:root)*)\Z",
)
_PART = re.compile(r"\.(?P<class>[\w-]+)|#(?P<id>[\w-]+)|\[(?P<attribute>[^\]]+)\]|(?P<root>:root)")


def read_selector(text: str) -> Selector | None:
    """None for a selector outside those named above: it then matches nothing, and a note says so."""
    compounds: list[tuple[str, Compound]] = []
    combinator = ""
    for part in text.replace(">", " > ").split():
        if part == ">":
            combinator = ">"
            continue
        found = _COMPOUND.match(part)
        if found is None or not part:
            return None
        one = Compound()
        one.tag = (found["tag"] or "").lower().replace("*", "")
        for piece in _PART.finditer(found["rest"]):
            if piece["class"]:
                one.classes.append(piece["class"])
            elif piece["id"]:
                one.ids.append(piece["id"])
            elif piece["root"]:
                one.root = True
            else:
                name, equals, value = piece["attribute"].partition("=")
                if name.strip()[-1:] in ("~", "|", "^", "$", "*"):
                    return None
                one.attributes.append((name.strip().lower(), value.strip().strip("\"'") if equals else None))
        compounds.append((combinator or " ", one))
        combinator = ""
    return Selector(compounds) if compounds and not combinator else None


# What no mail is in when it is opened.
_STATE = re.compile(r":(?:hover|focus|active|visited|focus-visible|focus-within|target|checked)\b")


class Rule:
    """One style rule: selectors that were understood, those that were not, and its declarations."""

    __slots__ = ("declarations", "selectors", "unread")

    def __init__(self, prelude: str, body: str) -> None:
        parts = [part.strip() for part in prelude.split(",")]
        read = [(part, read_selector(part)) for part in parts]
        self.selectors = tuple(one for _, one in read if one is not None)
        self.unread = tuple(
            part for part, one in read if one is None and not part.startswith("@") and not _STATE.search(part)
        )
        self.declarations = declarations(body.strip())


_RULES: dict[str, Rule] = {}
_QUERIES: dict[str, list[_Query] | None] = {}


def rules(css: str, view: View) -> list[Rule]:
    """The rules of a style sheet that apply in a view, in order."""
    found: list[Rule] = []
    if "/*" in css or "\\" in css or '"' in css or "'" in css or "<" in css:
        _parsed(css, view, found)
        return found
    depth = 0
    applies = True
    for piece in css.split("}"):
        opened = piece.count("{")
        if opened == 0:
            if piece.strip() and not piece.lstrip().startswith("@"):
                _parsed(css, view, found)
                return found
            if depth:
                depth -= 1
                applies = True
            continue
        if opened == 2 and depth == 0:
            prelude, _, piece = piece.partition("{")
            prelude = prelude.strip()
            if not prelude.startswith("@media"):
                if prelude.startswith("@"):
                    applies = False
                    found += _left_out(prelude)
                else:
                    return _again(css, view, found)
            else:
                applies = media_matches(prelude[6:], view)
            depth = 1
        elif opened != 1:
            return _again(css, view, found)
        if applies:
            rule = _RULES.get(piece)
            if rule is None:
                if len(_RULES) > _LIMIT:
                    _RULES.clear()
                selector, _, body = piece.partition("{")
                if "@" in selector and not selector.strip().startswith(("@font-face", "@page")):
                    return _again(css, view, found)
                rule = _RULES[piece] = Rule(selector.strip(), body)
            found.append(rule)
    return found


def _again(css: str, view: View, found: list[Rule]) -> list[Rule]:
    found.clear()
    _parsed(css, view, found)
    return found


_HARMLESS = ("@font-face", "@keyframes", "@-webkit-keyframes", "@page", "@font-feature", "@property", "@-ms")


def _left_out(prelude: str) -> list[Rule]:
    """A rule that applies to nothing and says so, for a group of rules that is not read."""
    if prelude.startswith(_HARMLESS):
        return []
    rule = Rule("html", "")
    rule.unread = (prelude.split()[0],)
    return [rule]


def _parsed(css: str, view: View, found: list[Rule]) -> None:
    import tinycss2

    found.clear()

    def walk(nodes: Iterable[Any]) -> None:
        for node in nodes:
            if node.type == "qualified-rule":
                prelude = tinycss2.serialize(node.prelude).strip()
                found.append(Rule(prelude, tinycss2.serialize(node.content)))
            elif node.type != "at-rule" or node.content is None:
                continue
            elif node.lower_at_keyword != "media":
                found.extend(_left_out(f"@{node.lower_at_keyword}"))
            elif media_matches(tinycss2.serialize(node.prelude), view):
                walk(tinycss2.parse_rule_list(node.content, skip_comments=True, skip_whitespace=True))

    walk(tinycss2.parse_stylesheet(css, skip_comments=True, skip_whitespace=True))


class _Query:
    """One media query: `type`, whether negated, and its features."""

    __slots__ = ("features", "negated", "type")

    def __init__(self, negated: bool, type: str, features: list[tuple[str, str]]) -> None:
        self.negated, self.type, self.features = negated, type, features


_QUERY = re.compile(
    r"(?:(?P<modifier>only|not)\s+)?(?P<type>[a-z-]+)?(?P<and>(?:\s*\band\b)?\s*\(.*\))?\Z", re.DOTALL
)
_FEATURE = re.compile(r"\(\s*([a-z-]+)\s*(?::\s*([^()]*?)\s*)?\)")
_FEATURES_LEFT = re.compile(r"[\s]*(?:and[\s]*)*")


def media_matches(prelude: str, view: View) -> bool:
    """Whether a media query list applies. What is unknown in it does not (Media Queries 4, section 3.2)."""
    queries = _QUERIES.get(prelude)
    if queries is None:
        if len(_QUERIES) > _LIMIT:
            _QUERIES.clear()
        queries = _QUERIES[prelude] = [_query(part) for part in prelude.lower().split(",")]
    return any(_holds(query, view) for query in queries)


def _query(text: str) -> _Query:
    found = _QUERY.match(text.strip())
    if found is None or not text.strip():
        return _Query(False, "unknown" if text.strip() else "all", [])
    features = _FEATURE.findall(found["and"] or "")
    left = _FEATURE.sub("", found["and"] or "")
    if left.replace("and", "").strip():
        return _Query(False, "unknown", [])
    return _Query(found["modifier"] == "not", found["type"] or "all", features)


def _holds(query: _Query, view: View) -> bool:
    if query.type == "unknown":
        return False
    known = [_feature(name, value, view) for name, value in query.features]
    if None in known:
        return False
    holds = query.type in ("all", "screen") and all(known)
    return holds != query.negated


def _feature(name: str, value: str, view: View) -> bool | None:
    if name == "prefers-color-scheme":
        return value in ("", view.scheme)
    if name in ("prefers-reduced-motion", "hover", "any-hover"):
        return value in ("no-preference", "none")
    if name == "orientation":
        return value in ("", "portrait" if view.height >= view.width else "landscape")
    if name.endswith("device-pixel-ratio") and "min" in name and re.fullmatch(r"0?\.?\d*|1", value):
        return True  # every screen has one pixel for a px at least
    bound, _, side = name.rpartition("-")
    side = side if side in ("width", "height") else ""
    if not side or bound not in ("min", "max", "", "min-device", "max-device", "device"):
        return None
    number = re.match(r"(\d*\.?\d+)(px|em|rem)?\Z", value)
    if number is None:
        return None
    wanted = float(number[1]) * (16 if number[2] in ("em", "rem") else 1)
    shown = view.width if side == "width" else view.height
    if bound.startswith("min"):
        return shown >= wanted
    return shown <= wanted if bound.startswith("max") else shown == wanted
