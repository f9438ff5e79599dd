"""Rooms import only rooms that stand before them, inside functions too: data flows one way."""

from __future__ import annotations

import ast
from pathlib import Path

import handbill

PACKAGE = Path(handbill.__file__).parent
ORDER = [
    "base",  # mistakes, spans, files, the cache
    "readers",  # what mail readers support
    "colour",  # contrast, and what dark screens make of colours
    "models",  # files as typed values
    "loader",  # a workspace and its brands, with spans
    "brand",  # a house style as tokens
    "catalogue",  # products and reviews
    "library",  # blocks, styles resolved
    "expand",  # standing sections put in, ids fixed
    "texts",  # a campaign's words in other languages
    "vary",  # variants: patches on the span tree
    "validate",  # sections by their blocks' models
    "pictures",  # plans, and pictures made of them
    "resolve",  # references looked up, facts filled
    "render",  # bytes of sections and of the whole
    "write",  # files on disk
    "dom",  # a mail's HTML read back
    "measure",  # boxes in px, and readings from them
    "truth",  # what words claim, held against the shop's files
    "preflight",  # rules over a mail
    "report",  # findings in words
    "pipeline",  # the whole program on one screen
    "batch",  # many mails, shared out, written where they changed
    "apps",  # programs that stand on the whole of it
    "api",  # for other programs
    "cli",  # one file per command
]


def imports(path: Path) -> set[str]:
    """The rooms that a module imports anything from, at its top or inside a function."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: a relative import hides where it leads"
            module = node.module or ""
            names = [f"{module}.{one.name}" if module == "handbill" else module for one in node.names]
        elif isinstance(node, ast.Import):
            names = [one.name for one in node.names]
        elif (
            isinstance(node, ast.Call)
            and getattr(node.func, "id", getattr(node.func, "attr", "")) == "import_module"
        ):
            by_name = room(path) == "cli" or path.name == "registry.py"  # commands, and rules
            assert by_name, f"{path}:{node.lineno}: only commands and rules are imported by name"
        found |= {name.split(".")[1] for name in names if name.startswith("handbill.")}
    return found - {"__version__"}


def room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_every_room_has_its_place() -> None:
    rooms = {room(path) for path in PACKAGE.rglob("*.py") if "__pycache__" not in path.parts}
    assert rooms - {"__init__", "blocks"} <= set(ORDER)


def test_no_import_leads_upward() -> None:
    upward = [
        f"{path.relative_to(PACKAGE)} imports {other}"
        for path in sorted(PACKAGE.rglob("*.py"))
        if room(path) != "__init__"
        for other in sorted(imports(path))
        if ORDER.index(other) > ORDER.index(room(path))
    ]
    assert upward == []


def test_the_package_itself_imports_nothing() -> None:
    """Save what is public, when it is first asked for."""
    tree = ast.parse((PACKAGE / "__init__.py").read_text("utf-8"))
    assert imports(PACKAGE / "__init__.py") == {"api"}
    assert [node.module for node in tree.body if isinstance(node, ast.ImportFrom)] == ["typing"]


def test_modules_stay_readable() -> None:
    """About 400 lines at most: a longer one does two things (our own rule)."""
    long = {
        str(path.relative_to(PACKAGE)): lines
        for path in PACKAGE.rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) > 420
    }
    assert long == {}
