"""The tables of speed on the pages are those that the command for them writes."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import baselines
import markdown_marks
import whole_job
from process_tree import Spent
from whole_job import OURS, Found

REPOSITORY = Path(__file__).parents[2]
TOOLS = [OURS, "Pillow", "libvips"]
SAYS = [
    whole_job.SERVICE_SAYS if name == whole_job.SERVICE else whole_job.JOBS[name].says
    for name in whole_job.ORDER
]


def part(page: str, name: str) -> list[str]:
    """The lines between the marks of a page."""
    begin, end = markdown_marks.marks(name)
    text = (REPOSITORY / page).read_text(encoding="utf-8")
    return text[text.index(begin) + len(begin) : text.index(end)].strip().splitlines()


def cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip("|").split("|")]


def found(says: str) -> Found:
    spent = Spent(1.2, 2.3, 45.0)
    compared = any(job.says == says and job.compared for job in whole_job.JOBS.values())
    others = ["Pillow", "libvips"] if compared else []
    return Found(says, dict.fromkeys([OURS, *others], spent), dict.fromkeys(others, spent))


def shape(lines: list[str]) -> list[list[str]]:
    """Head and first column, and which cells say nothing."""
    rows = [cells(line) for line in lines if line.startswith("|")]
    told = [[cell if cell == "–" else "" for cell in row[1:]] for row in rows[2:]]
    return [rows[0], *([row[0], *said] for row, said in zip(rows[2:], told, strict=True))]


@pytest.mark.parametrize(
    ("page", "name"), [("DEVELOPERS.md", "whole jobs"), ("README.md", "speed")]
)
def test_the_table_on_the_page_is_of_the_shape_that_is_written(page: str, name: str) -> None:
    every = [found(says) for says in SAYS]
    written = whole_job.short_table(every) if name == "speed" else whole_job.table(every, TOOLS)
    shown = part(page, name)
    assert shape(shown) == shape(written)
    assert "Python" in shown[-1] and "rounds: " in shown[-1]


def test_without_libvips_its_columns_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(baselines, "find_spec", lambda name: None)
    assert list(baselines.baselines()) == ["Pillow"]
    table = whole_job.table([found(SAYS[0])], [OURS, "Pillow"])
    assert cells(table[0]) == ["job", OURS, "Pillow", f"{OURS} to Pillow"]
    assert cells(table[2])[1:] == ["1.20 s, 2.30 s, 45 MiB"] * 2 + ["1.20, 2.30, 45.00"]


def test_only_what_stands_between_the_marks_is_replaced(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    begin, end = markdown_marks.marks("speed")
    page.write_text(f"before\n{begin}\nold\n{end}\nafter\n")
    markdown_marks.fill_marks([page], {"speed": ["new"], "elsewhere": ["no"]})
    assert page.read_text() == f"before\n{begin}\nnew\n{end}\nafter\n"
    page.write_text("no marks\n")
    with pytest.raises(SystemExit):
        markdown_marks.fill_marks([page], {"speed": ["new"]})
