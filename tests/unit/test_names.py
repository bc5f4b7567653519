"""One word a thing: no public name stands for two, anywhere in the program."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import filmhand

ROOT = Path(filmhand.__file__).parent


def public_names(tree: ast.Module) -> Iterator[str]:
    """The names that a module defines at its top, but for private ones."""
    for node in tree.body:
        names: list[str] = []
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            names = [node.name]
        elif isinstance(node, ast.Assign):
            names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names = [node.target.id]
        yield from (name for name in names if not name.startswith("_"))


def test_no_public_name_is_defined_twice() -> None:
    places = defaultdict(set)
    for path in ROOT.rglob("*.py"):
        for name in public_names(ast.parse(path.read_text(encoding="utf-8"))):
            places[name].add(str(path.relative_to(ROOT)))
    assert len(places) > 800  # the walk sees them
    twice = {name: sorted(modules) for name, modules in places.items() if len(modules) > 1}
    assert twice == {}
