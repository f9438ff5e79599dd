"""What a template may do. Enters: template source and the names it knows; leaves: mistakes with their line.

An allow-list over Jinja's own syntax tree: loops over fields, conditions, the shared macros. No arithmetic,
ranges, imports or filters of Jinja's own, no methods, so a block that passes cannot reach outside its fields
and no slower check at run time is needed. What splicing makes of a template is held to the same list again,
so that no difference between two readings of a source can let anything through.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from jinja2 import Environment, TemplateSyntaxError, nodes

from handbill.base.errors import Mistake, Place, nearest

TESTS = frozenset({"odd", "even", "none"})
LOOP = frozenset({"first", "last", "index", "length"})
MAX_LOOPS = 3  # one in another: more is a way to keep a machine busy
SPLICED_FILTERS = frozenset({"_h", "_a", "_u", "_t", "_prose", "_inline"})
#: Names that every block's templates know beside its fields.
CONTEXT = frozenset({"tone", "level", "inner", "width", "word", "brand", "link", "house"})
LISTS = frozenset({"list", "products", "reviews", "cells"})
_GROUPS = frozenset({*LISTS, "button", "picture", "link", "product", "review", "context", "bound"})

_TABLE = re.compile(r"_s\d+$")
_FREE = (
    nodes.Output, nodes.TemplateData, nodes.Const, nodes.If, nodes.CondExpr, nodes.Compare,
    nodes.Operand, nodes.And, nodes.Or, nodes.Not, nodes.Keyword,
)  # fmt: skip
_METHODS = frozenset(
    name for kind in (str, int, tuple) for name in dir(kind) if not name.startswith("_")
) - {"title"} | {"html", "attr", "url", "plain", "plain_url", "header", "send", "filled", "of", "tree",
                 "inline_html"}  # fmt: skip


def check(
    environment: Environment,
    source: str,
    file: str,
    macros: frozenset[str],
    types: Mapping[str, str] | None = None,
    *,
    shared: bool = False,
    spliced: bool = False,
) -> list[Mistake]:
    """Everything in `source` that a block may not do.

    `types` gives the type of each field by name, those of list entries by dotted name. Only the `shared` file
    may define macros; `spliced` source may look up style tables and use the compiler's own filters.
    """
    try:
        tree = environment.parse(source)
    except TemplateSyntaxError as error:
        return [Mistake(Place(file, error.lineno, 1), "", f"template: {error.message}")]
    visitor = _Visitor(file, macros, types or {}, shared, spliced)
    return list(dict.fromkeys(visitor.run(tree)))


class _Visitor:
    def __init__(
        self, file: str, macros: frozenset[str], types: Mapping[str, str], shared: bool, spliced: bool
    ) -> None:
        self.file = file
        self.macros = macros if shared else macros - {"caller"}
        self.shared = shared
        self.spliced = spliced
        self.methods = _METHODS - {name.rpartition(".")[2] for name in types}
        self.kinds = {**dict.fromkeys(CONTEXT, "context"), **{k: v for k, v in types.items() if "." not in k}}

    def run(self, tree: nodes.Template) -> Iterator[Mistake]:
        fields = frozenset(self.kinds)
        for node in tree.find_all((nodes.For, nodes.Assign, nodes.Macro)):
            targets: list[nodes.Node] = list(node.args) if isinstance(node, nodes.Macro) else [node.target]  # type: ignore[attr-defined]
            for target in targets:
                if not isinstance(target, nodes.Name):
                    continue
                name = target.name
                taken = name in self.macros or name in ("loop", "caller", "self")
                if taken or (not self.shared and name in fields and name != "tone"):
                    yield self.wrong(target, f"{name} has a meaning already; set gives a new name")
                elif name != "tone" or self.shared:
                    self.kinds[name] = "bound"
        yield from self.below(tree, 0)

    def wrong(self, node: nodes.Node, message: str, expected: str = "", near: str = "") -> Mistake:
        return Mistake(Place(self.file, node.lineno or 1, 1), "", f"template: {message}", expected, near)

    def below(self, node: nodes.Node, loops: int) -> Iterator[Mistake]:
        for child in node.iter_child_nodes():
            yield from self.visit(child, loops)

    def visit(self, node: nodes.Node, loops: int) -> Iterator[Mistake]:
        if isinstance(node, nodes.Name):
            yield from self.name(node)
        elif isinstance(node, nodes.Getattr):
            yield from self.attribute(node)
        elif isinstance(node, nodes.For):
            yield from self.loop(node, loops)
        elif isinstance(node, nodes.Call):
            if isinstance(node.node, nodes.Name) and node.node.name in self.macros:
                for child in (*node.args, *node.kwargs):
                    yield from self.visit(child, loops)
                if node.dyn_args is not None or node.dyn_kwargs is not None:
                    yield self.wrong(node, "a macro takes its arguments one by one")
            else:
                yield self.wrong(
                    node, "only the shared macros may be called: " + ", ".join(sorted(self.macros))
                )
        else:
            problem = "" if isinstance(node, _FREE) else self.problem(node)
            if problem:
                yield self.wrong(node, problem)
            else:
                yield from self.below(node, loops)

    def name(self, node: nodes.Name) -> Iterator[Mistake]:
        if node.name in self.kinds or (self.spliced and _TABLE.match(node.name)):
            return
        if node.name in self.macros:
            yield self.wrong(node, f"{node.name} is a macro", f"{node.name}(…)")
        elif node.name == "loop":
            yield self.wrong(node, "loop is not a value", self.loop_names())
        else:
            yield self.wrong(node, f"no field {node.name}", near=nearest(node.name, sorted(self.kinds)))

    def attribute(self, node: nodes.Getattr) -> Iterator[Mistake]:
        base = node.node
        root: nodes.Node = base
        while isinstance(root, nodes.Getattr):
            root = root.node
        group = isinstance(root, nodes.Name) and root.name in CONTEXT  # named values all the way down
        if node.attr.startswith("_") or (node.attr in self.methods - LOOP and not group):
            yield self.wrong(node, f"{node.attr} cannot be reached", "the name of a field")
        elif isinstance(base, nodes.Name) and base.name == "loop":
            if node.attr not in LOOP:
                yield self.wrong(node, f"loop.{node.attr} is not allowed", self.loop_names())
        elif isinstance(base, nodes.Name):
            yield from self.name(base)
            if (kind := self.kinds.get(base.name, "context")) not in _GROUPS:
                yield self.wrong(node, f"{base.name} is a {kind} and has no fields")
        elif isinstance(base, nodes.Getattr):
            yield from self.attribute(base)
        else:
            yield self.wrong(node, "only fields have fields")

    @staticmethod
    def loop_names() -> str:
        return "one of " + ", ".join("loop." + name for name in sorted(LOOP))

    def loop(self, node: nodes.For, loops: int) -> Iterator[Mistake]:
        plain = node.test is None and not node.recursive and isinstance(node.target, nodes.Name)
        if not plain or not isinstance(node.iter, nodes.Name | nodes.Getattr):
            yield self.wrong(node, "a loop goes over a field, plainly", "{% for item in products %}")
            return
        if loops == MAX_LOOPS:
            yield self.wrong(node, f"more than {MAX_LOOPS} loops inside each other")
            return
        yield from self.visit(node.iter, loops)
        if isinstance(node.iter, nodes.Name):
            kind = self.kinds.get(node.iter.name, "list")
            if kind not in LISTS and kind != "bound":
                what = f"a {kind}" if kind != "context" else "no list"
                yield self.wrong(node, f"a loop goes over a list, and {node.iter.name} is {what}")
        for child in (*node.body, *node.else_):
            yield from self.visit(child, loops + 1)

    def problem(self, node: nodes.Node) -> str:
        if isinstance(node, nodes.Assign):
            simple = isinstance(node.target, nodes.Name) and isinstance(
                node.node, nodes.Name | nodes.Getattr | nodes.Const | nodes.CondExpr
            )
            return "" if simple else "{% set name = field %} is the only assignment"
        if isinstance(node, nodes.Test):
            return "" if node.name in TESTS else f"the test {node.name} is not allowed"
        if isinstance(node, nodes.Filter):
            allowed = SPLICED_FILTERS if self.spliced else ("prose", "inline")
            return "" if node.name in allowed and node.node else f"the filter {node.name} is not allowed"
        if isinstance(node, nodes.CallBlock):
            return "" if not node.args else "call takes no parameters here"
        if isinstance(node, nodes.Macro):
            return "" if self.shared else "macros live in the shared file"
        if self.spliced and isinstance(node, nodes.Getitem):
            base: nodes.Node = node
            while isinstance(base, nodes.Getitem):
                base = base.node
            return (
                "" if isinstance(base, nodes.Name) and _TABLE.match(base.name) else "getitem is not allowed"
            )
        return f"{type(node).__name__.lower()} is not allowed"
