"""The words that people read: the trade's, in American spelling, and none that were given up."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import filmhand
from filmhand.cli.main import main

ROOT = Path(filmhand.__file__).parent
REPOSITORY = Path(__file__).parents[2]
HINTS = ROOT / "profile" / "read" / "hints.py"
"""Where the words stand that people write in place of ours."""

GIVEN_UP = re.compile(
    r"""
    \b(?:
      beats? | beating | crumbs? | mend(?:s|ed|ing)?
    | (?:shadow[ ])?holes?(?!-too-fine)
    | bare[ ]film | film[ ](?:stays?[ ])?bare
    | cut[ ]marks? | join[ ]cross(?:es)? | printed[ ]side[ ](?:up|down)
    | threads[ ]a[ ](?:screen[ ])?line | turn[ ]the[ ]screen
    | tone\.(?:stretch|range|lift|clear) | limits\.beat | verdict\.(?:hole|beat)
    | press\.(?:gap|light|spread)
    )\b
    """,
    re.VERBOSE | re.IGNORECASE,
)
BRITISH = re.compile(
    r"""
    \b(?:
      greys?(?:cale)? | (?:dis)?colour\w* | centre[ds]? | (?:milli|centi|micro|kilo)?metres?
    | neighbour\w* | (?:un)?label(?:led|ling) | cancel(?:led|ling) | (?:un)?travell(?:ed|ing)
    | modell(?:ed|ing) | trial(?:led|ling) | signall(?:ed|ing) | favour\w* | behaviour\w*
    | honour\w* | vapours? | licence[sd]? | fibres? | judgements? | programmes? | catalogues?
    | artefacts? | aluminium | whilst | towards | afterwards | mould\w* | skilful | fulfil
    | analys(?:e|ed|es|ing) | defence | offence | ageing | sulph\w+ | cheques? | chequer\w*
    | (?:un)?(?:organ|recogn|real|minim|maxim|optim|summar|normal|initial|synchron|serial
      |standard|visual|custom|special|util|author|final|general|emphas|character|capital
      )is(?:e|ed|es|ing|ation)s?
    )\b
    """,
    re.VERBOSE | re.IGNORECASE,
)
MICROMETERS = re.compile(r"(?:^|(?<=[\d\s]))um\b")
# What people type stands as they would type it: in code, in braces, and behind "such as".
TYPED = re.compile(r"`[^`]*`|\{[^{}]*\}|such as \d+ um|^\d+ um$")


# "foresee" goes with the command of that name.
FORESEE = re.compile(
    r"\bfores(?:ee|een|aw)\b(?! is now)" if "predict" in main.commands else r"(?!)"
)


def found(text: str) -> list[str]:
    """The words of a text that people should not read."""
    plain = TYPED.sub(" ", text)
    given_up = [*GIVEN_UP.finditer(text), *FORESEE.finditer(text)]
    hits = [*given_up, *BRITISH.finditer(plain), *MICROMETERS.finditer(plain)]
    return [hit[0] for hit in hits]


def pages() -> list[Path]:
    named = [REPOSITORY / "README.md", *sorted((REPOSITORY / "deploy").iterdir())]
    return [*sorted((ROOT / "guide").glob("*.md")), *named]


def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """Line and text of the strings of a module that have a space; its docstrings are for us."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    parts = {
        id(value) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for value in
        node.values
    }  # fmt: skip
    ours = {
        id(line.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        for line in node.body
        if isinstance(line, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            values = (v.value if isinstance(v, ast.Constant) else "0" for v in node.values)
            yield node.lineno, "".join(map(str, values))
        elif (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and " " in node.value
            and id(node) not in parts | ours
        ):
            yield node.lineno, node.value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("A beat is mended: crumbs, shadow holes.", ["beat", "mended", "crumbs", "shadow holes"]),
        ("bare film, 30 um of grey in the centre", ["bare film", "grey", "centre", "um"]),
        ("`tone.stretch` and `center`, not `centre`", ["tone.stretch"]),
        ("a length such as 80 um, or {fail: 110 um}; 20 µm; holes-too-fine", []),
        ("Gray labels, recognized by neighbors", []),
    ],
)
def test_the_words_are_found(text: str, words: list[str]) -> None:
    assert found(text) == words


@pytest.mark.parametrize("page", pages(), ids=lambda page: str(page.relative_to(REPOSITORY)))
def test_pages(page: Path) -> None:
    # Indented blocks are examples to type.
    lines = [
        re.sub(r"(?<=\d) um\b", "", line) if line.startswith("    ") else line
        for line in page.read_text(encoding="utf-8").splitlines()
    ]
    wrong = [(number, found(line)) for number, line in enumerate(lines, 1) if found(line)]
    assert not wrong


def commands(group: click.Group) -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        yield name, command
        if isinstance(command, click.Group):
            yield from commands(command)


@pytest.mark.parametrize(("name", "command"), [("filmhand", main), *commands(main)], ids=str)
def test_help(name: str, command: click.Command) -> None:
    assert not found(command.get_help(click.Context(command, info_name=name)))


@pytest.mark.parametrize(
    "path",
    [path for path in sorted(ROOT.rglob("*.py")) if path != HINTS]
    + sorted((REPOSITORY / "demo").glob("*.py")),
    ids=lambda path: str(path.relative_to(REPOSITORY)),
)
def test_sentences(path: Path) -> None:
    wrong = [(line, text, found(text)) for line, text in sentences(path) if found(text)]
    assert not wrong
