"""A job that cannot be brought to an end here is refused before its film is begun, and once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import job_harness
import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused, took_too_much_time
from filmhand.film.bits import BitSheet
from filmhand.pipeline import job_limits
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest, JobResult
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.parent import WorkerLimits, run_in_worker

PROFILE = "lpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\nart: {treat: line}\n"


def request_of(tmp_path: Path, more: str, *, pages: int = 1) -> JobRequest:
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()
    drawn = np.full((300, 200), 255, np.uint8)
    drawn[50:200, 40:160] = 0
    page = Image.fromarray(drawn)
    page.save(tmp_path / "art.tif", save_all=True, append_images=[page] * (pages - 1))
    profile = read_profile(PROFILE + more, name="large", file="large.yaml")
    return JobRequest(
        tmp_path / "art.tif", "art.tif", profile, tmp_path / "out", tmp_path / "scratch"
    )


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The sheets that were begun; and the computer makes a megapixel a second."""
    sheets: list[Path] = []
    create = BitSheet.create

    def note(path: Path, **size: int) -> BitSheet:
        sheets.append(path)
        return create(path, **size)

    monkeypatch.setattr(BitSheet, "create", note)
    monkeypatch.setattr(job_limits, "pixels_a_second", lambda: 1e6)
    return sheets


def test_it_is_told_before_a_sheet_is_begun(tmp_path: Path, begun: list[Path]) -> None:
    request = request_of(tmp_path, "sheet: letter\ndpi: 300\nlimits: {seconds: 6}\n")
    with pytest.raises(Refused, match="at least 7 seconds on this computer") as caught:
        make_films(request)
    assert caught.value.reason is Reason.TOO_BIG
    assert begun == []
    both = replace(request, threads=2)
    assert len(make_films(both).films) == 1
    assert begun == [tmp_path / "scratch" / "bits"]


def test_the_time_is_that_of_all_pages(tmp_path: Path, begun: list[Path]) -> None:
    request = request_of(tmp_path, "sheet: letter\ndpi: 300\nlimits: {seconds: 15}\n", pages=3)
    with pytest.raises(Refused, match="at least 19 seconds on this computer"):
        make_films(request)
    assert begun == []


def test_a_sheet_of_more_than_4_gib_is_the_arts_refusal_and_no_full_disk(tmp_path: Path) -> None:
    request = request_of(tmp_path, "sheet: 60x78 in\ndpi: 2880\n")
    forks = ForkServer()
    try:
        with pytest.raises(Refused, match=r"takes a file of 4\.\d GiB") as caught:
            run_in_worker(request, limits=WorkerLimits(120, 2**31), start=forks.start)
    finally:
        forks.close()
    assert caught.value.reason is Reason.TOO_BIG
    assert list((tmp_path / "scratch").iterdir()) == []


def test_one_whose_time_ran_out_is_refused_at_once_and_without_a_strike(tmp_path: Path) -> None:
    said: list[tuple[str, dict[str, Any]]] = []
    tries: list[str] = []

    def late(order: JobRequest) -> JobResult:
        tries.append(order.name)
        raise took_too_much_time("The art", 20.0)

    root = tmp_path / "small"
    queue = job_harness.make_queue(
        root,
        tmp_path / "state",
        render=late,
        say=lambda event, **facts: said.append((event, facts)),
    )
    queue.look()
    (root / "drop" / "a.png").write_bytes(b"art a")
    job_harness.work_through(queue)
    assert tries == ["a.png"]
    assert not queue.trouble.why
    assert (root / "rejected" / "a.png").read_bytes() == b"art a"
    assert "worker failed" not in [event for event, _ in said]
