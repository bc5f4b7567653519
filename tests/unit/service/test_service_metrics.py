"""The figures, line by line as the Prometheus text exposition format 0.0.4 wants them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.jobs.context import JobCounts
from filmhand.service.metrics import (
    WRITTEN_EVERY,
    MetricsFile,
    ProfileFigures,
    figures_of,
    metrics_text,
)

SMALL = ProfileFigures(
    name="small",
    waiting=3,
    working=1,
    made=40,
    refused=2,
    seconds=84.25,
    strikes=1,
    reachable=True,
    paused=False,
    oldest_waiting=12.5,
    free_bytes=10**12,
)
# "metric_name [{labels}] value"; label values escape backslash, double quote and line feed.
SAMPLE = re.compile(
    r'[a-zA-Z_:][a-zA-Z0-9_:]*(\{[a-zA-Z_]\w*="(?:[^"\\\n]|\\[\\n"])*"'
    r'(,[a-zA-Z_]\w*="(?:[^"\\\n]|\\[\\n"])*")*\})? [0-9.e+-]+'
)


def test_every_line_is_of_the_format_and_the_last_one_ends() -> None:
    odd = replace(SMALL, name='a"b\\c\nd')
    text = metrics_text([SMALL, odd], reload_failed=False)
    assert text.endswith("\n")
    lines = text.removesuffix("\n").split("\n")
    samples = [line for line in lines if not line.startswith("# ")]
    assert len(samples) == 2 * (8 + 1 + 2) + 1
    for line in samples:
        assert SAMPLE.fullmatch(line), line


def test_a_family_stands_together_after_its_help_and_type() -> None:
    text = metrics_text([SMALL, replace(SMALL, name="large")], reload_failed=True)
    family, seen = "", set()
    for line in text.splitlines():
        if line.startswith("# HELP "):
            family = line.split()[2]
            assert family not in seen
            seen.add(family)
        elif line.startswith("# TYPE "):
            assert line.split()[2] == family
            assert line.split()[3] in {"gauge", "counter", "summary"}
        else:
            assert re.match(rf"{family}(_sum|_count)?[{{ ]", line)
    assert len(seen) == 10


def test_the_figures() -> None:
    lines = metrics_text([SMALL], reload_failed=True).splitlines()
    for line in (
        'filmhand_waiting{profile="small"} 3',
        'filmhand_jobs_total{profile="small",result="made"} 40',
        'filmhand_jobs_total{profile="small",result="refused"} 2',
        'filmhand_job_seconds_sum{profile="small"} 84.25',
        'filmhand_job_seconds_count{profile="small"} 42',
        'filmhand_worker_strikes_total{profile="small"} 1',
        'filmhand_reachable{profile="small"} 1',
        'filmhand_oldest_waiting_seconds{profile="small"} 12.5',
        'filmhand_free_bytes{profile="small"} 1000000000000',
        "filmhand_reload_failed 1",
    ):
        assert line in lines
    unknown = metrics_text([replace(SMALL, free_bytes=None)], reload_failed=False)
    assert "filmhand_free_bytes{" not in unknown


def test_the_file_is_replaced_as_a_whole_and_trouble_said_once(tmp_path: Path) -> None:
    now, said = [0.0], []
    path = tmp_path / "away" / "filmhand.prom"
    file = MetricsFile(path, lambda: now[0], lambda event, **facts: said.append(event))
    for _ in range(3):
        file.write(lambda: "x 1\n")
        now[0] += WRITTEN_EVERY
    assert said == ["metrics not written"]
    path.parent.mkdir()
    file.write(lambda: "x 2\n")
    assert path.read_text() == "x 2\n"
    file.write(lambda: "x 3\n")
    assert path.read_text() == "x 2\n"  # not yet
    file.write(lambda: "x 4\n", at_once=True)
    assert path.read_text() == "x 4\n"
    assert [entry.name for entry in path.parent.iterdir()] == ["filmhand.prom"]


class Queue:
    """A queue as the figures see it."""

    def __init__(self, *, hanging: str = "", why: str = "", looking: bool = False) -> None:
        self.name = "small"
        pause = SimpleNamespace(why=why, looking=looking)
        self.trouble = SimpleNamespace(hanging=hanging, pause=pause)
        self.context = SimpleNamespace(counts=JobCounts(5, 4, 3.5, 2))
        self.housekeeping = SimpleNamespace(free_bytes=77)

    def status(self) -> dict[str, Any]:
        paused = self.trouble.hanging or self.trouble.pause.why or None
        return {"waiting_count": 9, "working": ["a", "b"], "paused": paused}

    def oldest_waiting(self) -> float:
        return 12.5


@pytest.mark.parametrize(
    ("trouble", "reachable", "paused"),
    [
        ({}, True, False),
        ({"hanging": "it hangs"}, False, True),
        ({"why": "full"}, True, True),
        ({"why": "away", "looking": True}, False, True),
        ({"looking": True}, True, False),
    ],
)
def test_the_figures_of_a_queue(trouble: dict[str, Any], *, reachable: bool, paused: bool) -> None:
    found = figures_of(Queue(**trouble))  # type: ignore[arg-type]
    assert found == ProfileFigures(
        name="small", waiting=9, working=2, made=5, refused=4, seconds=3.5, strikes=2,
        reachable=reachable, paused=paused, oldest_waiting=12.5, free_bytes=77,
    )  # fmt: skip


def test_the_file_is_written_every_five_seconds(tmp_path: Path) -> None:
    now, said = [0.0], []
    file = MetricsFile(tmp_path / "m", lambda: now[0], lambda event, **facts: said.append(event))
    for at, text in ((0.0, "1"), (4.9, "1"), (5.0, "3"), (9.9, "3")):
        now[0] = at
        file.write(lambda at=at: {0.0: "1", 4.9: "2", 5.0: "3", 9.9: "4"}[at])
        assert (tmp_path / "m").read_text() == text
    (tmp_path / "m").unlink()
    (tmp_path / "m").mkdir()
    (tmp_path / "m" / "x").touch()
    for seconds in (5.0, 10.0):
        now[0] += seconds
        file.write(lambda: "5")
    assert said.count("metrics not written") <= 1


def test_printers_are_told_by_their_address() -> None:
    printers = [
        {
            "printer": 'ipp://a"b/',
            "state": "waits",
            "why": "off",
            "waiting": 3,
            "doubtful_count": 1,
        },
        {"printer": "ipp://c/", "state": "idle", "why": None, "waiting": 0, "doubtful_count": 0},
    ]  # fmt: skip
    text = metrics_text([], printers=printers, reload_failed=False)
    assert 'filmhand_print_waiting{printer="ipp://a\\"b/"} 3\n' in text
    assert 'filmhand_print_doubtful{printer="ipp://c/"} 0\n' in text
    assert 'filmhand_print_blocked{printer="ipp://a\\"b/"} 1\n' in text
    assert 'filmhand_print_blocked{printer="ipp://c/"} 0\n' in text
    assert "print" not in metrics_text([], reload_failed=False)
