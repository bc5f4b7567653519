"""Art of a profile that goes by readings waits for the scans that came with it."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

from filmhand.profile.terms import GainCurve
from filmhand.queue.scans_first import CURVE_AT_MOST, SCANS_AT_MOST

OLD = 1_700_000_000


class Station:
    """A queue whose clock is moved by hand; nobody reads the profile again but the test."""

    def __init__(self, tmp_path: Path, *, scan: bytes = b"scan of a print") -> None:
        from job_harness import make_queue

        self.now, self.asked = 0.0, []
        self.root = tmp_path / "small"
        self.queue = make_queue(
            self.root,
            tmp_path / "state",
            reads_wedges=True,
            clock=lambda: self.now,
            curve_read=lambda: self.asked.append(self.now),
        )
        self.queue.change(replace(self.queue.settings, goes_by_readings=True))
        # The art is older, and still the scan goes first.
        self.put("drop/a.png", b"art a", OLD)
        self.put("calibrate/scan.png", scan, OLD + 9)

    def put(self, name: str, data: bytes, at: int) -> None:
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (at, at))

    def look(self, seconds: float = 5.0) -> list[str]:
        """What is ready after two looks that are so far apart, in order."""
        self.queue.look()
        self.now += seconds
        self.queue.look()
        return [task.bundle.shown for task in self.queue.view.ready]

    def do(self) -> None:
        self.queue.do(self.queue.take())


def test_art_waits_until_the_curve_of_the_scan_is_in_force(tmp_path: Path) -> None:
    station = Station(tmp_path)
    assert station.look() == ["calibrate/scan.png"]
    (waiting,) = station.queue.view.waiting
    assert waiting.name == "a.png" and "scan" in waiting.why
    task = station.queue.take()
    assert station.look() == []  # while it is read
    station.queue.do(task)
    assert station.asked  # that the profile be read again
    assert station.look() == [] and not station.queue.idle()
    curve = GainCurve(((0, 0), (50, 60), (100, 100)), "curves/a.txt", "0")
    station.queue.change(replace(station.queue.settings, curve=curve))
    assert station.look() == ["a.png"]


@pytest.mark.parametrize("scan", [b"refuse this scan", b"scan of a print"])
def test_art_does_not_wait_for_what_brings_no_curve(tmp_path: Path, scan: bytes) -> None:
    station = Station(tmp_path, scan=scan)
    station.look()
    station.do()
    if not scan.startswith(b"refuse"):  # read, and nobody puts its curve in force
        assert station.look() == []
        station.now += CURVE_AT_MOST
    assert station.look() == ["a.png"]


def test_art_does_not_wait_for_ever_for_a_scan_in_hand(tmp_path: Path) -> None:
    station = Station(tmp_path)
    station.look()
    station.queue.take()
    assert station.look() == []
    station.now += SCANS_AT_MOST
    assert station.look() == ["a.png"]


def test_a_profile_that_names_its_curve_waits_for_no_scan(tmp_path: Path) -> None:
    station = Station(tmp_path)
    station.queue.change(replace(station.queue.settings, goes_by_readings=False))
    assert station.look() == ["calibrate/scan.png", "a.png"]
