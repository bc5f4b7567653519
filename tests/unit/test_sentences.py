"""Sentences of tables: their parts are given where they are said, and none is said too early."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from string import Formatter

import pytest

import catalogs
import filmhand
from filmhand.art.files.file_words import DamageWord
from filmhand.errors import RefusalSentence
from filmhand.language import Counted

ROOT = Path(filmhand.__file__).parent
TABLES = {table.__name__: table for table in catalogs.tables()}
MODULES = sorted(ROOT.rglob("*.py"))
IDS = [str(path.relative_to(ROOT)) for path in MODULES]
_FIGURES = {"found", "needed"}  # of a refusal, beside the parts of its sentences
# Functions that say a row that they are given, with the parts that they are given by name.
_PASSING_ON = {"damaged", "_tone"}


def parts_of(row: Enum) -> set[str]:
    """The names in braces of all texts of a row."""
    found: set[str] = set()
    for text in catalogs.texts(row):
        for one in (text,) if isinstance(text, str) else text:
            found |= {name for _, name, _, _ in Formatter().parse(one) if name is not None}
    return found - ({"n"} if isinstance(row, Counted) else set())


def rows_said(node: ast.expr) -> Iterator[Enum]:
    """The rows that an expression is, as far as it names them."""
    if isinstance(node, ast.IfExp):
        yield from rows_said(node.body)
        yield from rows_said(node.orelse)
    elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        table = TABLES.get(node.value.id)
        if table is not None and node.attr in table.__members__:
            yield table[node.attr]


def sayings(tree: ast.AST) -> Iterator[tuple[ast.Call, Enum]]:
    """Calls that say a row, as far as they name it, and the row."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        said: list[ast.expr] = []
        if isinstance(node.func, ast.Attribute) and node.func.attr in {"say", "refused"}:
            said = [node.func.value]
        elif isinstance(node.func, ast.Name) and node.func.id in _PASSING_ON:
            said = node.args
        for one in said:
            yield from ((node, row) for row in rows_said(one))


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_a_sentence_gets_just_the_parts_that_it_has(path: Path) -> None:
    wrong = []
    for call, row in sayings(ast.parse(path.read_text(encoding="utf-8"))):
        given = {one.arg for one in call.keywords}
        if None in given:  # a dictionary of parts
            continue
        beside = _FIGURES if isinstance(row, RefusalSentence) else {"n"} - parts_of(row)
        if given - beside != parts_of(row):
            wrong.append((call.lineno, str(row), sorted(given ^ parts_of(row))))
    assert not wrong


def test_most_rows_are_seen_where_they_are_said() -> None:
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in MODULES]
    seen = {row for tree in trees for _, row in sayings(tree)}
    assert len(seen) > 500


def test_parts_that_are_missing_or_too_many_are_noticed() -> None:
    row = DamageWord.WRONG_SUM_FROM
    for parts in ("", "share=1, more=2"):
        told = ast.parse(f"DamageWord.{row.name}.say({parts})\ndamaged(DamageWord.{row.name})")
        assert [one for _, one in sayings(told)] == [row, row]
    assert parts_of(row) == {"share"}


def said_at_import(tree: ast.Module) -> Iterator[int]:
    """Lines with a call of `say` or `refused` that runs while the module is imported."""

    def walk(node: ast.AST) -> Iterator[int]:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            defaults = [one for one in (*node.args.defaults, *node.args.kw_defaults) if one]
            early = [*defaults, *getattr(node, "decorator_list", [])]
            for one in early:
                yield from walk(one)
            return
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and any(rows_said(node.func.value))
        ):
            yield node.lineno
        for child in ast.iter_child_nodes(node):
            yield from walk(child)

    yield from walk(tree)


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_no_sentence_is_said_before_the_language_is_known(path: Path) -> None:
    assert not list(said_at_import(ast.parse(path.read_text(encoding="utf-8"))))


def test_what_runs_at_import_is_told_from_what_does_not() -> None:
    table = next(iter(TABLES))
    row = f"{table}.{next(iter(TABLES[table].__members__))}.say()"
    early = f"a = {row}\nclass B:\n    c = [{row}]\ndef d(e={row}): pass\n"
    assert list(said_at_import(ast.parse(early))) == [1, 3, 4]
    late = f"def f():\n    return {row}\ng = lambda: {row}\n"
    assert not list(said_at_import(ast.parse(late)))
