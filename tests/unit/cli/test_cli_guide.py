"""The guide on a terminal and for programs: its pages, their index, and words looked up in it."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import filmhand.cli.guide as guide_module
from filmhand.cli.main import main
from filmhand.cli.page_on_terminal import page_on_terminal
from filmhand.guide import GLOSSARY, index_page, page_names, read_page
from filmhand.guide.search import find_in_guide, nearest_words, pages_named

PICTURES = Path(guide_module.__file__).parents[1] / "guide" / "pictures"
NAMES = [name for name, _ in page_names()]
CODES = re.compile(r"\x1b\[[0-9;]*m")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["guide", *words])


def glossary_rows() -> list[list[str]]:
    lines = read_page(GLOSSARY).splitlines()
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if "|" in line]
    return rows[2:]


def widths(page: str, columns: int) -> list[tuple[int, str]]:
    """Of the lines as shown; paths of pictures stay whole, so that they can be opened."""
    shown = CODES.sub("", page_on_terminal(page, columns=columns)).splitlines()
    return [(len(line), line) for line in shown if not line.startswith("  /")]


@pytest.mark.parametrize("columns", [40, 60, 80, 132])
@pytest.mark.parametrize("name", NAMES)
def test_no_line_is_wider_than_the_terminal(name: str, columns: int) -> None:
    assert [line for length, line in widths(read_page(name), columns) if length > columns] == []


@pytest.mark.parametrize("name", NAMES)
def test_nothing_of_a_page_is_lost(name: str) -> None:
    """All its words stand there in the same order, in a terminal in which no table is reshaped."""
    page = read_page(name)
    shown = CODES.sub("", page_on_terminal(page, columns=88))
    for text in (page, shown):
        assert text.strip()
    tables = re.compile(r"(?m)^\|.*\n?")
    pictures = re.compile(r"(?m)^!\[.*\n?|^Picture: (?:.+\n)+")
    wanted = re.findall(r"\w+", pictures.sub("", tables.sub("", page)))
    found = re.findall(r"\w+", shown)
    places = iter(found)
    assert [word for word in wanted if word not in places] == []
    cells = {word for line in tables.findall(page) for word in re.findall(r"\b\w{3,10}\b", line)}
    assert cells - set(re.findall(r"\w+", shown)) == set()


def test_what_a_page_is_made_of() -> None:
    page = (
        "# Title\n\nSome **bold words** and `code` and a [link](there.md).\nMore.\n\n"
        "- one\n  goes on\n- two\n\n1. first\n2. second\n\n    type this\n\n    and this\n\n"
        "> Quoted\n> words.\n\n![a picture](pictures/x.png)\n\n"
        "| head | other |\n|---|---|\n| `cell` | more |\n"
    )
    assert CODES.sub("", page_on_terminal(page, columns=60)).splitlines()[:-3] == [
        "Title", "=====", "",
        "Some bold words and code and a link (there.md). More.", "",
        "- one goes on", "", "- two", "", "1. first", "", "2. second", "",
        "    type this", "", "    and this", "",
        "  | Quoted words.", "",
        "Picture: a picture", f"  {PICTURES}/x.png", "",
    ]  # fmt: skip
    shown = page_on_terminal(page, columns=60)
    assert "\x1b[1mbold words\x1b[0m" in shown and "\x1b[36mcode\x1b[0m" in shown


def test_a_table_with_no_room_is_shown_row_by_row() -> None:
    page = "| a | b | c | d |\n|---|---|---|---|\n| one | two | | four |\n"
    assert page_on_terminal(page, columns=30).splitlines() == ["a: one", "b: two", "d: four"]


def test_other_programs_get_the_page_as_it_is_written() -> None:
    assert run("tickets").output == read_page("tickets") + "\n"
    assert run("index").output == index_page() + "\n"


def test_on_a_terminal_it_is_laid_out_and_no_color_leaves_the_codes_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(guide_module, "is_terminal", lambda _stream: True)
    size = os.terminal_size((50, 24))
    monkeypatch.setattr(shutil, "get_terminal_size", lambda *_: size)
    monkeypatch.delenv("NO_COLOR", raising=False)
    runner = CliRunner()
    colored = runner.invoke(main, ["guide", "tickets"], color=True).output
    assert "\x1b[1m" in colored
    monkeypatch.setenv("NO_COLOR", "1")
    plain = runner.invoke(main, ["guide", "tickets"], color=True).output
    assert "\x1b" not in plain and plain == CODES.sub("", colored)
    assert max(map(len, plain.splitlines())) <= 50


def test_the_list_and_the_index_name_every_page_and_section() -> None:
    listed = run().output
    index = run("index").output
    for name, title in page_names():
        assert re.search(rf"(?m)^{name} +{re.escape(title)}$", listed)
        assert f"**{name}**: {title}" in index
        for section in re.findall(r"(?m)^## (.+)$", read_page(name)):
            assert f"- {section}" in index
    assert [one["page"] for one in json.loads(run("--json").output)] == NAMES


@pytest.mark.parametrize(
    ("words", "page"),
    [
        ("thread count", "mesh"), ("halftone", "dots"), ("dot gain", "profiles"),
        ("hot folder", "folders"), ("registration", "film"), ("positive", "film"),
        ("emulsion", "stencil"), ("wash out", "stencil"), ("exposing", "stencil"),
        ("Burning", "stencil"), ("moiré", "mesh"), ("reclaim", "stencil"), ("phone", "start"),
    ],
)  # fmt: skip
def test_words_that_people_know_lead_to_ours(words: str, page: str) -> None:
    first = find_in_guide(words.split())[0]
    assert first.page == GLOSSARY and first.text.strip("| ").endswith(f"`{page}`")
    done = run(*words.split())
    assert done.exit_code == 0
    assert f"`{page}`" in " ".join(done.output.split())
    assert max(map(len, done.output.splitlines())) <= 88


def test_pages_whose_name_fits_come_first() -> None:
    assert pages_named(["ticket"])[0][0] == "tickets"
    assert run("ticket").output.startswith("tickets: Wishes for one job")
    assert run("TICKETS").output == run("tickets").output


def test_all_words_must_stand_together_and_headings_count_more() -> None:
    hits = find_in_guide(["power", "fails"])
    assert hits[0].section == "When the power fails"
    assert all(re.search(r"power", f"{hit.section} {hit.text}", re.I) for hit in hits)
    ranks = [hit.rank for hit in hits]
    assert ranks == sorted(ranks, reverse=True)
    told = json.loads(run("power", "fails", "--json").output)
    assert told[0]["page"] == hits[0].page and len(told) == len(hits)


@pytest.mark.parametrize("words", ["moire", "dot", "bands", "registration", "halftone"])
def test_what_is_found_is_told_without_the_marks_of_its_page(words: str) -> None:
    text = run(words).output
    assert not re.search(r"\*\*|\]\(|!\[|(?m:^ *>)| > \w", text), text


def test_what_stands_nowhere_is_answered_with_the_nearest_words() -> None:
    assert nearest_words(["halftoen"])[0] == "halftone"
    done = run("halftoen")
    assert done.exit_code == 1
    assert "“halftoen” stands nowhere in the guide" in done.output and "halftone" in done.output
    done = run("qqqq")
    assert done.exit_code == 1 and "Try one word of it" in done.output
    assert run("qqqq", "--json").exit_code == 1


def test_the_glossary_names_pages_and_keys_that_there_are() -> None:
    rows = glossary_rows()
    assert len(rows) > 60
    assert [row for row in rows if row[2].strip("`") not in NAMES] == []
    words = [word for row in rows for word in row[0].split(", ")]
    assert len(set(words)) == len(words) > 150
    for key in ("`tone.gain`", "`marks.register`", "`film.mirror`", "`art.tile`"):
        assert any(key in row[1] for row in rows)
