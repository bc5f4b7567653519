"""Commands in another language: one of this test's own, whose every row is in capitals."""

from __future__ import annotations

import ast
import gettext
import json
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from click.testing import CliRunner, Result

import filmhand.cli.new_profile as new_profile_module
from filmhand import language
from filmhand.cli.help_words import ClickCount, ClickWord
from filmhand.cli.main import main
from filmhand.cli.report_words import ReportCaption
from filmhand.language import languages, speaking

sys.path.append(str(Path(__file__).parents[2]))
import catalogs

CAPITALS = "zz"
CAPTION = 11  # letters
PROFILES = Path(__file__).parents[3] / "profiles"
PROFILE = """\
sheet: letter
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 6 mm
angle: 22.5
frame: 16 x 20 in
"""


def in_capitals(row: str) -> str:
    """All but the parts in braces, and what is typed: those stay as they are."""
    return "".join(
        part if part.startswith(("{", "%(")) else part.upper()
        for part in re.split(r"(\{[^{}]*\}|%\(\w+\)s)", row)
    )


@pytest.fixture
def capitals(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The language in force, for our own rows and for click's."""
    catalog = Catalog(locale="de")  # which has one form for one thing and one for several
    for table in catalogs.tables():
        for row in table:
            for text in catalogs.texts(row):
                other = (
                    in_capitals(text) if isinstance(text, str) else tuple(map(in_capitals, text))
                )
                catalog.add(text, other)
    folder = tmp_path / "locale" / CAPITALS / "LC_MESSAGES"
    folder.mkdir(parents=True)
    with (folder / "filmhand.mo").open("wb") as file:
        write_mo(file, catalog)
    monkeypatch.setattr(language, "CATALOGS", tmp_path / "locale")
    language._catalog.cache_clear()
    with speaking(CAPITALS):
        yield
    language._catalog.cache_clear()


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words, prog_name="filmhand")


def small_words(text: str) -> list[str]:
    """Words of small letters, other than options."""
    return re.findall(r"(?<![-\w])[a-z]{2,}", text)


@pytest.mark.parametrize("command", ["", *main.commands])
def test_the_help_of_every_command_is_told_in_the_language(capitals: None, command: str) -> None:
    usage, *lines = run(*command.split(), "--help").output.splitlines()
    assert usage.startswith(f"USAGE: filmhand {command}")
    typed = {f"    {main.commands[command].epilog}"} if command else set()
    assert "  EXAMPLE:" in lines or not command
    # Words to be typed stay as they are.
    shown = [re.sub(r"--[a-z]+ \[[a-z]+(\|[a-z]+)+\]", "", line) for line in lines]
    left = {word for line in shown if line not in typed for word in small_words(line)}
    assert left <= {name.partition("-")[0] for name in main.commands}
    assert any(line.strip() == "OPTIONS:" for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["chekc"], "ERROR: NO SUCH COMMAND 'chekc'. DID YOU MEAN 'check'?"),
        (["check"], "ERROR: MISSING ARGUMENT 'FILE...'"),
        (["check", "--mroe"], "ERROR: NO SUCH OPTION '--mroe'. DID YOU MEAN '--more'?"),
        (["ruler"], "ERROR: MISSING OPTION '--profile'"),
        (["make", "a.png"], "ERROR: A FILM IS MADE FOR A PROFILE"),
        (["make", "a.png", "--lpi", "9"], "ERROR: --lpi IS NO OPTION HERE: lpi STANDS IN"),
        (["once", "a", "b"], "ERROR: GOT UNEXPECTED EXTRA ARGUMENT (b)"),
        (["log", "a", "--lines", "0"], "ERROR: INVALID VALUE FOR '--lines': 0 IS NOT IN THE RANGE"),
        (["measure", "a", "--mesh"], "ERROR: OPTION '--mesh' REQUIRES AN ARGUMENT."),
        (["new-profile", "--treat", "x"], "ERROR: INVALID VALUE FOR '--treat': 'x' IS NOT ONE OF"),
        (["usage", "a", "--since", "x"], "MUST BE A DAY AS 2026-03-01, NOT 'x'"),
        (["foresee"], "ERROR: foresee IS NOW predict."),
    ],
)
def test_what_was_typed_wrongly_is_told_in_the_language(
    capitals: None, words: list[str], says: str
) -> None:
    done = run(*words)
    assert (done.exit_code, says in done.output) == (2, True), done.output
    assert done.output.startswith(("USAGE: filmhand", "ERROR: "))
    assert "--help' FOR HELP." in done.output or done.output.startswith("ERROR: ")


def test_captions_leave_room_for_what_stands_beside_them() -> None:
    for code in languages():
        with speaking(code):
            assert [one for one in ReportCaption if len(one.say()) > CAPTION] == []


@pytest.mark.slow
@pytest.mark.parametrize("code", languages())
def test_the_profiles_that_come_along_fit_a_screen(code: str) -> None:
    files = sorted(map(str, PROFILES.glob("*.yaml")))
    assert len(files) >= 6
    for words in (files, *([file] for file in files)):
        with speaking(code):
            lines = run("check", *words).output.splitlines()
        assert (len(lines) <= 23, max(map(len, lines)) <= 80) == (True, True), "\n".join(lines)


def test_clicks_words_are_those_of_the_click_that_is_here() -> None:
    there = set()
    for path in Path(click.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant):
                there.add(node.value)
    assert {row.value for row in ClickWord} <= there
    assert {text for row in ClickCount for text in row.value} <= there


def test_the_surroundings_are_as_before(capitals: None, monkeypatch: pytest.MonkeyPatch) -> None:
    for before in (None, "fr:de"):
        if before is None:
            monkeypatch.delenv("LANGUAGE", raising=False)
        else:
            monkeypatch.setenv("LANGUAGE", before)
        run("--version")
        assert os.environ.get("LANGUAGE") == before
        assert gettext.textdomain() == "messages"


def test_what_check_and_new_profile_tell(
    capitals: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only what people write stays as it is, and what other rooms tell: the rule of the tones."""
    monkeypatch.chdir(tmp_path)
    for name in ("one", "two"):
        Path(f"{name}.yaml").write_text(PROFILE)
    typed = {"filmhand", "check", "yaml", "one", "two", "lpi", "round", "µm", "auto", "dpi"}
    typed |= {"angle", "press", "mesh", "mesh_angle"}  # keys to write in the profile
    (described,) = json.loads(run("check", "one.yaml", "--json").output)
    for words in (["one.yaml"], ["one.yaml", "--more"], ["one.yaml", "two.yaml"]):
        done = run("check", *words)
        assert done.exit_code == 0
        text = " ".join(done.output.split()).replace(described["tone"], "")
        assert set(small_words(text)) - typed <= {"in", "mm", "px", "cm"}
    monkeypatch.setattr(new_profile_module, "is_terminal", lambda _stream: True)
    done = CliRunner().invoke(main, ["new-profile", "own.yaml"], input="a4\n300\n\n110\nphoto\n\n")
    assert done.exit_code == 0, done.output
    assert "[BOTH]: photo" in done.output and "WROTE own.yaml." in done.output
    told = json.loads(run("check", "own.yaml", "--json").output)
    assert told[0]["treat"] == "tone"
