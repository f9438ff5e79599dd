"""What a template may do. Enters: template source; leaves: mistakes with its line.

An allow-list over Jinja's own syntax tree, checked before anything is compiled: loops over fields, conditions,
the shared macros. No arithmetic, ranges, attribute tricks, imports or filters of Jinja's own, so a block that
passes cannot reach outside its fields; that is why no slower check at run time is needed.
"""

from __future__ import annotations

from collections.abc import Iterator

from jinja2 import Environment, TemplateSyntaxError, nodes

from handbill.base.errors import Mistake, Place

TESTS = frozenset({"odd", "even", "none"})
LOOP = frozenset({"first", "last", "index"})

_FREE = (
    nodes.Output, nodes.TemplateData, nodes.Name, nodes.Const, nodes.If, nodes.CondExpr, nodes.Compare,
    nodes.Operand, nodes.And, nodes.Or, nodes.Not, nodes.Keyword,
)  # fmt: skip


def check(
    environment: Environment, source: str, file: str, macros: frozenset[str], *, shared: bool = False
) -> list[Mistake]:
    """Everything in `source` that a block may not do; only the shared file may define macros."""
    try:
        tree = environment.parse(source)
    except TemplateSyntaxError as error:
        return [Mistake(Place(file, error.lineno, 1), "", f"template: {error.message}")]
    return list(_visit(tree, file, macros, shared))


def _visit(node: nodes.Node, file: str, macros: frozenset[str], shared: bool) -> Iterator[Mistake]:
    for child in node.iter_child_nodes():
        problem = _problem(child, macros, shared)
        if problem:
            yield Mistake(Place(file, child.lineno, 1), "", f"template: {problem}")
        else:
            yield from _visit(child, file, macros, shared)


def _problem(node: nodes.Node, macros: frozenset[str], shared: bool) -> str:
    if isinstance(node, nodes.Name) and node.name.startswith("_"):
        return f"{node.name} is not a field"
    if isinstance(node, _FREE):
        return ""
    if isinstance(node, nodes.Getattr):
        if node.attr.startswith("_"):
            return f"{node.attr} cannot be reached"
        if isinstance(node.node, nodes.Name) and node.node.name == "loop" and node.attr not in LOOP:
            return (
                f"loop.{node.attr} is not allowed; only {', '.join('loop.' + name for name in sorted(LOOP))}"
            )
        return "" if isinstance(node.node, (nodes.Name, nodes.Getattr)) else "only fields have fields"
    if isinstance(node, nodes.For):
        looped = isinstance(node.iter, (nodes.Name, nodes.Getattr))
        plain = node.test is None and not node.recursive and isinstance(node.target, nodes.Name)
        return "" if looped and plain else "a loop goes over a field, plainly: {% for item in products %}"
    if isinstance(node, nodes.Assign):
        simple = isinstance(node.target, nodes.Name) and isinstance(
            node.node, (nodes.Name, nodes.Getattr, nodes.Const, nodes.CondExpr)
        )
        return "" if simple else "{% set name = field %} is the only assignment"
    if isinstance(node, nodes.Test):
        return "" if node.name in TESTS else f"the test {node.name} is not allowed"
    if isinstance(node, nodes.Filter):
        return "" if node.name in ("prose", "inline") else f"the filter {node.name} is not allowed"
    if isinstance(node, nodes.Call):
        if isinstance(node.node, nodes.Name) and node.node.name in macros:
            return ""
        return "only the shared macros may be called: " + ", ".join(sorted(macros))
    if isinstance(node, nodes.CallBlock):
        return "" if not node.args else "call takes no parameters here"
    if isinstance(node, nodes.Macro):
        return "" if shared else "macros live in the shared file"
    return f"{type(node).__name__.lower()} is not allowed"
