"""The guide's tables are those of the registries, row by row."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import filmhand
from filmhand.art.repair.repair_note import RepairKind
from filmhand.errors import Reason
from filmhand.film.formats import Format
from filmhand.mesh.checks import CheckName
from filmhand.profile.model import Marks, RepairWishes, VerdictLimits
from filmhand.screen.dot_shapes import Dot
from filmhand.sheet.layout import STEPS
from filmhand.sheet.marks import MARKS

GUIDE = Path(filmhand.__file__).parent / "guide"


def table(page: str, head: str) -> list[str]:
    """The rows of the page's table with this head, without its rule."""
    lines = (GUIDE / page).read_text(encoding="utf-8").splitlines()
    first = lines.index(head) + 2
    return lines[first : lines.index("", first)]


def test_dot_shapes() -> None:
    rows = [
        f"| `{dot}{' ...' if dot.own else ''}` | {dot.row.meets} | {dot.row.use} |" for dot in Dot
    ]
    assert table("25-dots.md", "| `dot` | neighbors meet at | what it is good for |") == rows


def test_film_formats() -> None:
    rows = [f"| `{kind}` | `{kind.suffix}` | {kind.use} |" for kind in Format]
    assert table("70-film.md", "| `write` | ends in | what for |") == rows


def test_reasons_of_refusals() -> None:
    rows = [f"| `{reason}` | {reason.when} |" for reason in Reason]
    assert table("50-refusals.md", "| reason | when |") == rows


def test_marks() -> None:
    rows = [f"| {row.key} | {row.where} | {row.use} |" for row in MARKS]
    shown = table("70-film.md", "| mark | where | what it is for |")
    assert shown[: len(rows)] == rows
    assert {row.key for row in MARKS} == {field.name for field in dataclasses.fields(Marks)}


def test_steps_of_the_wedge() -> None:
    text = (GUIDE / "70-film.md").read_text(encoding="utf-8")
    shown = re.search(r"(?m)^ {4}([\d ]+)$", text.partition("## The step wedge")[2])
    assert shown and tuple(map(int, shown[1].split())) == STEPS
    assert f"{len(STEPS)} patches" in text


def test_repairs() -> None:
    text = (GUIDE / "15-art.md").read_text(encoding="utf-8")
    shown = re.findall(r"(?m)^- \*\*(.+)\*\* \(`(\w+)`\)", text)
    assert shown == [(kind.mends, str(kind)) for kind in RepairKind]
    assert set(RepairKind) == {field.name for field in dataclasses.fields(RepairWishes)}


def test_checks() -> None:
    shown = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in table("60-mesh.md", "| check | fails | warns | key | source |")
    ]
    names = list(dict.fromkeys(cells[0].split(",")[0] for cells in shown))
    assert names == [str(name) for name in CheckName]
    keys = {field.name for field in dataclasses.fields(VerdictLimits)}
    for cells in shown:
        row = next(name.row for name in CheckName if name == cells[0].split(",")[0])
        told = re.findall(r"`verdict\.(\w+)`", cells[3])
        assert set(told) <= keys
        assert (row.key is None) == (not told)
        assert not told or any(row.key in key for key in told)
        assert (cells[1] == "never") == (row.reason is None or cells[0].endswith("line art"))
