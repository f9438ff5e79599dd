"""YAML files with places. Enters: a file's text; leaves: nodes whose marks name file, line and column.

Scalars follow YAML 1.2's core schema in spirit: every plain scalar stays text, only `~`, `null` and nothing
are null, and a typed field asks for more. Merge keys (`<<`) are flattened here, so nothing later meets one.
"""

from __future__ import annotations

import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml
from yaml.cyaml import CParser  # type: ignore[attr-defined]  # the stubs leave it out

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.frozen import dataclass

if TYPE_CHECKING:
    from handbill.base.slips import Slip, Spot

MAX_BYTES = 1 << 20  # a campaign is a few KB; a megabyte is a mistake or an attack
MAX_NODES = 100_000  # after aliases are followed: an alias bomb grows by powers
MAX_DEPTH = 64  # levels of lists and mappings, aliases followed

Node = yaml.Node

_TEXT, _SEQ, _MAP = "text", "seq", "map"
_NULLS = frozenset({"", "~", "null", "Null", "NULL"})

_CURLY = frozenset("“”„‟«»")

_Base: Any = CParser


class _Loader(_Base):  # type: ignore[misc]
    """libyaml's composer with our tags, so that any other tag was written by the author."""

    def resolve(self, kind: type[Node], _value: object, _implicit: object) -> str:
        if kind is yaml.ScalarNode:
            return _TEXT
        return _SEQ if kind is yaml.SequenceNode else _MAP

    def descend_resolver(self, _parent: object, _index: object) -> None: ...

    def ascend_resolver(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Doc:
    """One YAML file: its name for messages (relative to the workspace) and its root node."""

    name: str
    root: Node


def read_yaml(path: Path, name: str) -> Doc:
    """Compose the file at `path`, which holds one mapping; raises MistakesError for anything else."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):  # reading a pipe would block for ever
            raise MistakesError([Mistake(Place(name), "", "not a file", "a YAML file")])
        if status.st_size > MAX_BYTES:
            raise MistakesError([_too_large(status.st_size, name)])
        raw = path.read_bytes()
    except FileNotFoundError:
        raise MistakesError([Mistake(Place(name), "", "no such file")]) from None
    except OSError as error:
        raise MistakesError([Mistake(Place(name), "", f"cannot be read: {error.strerror}")]) from None
    doc = parse_yaml(raw, name)
    if not is_mapping(doc.root):
        raise MistakesError([Mistake(place(doc.root), "", "the file is not a mapping", "name: value")])
    return doc


def _too_large(size: int, name: str) -> Mistake:
    return Mistake(Place(name), "", f"the file has {size:,} bytes, more than the {MAX_BYTES:,} allowed")


def parse_yaml(raw: bytes, name: str) -> Doc:
    """Compose bytes (UTF-8, a byte-order mark allowed)."""
    if len(raw) > MAX_BYTES:
        raise MistakesError([_too_large(len(raw), name)])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = len(raw[raw.rfind(b"\n", 0, error.start) + 1 : error.start].decode("utf-8-sig")) + 1
        mistake = Mistake(Place(name, line, column), "", "not UTF-8", expected="a file saved as UTF-8")
        raise MistakesError([mistake]) from None
    return Doc(name, _compose(text, name))


def _compose(text: str, name: str) -> Node:
    try:
        node: Node | None = _Loader(text).get_single_node()
    except yaml.YAMLError as error:
        raise MistakesError([_syntax(error, text, name)]) from None
    if node is None:
        raise MistakesError([Mistake(Place(name, 1, 1), "", "the file is empty")])
    texts = _name_marks(node, name)
    _Check(name).run(node)
    if " #" in text or "\t#" in text:
        from handbill.base.slips import lost

        if meant := lost(text, texts):
            raise MistakesError([_mistake(one, name) for one in meant])
    return node


def _name_marks(root: Node, name: str) -> list[tuple[Spot, Spot]]:
    """libyaml's marks say `<unicode string>`; ours carry the file, so that nodes can move between files.

    Gives where quoted and block texts start and end.
    """
    texts: list[tuple[Spot, Spot]] = []
    seen: set[int] = set()
    work = [root]
    while work:
        node = work.pop()
        if id(node) in seen:
            continue
        seen.add(id(node))
        mark: Any = node.start_mark
        if isinstance(node, yaml.ScalarNode) and node.style is not None:
            end: Any = node.end_mark
            texts.append(((mark.line, mark.column), (end.line, end.column)))
        node.start_mark = Place(name, mark.line + 1, mark.column + 1)
        node.end_mark = None
        if isinstance(node, yaml.SequenceNode):
            work.extend(node.value)
        elif isinstance(node, yaml.MappingNode):
            for pair in node.value:
                work.extend(pair)
    return texts


def _mistake(slip: Slip, name: str) -> Mistake:
    (line, column), message, expected = slip
    return Mistake(Place(name, line + 1, column + 1), "", f"YAML syntax: {message}", expected)


def _syntax(error: yaml.YAMLError, text: str, name: str) -> Mistake:
    from handbill.base.slips import Said, slip

    mark = getattr(error, "problem_mark", None)
    if mark is None:
        position = getattr(error, "position", None)
        if isinstance(position, int):  # a character YAML does not allow; libyaml counts UTF-8 bytes
            before = text.encode()[:position].decode(errors="ignore")
            place = Place(name, before.count("\n") + 1, position - before.rfind("\n"))
            return Mistake(place, "", "a character that YAML does not allow")
        return Mistake(Place(name, 1, 1), "", "not YAML: " + " ".join(str(error).split()))
    problem = getattr(error, "problem", None) or "not YAML"
    lines = text.splitlines()
    begun: Any = getattr(error, "context_mark", None)
    start = (begun.line, begun.column) if begun is not None else None
    context = getattr(error, "context", None) or ""
    found = slip(Said(lines, problem, context, (mark.line, mark.column), start))
    if found is not None:
        return _mistake(found, name)
    problem = _CLEARER.get(problem, problem)
    for number in (mark.line, mark.line - 1):
        line = lines[number] if 0 <= number < len(lines) else ""
        if "${" in line:
            problem += "; a value that holds ${…} needs quotes inside { }, [ ] and before ': '"
            break
    return Mistake(Place(name, mark.line + 1, mark.column + 1), "", f"YAML syntax: {problem}")


# libyaml's wording where it makes no sense alone
_CLEARER = {
    "but found another document": "a second document begins here; a file holds one",
    "second occurrence": "this anchor is defined twice",
}


class _Check:
    """Refuses what YAML allows and a campaign does not; flattens merge keys."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []
        self.sizes: dict[int, tuple[int, int]] = {}
        self.open: set[int] = set()
        self.deep = False

    def run(self, root: Node) -> None:
        size, _height = self.visit(root, 0)
        if size > MAX_NODES:
            self.refuse(root, f"aliases unfold to {size:,} values, more than the {MAX_NODES:,} allowed")
        if self.mistakes:
            raise MistakesError(self.mistakes)

    def refuse(self, node: Node, message: str, expected: str = "") -> None:
        self.mistakes.append(Mistake(place(node), "", message, expected))

    def too_deep(self, node: Node) -> None:
        """Said once: every level below would say it again."""
        if not self.deep:
            self.refuse(node, f"nested more than {MAX_DEPTH} levels deep")
        self.deep = True

    def visit(self, node: Node, depth: int) -> tuple[int, int]:
        """How many values `node` holds and how deep, aliases followed (a shared node counts once per use)."""
        key = id(node)
        if key in self.open:
            self.refuse(node, "an alias refers to a value that contains it")
            return 1, 0
        if key in self.sizes:
            size, height = self.sizes[key]
            if depth + height > MAX_DEPTH:  # chained aliases nest more deeply than the file looks
                self.too_deep(node)
            return size, height
        if node.tag not in (_TEXT, _SEQ, _MAP):
            self.refuse(node, f"explicit tags are not allowed ({node.tag})", expected="a plain value")
        if depth > MAX_DEPTH:
            self.too_deep(node)
            return 1, 0
        self.open.add(key)
        size, height = 1, 0
        if isinstance(node, yaml.SequenceNode):
            below = [self.visit(item, depth + 1) for item in node.value]
            size += sum(one for one, _height in below)
            height = 1 + max((deep for _size, deep in below), default=-1)
        elif isinstance(node, yaml.MappingNode):
            size, height = self.mapping(node, depth)
        self.open.discard(key)
        self.sizes[key] = size, height
        return size, height

    def mapping(self, node: yaml.MappingNode, depth: int) -> tuple[int, int]:
        size, height = 1, 0
        own: dict[str, Node] = {}
        merged: list[Node] = []
        pairs: list[tuple[Node, Node]] = []
        for key, value in node.value:
            inner, deep = self.visit(value, depth + 1)
            size, height = size + 1 + inner, max(height, 1 + deep)
            if not isinstance(key, yaml.ScalarNode):
                self.refuse(key, "a key must be a word", expected="name: value")
                continue
            if key.tag != _TEXT:
                self.visit(key, depth)
            if not key.value:
                self.refuse(key, "a key is empty", expected="name: value")
                continue
            if not key.style and not _CURLY.isdisjoint(key.value):
                self.refuse(key, "curly quotes hold no text together", expected='straight quotes: "…"')
                continue
            if key.value == "<<" and not key.style:
                merged.extend(value.value if isinstance(value, yaml.SequenceNode) else [value])
                continue
            if key.value in own:
                first = place(own[key.value])
                self.refuse(key, f"{key.value!r} is written twice (first at line {first.line})")
                continue
            own[key.value] = key
            pairs.append((key, value))
        for source in merged:
            if not isinstance(source, yaml.MappingNode):
                self.refuse(source, "<< merges a mapping", expected="<<: *name of a mapping")
                continue
            for key, value in source.value:
                if isinstance(key, yaml.ScalarNode) and key.value not in own:
                    own[key.value] = key
                    pairs.append((key, value))
        node.value = pairs
        return size, height


def place(node: Node) -> Place:
    """Where a node starts."""
    mark: Any = node.start_mark
    found: Place = mark
    return found


def plain(node: Node) -> Any:
    """The node as dict, list, str or None."""
    if isinstance(node, yaml.ScalarNode):
        if not node.style and node.value in _NULLS:
            return None
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [plain(item) for item in node.value]
    return {key.value: plain(value) for key, value in node.value}


def is_mapping(node: Node) -> bool:
    return isinstance(node, yaml.MappingNode)


def is_sequence(node: Node) -> bool:
    return isinstance(node, yaml.SequenceNode)


def scalar(node: Node | None) -> str | None:
    """The text of a scalar node that is not null, else None."""
    if isinstance(node, yaml.ScalarNode):
        value = plain(node)
        return value if isinstance(value, str) else None
    return None


def items(node: Node | None) -> Iterator[tuple[Node, Node]]:
    """Key and value nodes of a mapping; nothing for any other node."""
    if isinstance(node, yaml.MappingNode):
        yield from node.value


def entries(node: Node | None) -> list[Node]:
    """The nodes of a sequence; nothing for any other node."""
    return list(node.value) if isinstance(node, yaml.SequenceNode) else []


def child(node: Node | None, name: str) -> Node | None:
    """The value under `name`, or None."""
    for key, value in items(node):
        if key.value == name:
            return value
    return None


def find(node: Node, way: Sequence[str | int]) -> tuple[Node, bool]:
    """The node at the end of `way`, and whether the whole way exists; else the last node that does.

    For a mapping entry that exists but whose *key* is at fault, callers use `key_place`.
    """
    current = node
    for step in way:
        following: Node | None = None
        if isinstance(current, yaml.MappingNode):
            following = child(current, str(step))
        elif isinstance(current, yaml.SequenceNode) and isinstance(step, int) and step < len(current.value):
            following = current.value[step]
        if following is None:
            return current, False
        current = following
    return current, True


def key_place(node: Node, way: Sequence[str | int]) -> Place:
    """Where the key of the last step of `way` is written; the value's place for list items."""
    parent, whole = find(node, way[:-1])
    if whole and way:
        for key, _value in items(parent):
            if key.value == way[-1]:
                return place(key)
    return place(find(node, way)[0])


def make_mapping(pairs: list[tuple[Node, Node]], like: Node) -> Node:
    """A new mapping node that stands where `like` stands; the input nodes stay untouched."""
    return yaml.MappingNode(_MAP, pairs, like.start_mark)


def make_sequence(nodes: list[Node], like: Node) -> Node:
    """A new sequence node that stands where `like` stands."""
    return yaml.SequenceNode(_SEQ, nodes, like.start_mark)


def make_scalar(text: str, like: Node) -> Node:
    """A new text node that stands where `like` stands."""
    return yaml.ScalarNode(_TEXT, text, like.start_mark, style="'")


def put(node: Node, name: str, value: Node, key: Node | None = None) -> Node:
    """A copy of the mapping `node` with `name` set to `value`."""
    fresh = key if key is not None else make_scalar(name, value)
    pairs: list[tuple[Node, Node]] = []
    done = False
    for old_key, old_value in items(node):
        if old_key.value == name:
            pairs.append((fresh, value))
            done = True
        else:
            pairs.append((old_key, old_value))
    if not done:
        pairs.append((fresh, value))
    return make_mapping(pairs, node)


def without(node: Node, *names: str) -> Node:
    """A copy of the mapping `node` less the given keys."""
    return make_mapping([(k, v) for k, v in items(node) if k.value not in names], node)


def merge(base: Node, over: Node) -> Node:
    """Deep merge of mappings: `over` wins, lists and scalars are replaced whole."""
    if not (is_mapping(base) and is_mapping(over)):
        return over
    result = base
    for key, value in items(over):
        old = child(result, key.value)
        result = put(result, key.value, merge(old, value) if old is not None else value, key)
    return result
