"""Killed at every step on the way to the printer: a film is printed once, or told as doubtful."""

from __future__ import annotations

import signal
from collections import Counter
from pathlib import Path

import job_harness
import print_harness
import pytest
import warm_start
from print_harness import FolderPrinter, events, orders
from test_spool_killed import drop_all

from filmhand.jobs.failpoints import FAILPOINTS_PRINT

FILES = {
    "one.png": b"print this to the printer",
    "two.png": b"prints this to the printer",
    "class 4/three.tif": b"pages of a book to the printer",
    "four.png": b"art for nobody's printer",
}
SHEETS = {b"print": 1, b"prints": 2, b"pages": 1}
WHOLE = [step for step in FAILPOINTS_PRINT if step not in {"doubt noted"}]
OF_JOBS = ["names recorded", "proof published", "order published", "film published",
           "publishing recorded"]  # fmt: skip


def run(folder: Path, *, die_at: str = "", host: str = "here-00000000") -> int:
    words = [folder / "small", folder / f"state-{host}", host, folder / "printer"]
    return warm_start.run(print_harness.__file__, *words, FILMHAND_DIE_AT=die_at)


def wanted() -> Counter[str]:
    """The documents that must be printed, and on how many sheets."""
    found: Counter[str] = Counter()
    for data in FILES.values():
        if b"to the printer" in data:
            word, digest = data.split()[0], job_harness.sha256(data)
            for suffix in ("-p01", "-p02") if word == b"pages" else ("",):
                found[f"document of {digest}{suffix}"] += SHEETS[word]
    return found


def assert_printed_once_or_doubtful(folder: Path, printer: FolderPrinter) -> None:
    """No sheet too many, ever; and what is missing is told as doubtful and lies there still."""
    root, printed = folder / "small", Counter(printer.sheets())
    lines = events(root)
    assert not printed - wanted()
    missing = wanted() - printed
    doubtful = [line["film"] for line in lines if line["state"] == "doubtful"]
    assert len(doubtful) == len(orders(root)) >= len(missing)
    ended = [line for line in lines if line["state"] == "printed"]
    assert len(ended) + len(doubtful) == len(wanted())
    assert len({line["film"] for line in ended}) == len(ended)
    assert sum(line["sheets"] for line in ended) == sum(printed.values()) or doubtful


@pytest.mark.parametrize("step", [*OF_JOBS, *WHOLE])
@pytest.mark.parametrize("deaths", [("1",), ("1", "1"), ("2", "1")])
def test_killed_at_a_step_of_printing(tmp_path: Path, step: str, deaths: tuple[str, ...]) -> None:
    root, printer = tmp_path / "small", FolderPrinter(tmp_path / "printer")
    dropped = drop_all(root, FILES)
    for count in deaths:
        died = run(tmp_path, die_at=f"{step}:{count}")
        assert died == -signal.SIGKILL or count != deaths[0]
        assert not Counter(printer.sheets()) - wanted()
    assert run(tmp_path) == 0
    assert Counter(printer.sheets()) == wanted()
    assert orders(root) == []
    assert_printed_once_or_doubtful(tmp_path, printer)
    lines = [(line["film"], line["state"]) for line in events(root) if line["state"] == "printed"]
    assert sorted(lines) == [
        (film, "printed") for film in ("class 4/three-p01", "class 4/three-p02", "one", "two")
    ]
    (root / "records" / "prints.jsonl").unlink()
    for path in (root / ".filmhand").glob("*/prints"):
        path.rmdir()
    job_harness.assert_invariants(root, dropped)


@pytest.mark.parametrize("step", WHOLE)
def test_killed_at_a_step_of_printing_and_taken_over(tmp_path: Path, step: str) -> None:
    root, printer = tmp_path / "small", FolderPrinter(tmp_path / "printer")
    drop_all(root, FILES)
    assert run(tmp_path, die_at=step, host="one-00000001") == -signal.SIGKILL
    assert run(tmp_path, host="two-00000002") == 0
    assert Counter(printer.sheets()) == wanted()
    assert orders(root) == []
    assert not (root / ".filmhand" / "one-00000001").exists()
    assert_printed_once_or_doubtful(tmp_path, printer)
