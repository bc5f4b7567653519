"""The pages of the guide say what the program does: every key, every reason, every figure."""

from __future__ import annotations

import ast
import contextlib
import io
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

import filmhand
from filmhand.art.files.file_types import FileType, refusal
from filmhand.errors import ProfileError, Reason, Refused
from filmhand.guide import page_names, read_page
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.profile.read.schema import KEYS
from filmhand.profile.ticket.ticket import read_ticket
from filmhand.profile.ticket.wishes import wishes_in
from filmhand.screen.dot_shapes import Dot

PAGES = (
    "start",
    "stencil",
    "art",
    "profiles",
    "inks",
    "dots",
    "tickets",
    "gang",
    "folders",
    "service",
    "notify",
    "refusals",
    "mesh",
    "print",
    "wedge",
    "printer",
    "print-server",
    "film",
    "cautions",
    "limits",
    "glossary",
)
REQUIRED = ("sheet", "dpi", "lpi", "dot", "threshold", "mesh", "margin")
BASE = dict(zip(REQUIRED, ("letter", "600", "25", "round", "50", "43-80", "6 mm"), strict=True))


def written(**keys: str) -> str:
    """A profile's text: the base with some top-level keys exchanged or added."""
    return "".join(f"{key}: {value}\n" for key, value in (BASE | keys).items())


def with_key(dotted: str, value: str) -> Profile:
    group, _, inner = dotted.rpartition(".")
    text = written(**({group: f"{{{inner}: {value}}}"} if group else {inner: value}))
    return read_profile(text, name="test", file="test.yaml")


def setting(profile: Profile, dotted: str) -> object:
    found: object = profile
    for part in dotted.split("."):
        found = getattr(found, part)
    return found


def rows(page: str) -> Iterator[list[str]]:
    """The cells of every table row whose first cell is a key in backquotes."""
    for line in read_page(page).splitlines():
        if line.startswith("| `"):
            yield [cell.strip() for cell in line.strip("|").split("|")]


def all_keys() -> set[str]:
    return {
        dotted
        for key, inside in KEYS.items()
        for dotted in ([f"{key}.{name}" for name in inside] or [key])
    }


def profile_rows() -> dict[str, list[str]]:
    return {cells[0].strip("`"): cells for cells in rows("profiles")}


def test_the_pages_stand_in_reading_order_and_have_titles() -> None:
    names = page_names()
    assert [name for name, _ in names] == list(PAGES)
    assert all(len(title) > 5 for _, title in names)
    assert len({title for _, title in names}) == len(PAGES)


@pytest.mark.parametrize("page", PAGES)
def test_pages_that_are_named_exist(page: str) -> None:
    named = re.findall(r"[Tt]he\s+pages?\s+`(\w+)`", read_page(page))
    assert set(named) <= set(PAGES)


@pytest.mark.parametrize("page", PAGES)
def test_lines_fit_a_terminal(page: str) -> None:
    long = [line for line in read_page(page).splitlines() if len(line) > 96 and line[0] != "|"]
    assert not long


def test_every_key_of_a_profile_is_documented_and_no_other() -> None:
    assert set(profile_rows()) == all_keys()


@pytest.mark.parametrize("key", sorted(all_keys() - set(REQUIRED)))
def test_the_defaults_are_those_of_the_program(key: str) -> None:
    default = profile_rows()[key][1].strip("`")
    plain = read_profile(written(), name="test", file="test.yaml")
    assert setting(with_key(key, default), key) == setting(plain, key)


@pytest.mark.parametrize("key", REQUIRED)
def test_the_examples_of_required_keys_are_right(key: str) -> None:
    assert with_key(key, profile_rows()[key][1].strip("`"))


@pytest.mark.parametrize("key", sorted(all_keys()))
def test_words_that_are_said_to_be_allowed_are(key: str) -> None:
    for word in re.findall(r"`([^`]+)`", profile_rows()[key][2]):
        assert with_key(key, word)


def test_the_row_of_dots_names_every_shape() -> None:
    named = set(re.findall(r"`(\w+)", profile_rows()["dot"][2]))
    assert named == {str(dot) for dot in Dot}


def number_rows() -> list[tuple[str, float, float]]:
    found = []
    for key, cells in profile_rows().items():
        # "a number, 0.2 to 5"; lpi has a second rule and mesh sizes a group, so both stand apart.
        match = re.search(r"\b(?:whole )?number, (-?[\d.]+) to ([\d.]+)", cells[2])
        if match and key not in {"dpi", "lpi"}:
            found.append((key, float(match[1]), float(match[2])))
    return found


def test_ranges_were_found() -> None:
    assert len(number_rows()) >= 9


@pytest.mark.parametrize(("key", "low", "high"), number_rows())
def test_ranges_are_those_of_the_program(key: str, low: float, high: float) -> None:
    step = 1 if "whole" in profile_rows()[key][2] else 0.0005
    for inside in (low, high):
        assert with_key(key, f"{inside:.10g}")
    for outside in (low - step, high + step):
        with pytest.raises(ProfileError):
            with_key(key, f"{outside:.10g}")


def test_the_example_of_a_written_out_mesh_is_right() -> None:
    block = next(block for block in code_blocks("profiles") if block.startswith("mesh:"))
    text = "".join(f"{key}: {value}\n" for key, value in BASE.items() if key != "mesh") + block
    profile = read_profile(text, name="test", file="test.yaml")
    assert profile.mesh is not None
    assert profile.mesh.opening_um == 149


def test_the_example_of_a_press_curve_is_right(tmp_path: Path) -> None:
    block = next(block for block in code_blocks("profiles") if block.startswith("# film %"))
    (tmp_path / "press.txt").write_text(block)
    text = written(tone="{gain: press.txt}")
    profile = read_profile(text, name="test", file="t.yaml", curve_dir=tmp_path)
    assert setting(profile, "tone.gain.points")[1] == (10, 16)  # type: ignore[index]


def test_the_example_of_a_ticket_is_right() -> None:
    block = next(block for block in code_blocks("tickets") if block.startswith("for:"))
    profile = read_profile(written(), name="test", file="test.yaml")
    wished, ticket = read_ticket(block, profile=profile, file="a.jpg.ticket.yaml")
    assert wished.lpi == 30
    assert (ticket.for_whom, ticket.copies) == ("Class 4, Tuesday", 2)


def test_every_key_of_a_ticket_is_documented() -> None:
    named = {name for cells in rows("tickets") for name in re.findall(r"`(\w+)`", cells[0])}
    profile = read_profile(written(), name="test", file="test.yaml")
    wishes = {"lpi", "dot", "angle", "threshold", "art", "tone", "marks", "film", "repair"}
    wishes |= {"copies", "for", "gang", "anyway", "trial", "patch", "pages"}
    wishes |= {"inks", "separate", "cloth", "underbase", "trap", "total_ink", "black_generation"}
    assert named == wishes
    text = "lpi: 30\ndot: line\nangle: 10\nthreshold: 40\nart: {turn: never}\ntone: {midtone: 1}\n"
    text += "marks: {steps: yes}\nfilm: {mirror: yes}\ncopies: 3\nfor: me\ngang: no\nanyway: true\n"
    text += "repair: {skew: off}\ntrial: true\npatch: B2\npages: 2-5\ninks: off\ntrap: 0 mm\n"
    text += 'separate: auto\ncloth: "#ffffff"\nunderbase: off\ntotal_ink: auto\n'
    text += "black_generation: 50 %\n"
    assert set(read_ticket(text, profile=profile, file="t")[1].raw) == wishes


def test_the_example_of_a_trial_is_right() -> None:
    block = next(block for block in code_blocks("tickets") if block.startswith("trial:\n"))
    profile = read_profile(written(), name="test", file="test.yaml")
    trial = read_ticket(block + "patch: B2\n", profile=profile, file="t")[1].trial
    assert trial is not None and trial.detail == (40, 55)
    assert [key for key, _ in trial.values] == ["lpi", "dot", "contrast"]


def test_the_examples_of_wishes_in_names_are_right() -> None:
    wishes, rest = read_page("tickets").split("**Nothing is passed over.**")
    table = "\n".join(re.findall(r"(?m)^\| `\[.*", wishes))
    read = re.findall(r"`(\[[^`]+\])`", table)
    assert len(read) >= 15
    assert all(len(wishes_in(f"a {inside}.png")) == 1 for inside in read)
    refused, kept = rest.split("## The ticket")[0].split("These stay part of the name")
    for name in re.findall(r"`(logo [^`]+)`", refused):
        with pytest.raises(Refused):
            wishes_in(name)
    names = re.findall(r"`(\[[^`]+\])`", kept)
    assert len(names) >= 10
    assert all(wishes_in(f"a {inside}.png") == () for inside in names)


def test_every_reason_has_its_entry_with_a_sentence_or_why_not() -> None:
    entries = dict(re.findall(r"(?ms)^### ([\w-]+)\n(.*?)(?=^##|\Z)", read_page("refusals")))
    assert set(entries) == {str(reason) for reason in Reason}
    without = [reason for reason, text in entries.items() if "\n> " not in text]
    assert not without


def sentences_of_the_program() -> list[re.Pattern[str]]:
    """Every string of the program with some words in it, its placeholders matching anything."""
    found = []
    for path in sorted(Path(filmhand.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            parts = node.values if isinstance(node, ast.JoinedStr) else [node]
            words = [part.value if isinstance(part, ast.Constant) else None for part in parts]
            # A placeholder of a table's row is one as that of an f-string is, or filled with "".
            texts = [
                re.split(r"\{\w+\}", word) if isinstance(word, str) else ["", ""] for word in words
            ]
            if sum(len(piece) for text in texts for piece in text) > 15:
                pattern = "".join(".*".join(map(re.escape, text)) for text in texts)
                found.append(re.compile(pattern))
    return found


def quoted_sentences() -> list[str]:
    quotes = re.findall(r"(?m)(?:^> .*\n)+", read_page("refusals"))
    return [" ".join(quote.replace("\n> ", " ").removeprefix("> ").split()) for quote in quotes]


def test_the_sentences_of_refusals_are_those_of_the_program() -> None:
    known = sentences_of_the_program()
    letter, *others = quoted_sentences()
    assert letter == refusal(FileType.TEXT, name="letter.png").say
    assert len(others) >= 12
    strange = [quote for quote in others if not any(p.fullmatch(quote) for p in known)]
    assert not strange


def test_the_tables_of_the_mesh_page_are_what_their_command_prints() -> None:
    command = next(block for block in code_blocks("mesh") if block.startswith("from filmhand"))
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(command, {})
    limits = read_page("mesh").partition("## What ordinary set-ups say")[0]
    limits = limits.partition("## Limits of common meshes")[2]
    table = [line for line in limits.splitlines() if re.match(r"\| \d+ \(", line)]
    assert [line.split() for line in printed.getvalue().splitlines()] == [
        line.split() for line in table
    ]


def code_blocks(page: str) -> Iterator[str]:
    """Indented blocks, without their indent."""
    for block in re.findall(r"(?m)(?:^ {4,}.*\n|^\n(?= {4}))+", read_page(page)):
        yield textwrap.dedent(block).strip("\n") + "\n"
