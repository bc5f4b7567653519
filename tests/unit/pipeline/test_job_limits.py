"""What cannot be brought to an end here is told before it is begun, with what was measured."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.errors import Quantity, Reason, Refused
from filmhand.pipeline import job_limits
from filmhand.pipeline.job_limits import check_file, check_time, pixels_a_second
from filmhand.sheet.layout import Box


@pytest.fixture
def measured(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """How often the computer is tried; it makes 50 megapixels a second with each thread."""
    tries: list[str] = []

    def rate() -> float:
        tries.append("tried")
        return 5e7

    monkeypatch.setattr(job_limits, "pixels_a_second", rate)
    return tries


def work_of(width: int, height: int, *, seconds: float = 20, threads: int = 2) -> Any:
    return SimpleNamespace(
        area=Box(7, 9, width, height),
        layout=SimpleNamespace(sheet=Box(0, 0, width + 20, height)),
        profile=SimpleNamespace(limits=SimpleNamespace(seconds=seconds)),
        request=SimpleNamespace(name="a.png", threads=threads),
    )


def test_art_that_takes_too_long_is_told_with_what_it_would_take(measured: list[str]) -> None:
    with pytest.raises(Refused) as caught:
        check_time(work_of(50_000, 40_001), 1)
    refused = caught.value
    assert refused.reason is Reason.TOO_BIG
    assert refused.say == (
        "“a.png” comes to 2001 megapixels of film, which take at least 21 seconds on this "
        "computer; the profile allows a job 20 seconds."
    )
    assert refused.do.endswith("or raise limits.seconds in the profile to 120.")
    assert (refused.found, refused.needed) == (Quantity(21, "seconds"), Quantity(20.0, "seconds"))
    assert measured == ["tried"]


@pytest.mark.parametrize(
    ("pages", "seconds", "threads", "refused"),
    [(1, 20, 2, False), (2, 40, 2, False), (2, 39.9, 2, True), (1, 20, 1, True), (1, 40, 1, False)],
)
def test_each_page_and_each_thread_counts(
    measured: list[str], pages: int, seconds: float, threads: int, refused: bool
) -> None:
    work = work_of(50_000, 40_000, seconds=seconds, threads=threads)
    if refused:
        with pytest.raises(Refused):
            check_time(work, pages)
    else:
        check_time(work, pages)
    assert measured == ["tried"]


def test_for_a_film_that_any_computer_makes_nothing_is_tried(measured: list[str]) -> None:
    check_time(work_of(5_000, 4_000), 1)
    assert measured == []
    check_time(work_of(5_000, 4_001), 1)
    assert measured == ["tried"]


def test_a_film_whose_bits_are_too_large_a_file_is_told() -> None:
    check_file(work_of(2**17 - 20, 2**18))
    with pytest.raises(Refused) as caught:
        check_file(work_of(2**17 - 20, 2**18 + 1))
    assert caught.value.reason is Reason.TOO_BIG
    assert caught.value.say == (
        "The film of “a.png” takes a file of 4.1 GiB; no job may write one of more than 4 GiB."
    )


def test_the_rate_is_that_of_a_film_that_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a second of the processor for 33.6 megapixels, which are 0.4 of a whole job."""
    clock, written = iter([1.0, 1.5]), []
    write = job_limits.write_films

    def note(*given: Any, **named: Any) -> None:
        write(*given, **named)
        written.extend(path.stat().st_size for path in given[1].values())

    monkeypatch.setattr(job_limits, "write_films", note)
    monkeypatch.setattr(job_limits.time, "process_time", lambda: next(clock))
    assert pixels_a_second.__wrapped__() == pytest.approx(8192 * 4096 * 0.4 / 0.5)
    assert written and written[0] > 1000
