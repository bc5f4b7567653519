"""Figures for a monitoring system, as a text file that its collector reads.

The format is the Prometheus text exposition format, version 0.0.4
(prometheus.io/docs/instrumenting/exposition_formats): one HELP and one TYPE line a family, labels
in double quotes with backslash, quote and line feed escaped, a line feed at the end. The file is
written under another name in the same folder and renamed, so that no half is ever read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from filmhand.disk import atomic
from filmhand.disk.disk_errors import plain_error
from filmhand.queue.job_queue import JobQueue
from filmhand.service.service_words import MetricsWord
from filmhand.values import dataclass

WRITTEN_EVERY = 5.0  # seconds


@dataclass(frozen=True, slots=True)
class ProfileFigures:
    """What is counted of one profile since the service started."""

    name: str
    waiting: int
    working: int
    made: int
    refused: int
    seconds: float
    strikes: int
    reachable: bool
    paused: bool
    oldest_waiting: float
    free_bytes: int | None


_Row = tuple[str, str, MetricsWord, Callable[[ProfileFigures], Sequence[tuple[str, float]]]]


def _one(
    value: Callable[[ProfileFigures], float],
) -> Callable[[ProfileFigures], list[tuple[str, float]]]:
    return lambda figures: [("", value(figures))]


_FAMILIES: tuple[_Row, ...] = (
    ("filmhand_waiting", "gauge", MetricsWord.WAITING, _one(lambda f: f.waiting)),
    ("filmhand_working", "gauge", MetricsWord.WORKING, _one(lambda f: f.working)),
    (
        "filmhand_jobs_total",
        "counter",
        MetricsWord.JOBS,
        lambda f: [('result="made"', f.made), ('result="refused"', f.refused)],
    ),
    ("filmhand_worker_strikes_total", "counter", MetricsWord.STRIKES, _one(lambda f: f.strikes)),
    ("filmhand_reachable", "gauge", MetricsWord.REACHABLE, _one(lambda f: f.reachable)),
    ("filmhand_paused", "gauge", MetricsWord.PAUSED, _one(lambda f: f.paused)),
    (
        "filmhand_oldest_waiting_seconds",
        "gauge",
        MetricsWord.OLDEST,
        _one(lambda f: f.oldest_waiting),
    ),
    (
        "filmhand_free_bytes",
        "gauge",
        MetricsWord.FREE,
        lambda f: [] if f.free_bytes is None else [("", f.free_bytes)],
    ),
)


def metrics_text(
    profiles: Sequence[ProfileFigures],
    *,
    printers: Sequence[Mapping[str, Any]] = (),
    reload_failed: bool,
) -> str:
    """The whole file; every value is of the time when it was written.

    `printers` are as `filmhand status --json` tells of them.
    """
    lines = []
    for family, kind, about, values in _FAMILIES:
        lines += [f"# HELP {family} {about.say()}", f"# TYPE {family} {kind}"]
        lines += [
            f"{family}{{{_labels(figures.name, more)}}} {_number(value)}"
            for figures in profiles
            for more, value in values(figures)
        ]
    lines += _seconds(profiles)
    lines += _printers(printers)
    lines += [
        f"# HELP filmhand_reload_failed {MetricsWord.RELOAD_FAILED.say()}",
        "# TYPE filmhand_reload_failed gauge",
        f"filmhand_reload_failed {int(reload_failed)}",
    ]
    return "\n".join(lines) + "\n"


def _seconds(profiles: Iterable[ProfileFigures]) -> list[str]:
    lines = [
        f"# HELP filmhand_job_seconds {MetricsWord.SECONDS.say()}",
        "# TYPE filmhand_job_seconds summary",
    ]
    for figures in profiles:
        labels = _labels(figures.name, "")
        lines.append(f"filmhand_job_seconds_sum{{{labels}}} {_number(figures.seconds)}")
        lines.append(f"filmhand_job_seconds_count{{{labels}}} {figures.made + figures.refused}")
    return lines


_OF_PRINTERS: tuple[tuple[str, MetricsWord, Callable[[Mapping[str, Any]], float]], ...] = (
    ("filmhand_print_waiting", MetricsWord.TO_PRINT, lambda one: one["waiting"]),
    ("filmhand_print_doubtful", MetricsWord.DOUBTFUL, lambda one: one["doubtful_count"]),
    (
        "filmhand_print_blocked",
        MetricsWord.BLOCKED,
        lambda one: one["state"] == "waits" and bool(one["why"]),
    ),
)


def _printers(printers: Sequence[Mapping[str, Any]]) -> list[str]:
    lines = []
    for family, about, value in _OF_PRINTERS if printers else ():
        lines += [f"# HELP {family} {about.say()}", f"# TYPE {family} gauge"]
        lines += [
            f'{family}{{printer="{_escaped(one["printer"])}"}} {_number(value(one))}'
            for one in printers
        ]
    return lines


def _labels(profile: str, more: str) -> str:
    return ",".join(filter(None, (f'profile="{_escaped(profile)}"', more)))


def _escaped(value: str) -> str:
    return value.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else f"{value:.6g}"


def figures_of(queue: JobQueue) -> ProfileFigures:
    """The figures of a queue as they are now."""
    told, counts = queue.status(), queue.context.counts
    return ProfileFigures(
        name=queue.name,
        waiting=told["waiting_count"],
        working=len(told["working"]),
        made=counts.made,
        refused=counts.refused,
        seconds=counts.seconds,
        strikes=counts.strikes,
        reachable=not queue.trouble.hanging
        and not (queue.trouble.pause.why and queue.trouble.pause.looking),
        paused=bool(told["paused"]),
        oldest_waiting=queue.oldest_waiting(),
        free_bytes=queue.housekeeping.free_bytes,
    )


class MetricsFile:
    """Writes the file every few seconds; trouble is said once and never stops the service."""

    def __init__(self, path: Path, clock: Callable[[], float], say: Callable[..., None]) -> None:
        self._path = path
        self._clock = clock
        self._say = say
        self._at = float("-inf")
        self._failed = False

    def write(self, text: Callable[[], str], *, at_once: bool = False) -> None:
        """Write it if it is time."""
        now = self._clock()
        if now - self._at < WRITTEN_EVERY and not at_once:
            return
        self._at = now
        try:
            atomic.write_atomic(self._path, text().encode(), durable=False)
            self._failed = False
        except OSError as error:
            if not self._failed:
                self._say("metrics not written", file=str(self._path), why=plain_error(error))
            self._failed = True
