"""Every sentence can be said in every language, and none stands anywhere but in a table."""

from __future__ import annotations

import ast
import gettext
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import read_mo

import catalogs
import filmhand
from filmhand.errors import FilmhandError

ROOT = Path(filmhand.__file__).parent
SOURCES = sorted(catalogs.SOURCES.glob("*/LC_MESSAGES/filmhand.po"))
ROWS = [(table, row) for table in catalogs.tables() for row in table]
TEXTS = {text for _, row in ROWS for text in catalogs.texts(row)}
_COUNTS = (0, 1, 2, 3, 11, 100, 1_000_000)


@pytest.fixture(params=SOURCES, ids=[source.parents[1].name for source in SOURCES])
def source(request: pytest.FixtureRequest) -> Path:
    return Path(request.param)


def messages(catalog: Catalog) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """The English texts and the translations of each message: one, or one for each number."""
    for message in catalog:
        if message.id:
            yield _several(message.id), _several(message.string or "")


def _several(text: str | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return (text,) if isinstance(text, str) else tuple(text)


def parts_of(text: str) -> set[str]:
    """The names in braces; ValueError where braces do not match."""
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


# --- the catalogs --------------------------------------------------------------------------------


def test_spanish_is_among_the_languages_and_sentences_are_many() -> None:
    assert [source.parents[1].name for source in SOURCES].count("es") == 1
    assert len(TEXTS) > 500


def test_every_row_has_a_translation_that_somebody_has_looked_at(source: Path) -> None:
    catalog = catalogs.read(source)
    known: dict[object, Message] = {message.id: message for message in catalog if message.id}
    new = [f"{table.__name__}.{row.name}" for table, row in ROWS
           if any(text not in known for text in catalogs.texts(row))]  # fmt: skip
    assert (new, catalogs.lacking(catalog)) == ([], [])


def test_no_translation_is_of_a_row_that_no_table_has(source: Path) -> None:
    catalog = catalogs.read(source)
    assert [message.id for message in catalog if message.id and message.id not in TEXTS] == []
    assert not catalog.obsolete


def test_a_translation_has_the_parts_of_its_row(source: Path) -> None:
    """The number alone may be left out of what is said of one."""
    wrong = []
    for english, said in messages(catalogs.read(source)):
        known = set().union(*map(parts_of, english))
        for place, text in enumerate(said):
            is_one = len(english) > 1 and place == 0
            wanted = parts_of(english[0]) - {"n"} if is_one else parts_of(english[-1])
            if not wanted <= parts_of(text) <= known:
                wrong.append((english[0], text))
    assert wrong == []


def test_a_translation_keeps_what_is_typed_as_it_is(source: Path) -> None:
    """Commands and keys in backquotes are of no language; a sentence stays a sentence."""
    wrong = []
    for english, said in messages(catalogs.read(source)):
        for text in said:
            typed = [set(re.findall(r"`[^`]*`", one)) for one in (english[-1], text)]
            ends = [one.rstrip()[-1:] == "." for one in (english[-1], text)]
            if not typed[0] <= typed[1] or ends[0] != ends[1]:
                wrong.append((english[-1], text))
    assert wrong == []


def test_the_compiled_catalog_says_what_its_source_says(source: Path) -> None:
    catalog = catalogs.read(source)
    compiled = source.with_suffix(".mo")
    with compiled.open("rb") as file:
        spoken = gettext.GNUTranslations(file)
    place_of = gettext.c2py(catalog.plural_expr)
    for english, said in messages(catalog):
        if len(english) == 1:
            assert spoken.gettext(english[0]) == said[0]
        else:
            for n in _COUNTS:
                assert spoken.ngettext(english[0], english[1], n) == said[place_of(n)], n
    with compiled.open("rb") as file:
        there = {_several(message.id) for message in read_mo(file) if message.id}
    assert there == {english for english, _ in messages(catalog)}


def test_catalogs_that_are_written_anew_stay_as_they_are(source: Path) -> None:
    catalog = catalogs.brought_up_to_date(catalogs.read(source))
    assert catalogs.written(catalog) == source.read_bytes()


# --- sentences outside the tables ----------------------------------------------------------------

# Modules whose sentences are not said to people in the language in force, and why.
NOT_SAID = {
    "cluster/task.py": "what the computers of a cluster answer one another",
    "errors.py": "when each reason is given, for the guide, which is English",
    "film/formats.py": "what each format is for, for the guide",
    "film/pdf.py": "the source of a document",
    "film/pdf_reader.py": "the source of a document",
    "jobs/recover.py": "what is done after a restart, for the developers' page",
    "prints/steps.py": "what is done after a restart, for the developers' page",
    "screen/dot_shapes.py": "what each dot is good for, for the guide",
    "values.py": "what a programmer did wrong",
    "sheet/marks.py": "where each mark lies, for the guide",
}
# Beginnings of texts that are none, in modules that have others.
NO_SENTENCES = (
    "<",  # markup
    "default-src ",  # the page's policy for browsers
    "SELECT ", "INSERT ", "CREATE ",  # what a database is asked
    "filmhand calibrate scan.tif ", "filmhand discard /", "filmhand health /",
    "filmhand make poster.jpg ",  # commands, as typed
    "filmhand new-profile profiles/", "filmhand release /", "filmhand retry /",
    "filmhand serve /",
    "no font has this name",  # a font's name, which none has
    "bool | ",  # a type
    "mapping values are ", "expected <block end>",  # what the YAML library says
    "a job lost its notes; ",  # an event of the log
    "sheet: a4",  # a profile
)  # fmt: skip
_WORDS = 5  # from which on a text counts as a sentence
_KINDS = {"Sentence", "Counted", "RefusalSentence"}
_TABLES = {table.__name__ for table, _ in ROWS}
_TELLS_LOG = {"say", "_say"}  # whose first argument is an event of the log
_PATTERNS = {"compile", "search", "match", "fullmatch", "findall", "sub", "matched"}


def _family(base: type[Exception]) -> set[str]:
    return {base.__name__}.union(*(_family(one) for one in base.__subclasses__()))


def prose(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and text of each sentence that a module says by itself, outside of tables.

    Not counted are docstrings, assertions, events of the log, patterns, markup, and what is raised
    that is no error of ours: a fault of the program, or caught by whoever asked.
    """
    for child in ast.iter_child_nodes(tree):
        if _is_table(child) or (
            # A sentence that several rows of the same module end in.
            isinstance(tree, ast.Module)
            and isinstance(child, ast.Assign)
            and any(map(_is_table, tree.body))
        ):
            continue
        if isinstance(child, ast.Assert) or (
            isinstance(child, ast.Expr) and _text(child.value) is not None
        ):
            continue
        if (
            isinstance(child, ast.Raise)
            and isinstance(child.exc, ast.Call)
            and _name(child.exc.func) not in _family(FilmhandError)
        ):
            continue
        if isinstance(child, ast.Call) and _name(child.func) in _TELLS_LOG | _PATTERNS:
            for given in (*child.args[1:], *child.keywords):
                yield from prose(ast.Expression(given) if isinstance(given, ast.expr) else given)
            continue
        text = _text(child)
        if text is None:
            yield from prose(child)
        elif _is_sentence(text):
            yield getattr(child, "lineno", 0), " ".join(text.split())


def _is_table(node: ast.AST) -> bool:
    return isinstance(node, ast.ClassDef) and (
        node.name in _TABLES or any(_name(base) in _KINDS for base in node.bases)
    )


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else getattr(node, "attr", "")


def _text(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
        )
    return None


def _is_sentence(text: str) -> bool:
    words = [word for word in text.split() if re.search(r"[A-Za-z]{2}|^[aAI]$", word)]
    return len(words) >= _WORDS and not text.lstrip().startswith(NO_SENTENCES)


def _not_said(path: str) -> bool:
    return any(path == one or path.startswith(f"{one}/") for one in NOT_SAID)


MODULES = {str(path.relative_to(ROOT)): path for path in sorted(ROOT.rglob("*.py"))}


@pytest.mark.parametrize("module", [name for name in MODULES if not _not_said(name)])
def test_sentences_stand_in_tables(module: str) -> None:
    assert list(prose(ast.parse(MODULES[module].read_text(encoding="utf-8")))) == []


def test_each_exception_is_still_one() -> None:
    for one in NOT_SAID:
        trees = [
            ast.parse(path.read_text(encoding="utf-8"))
            for name, path in MODULES.items()
            if name == one or name.startswith(f"{one}/")
        ]
        assert any(any(prose(tree)) for tree in trees), one
    written = "\n".join(path.read_text(encoding="utf-8") for path in MODULES.values())
    assert [one for one in NO_SENTENCES if one not in written] == []


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ("raise Refused(R, 'It has no size of its own.', f'Save {x} with one, please do.')", 2),
        ("print('There is nothing here to print')", 1),
        (
            "def f():\n    'It says what it does here.'\n    return f'{a} has too few dots by {b}'",
            1,
        ),
        ("class A(Sentence):\n    B = 'This is said by a table.'", 0),
        ("class A(RowEnum):\n    B = 'b', 'This is said by a row.'", 1),
        ("raise ValueError('no such thing as this one is')", 0),
        ("context.say('this is an event of it', why=f'but this is none of {x}')", 1),
        ("re.search('a b c d e f aa bb cc dd ee', text)", 0),
        ("short = 'only four words here'", 0),
    ],
)
def test_a_sentence_outside_a_table_is_found(code: str, found: int) -> None:
    assert len(list(prose(ast.parse(code)))) == found
