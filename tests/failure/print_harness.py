"""A pretended printer that outlives whoever talks with it, and a queue that prints to it.

The printer is a folder: each job a JSON file, and a line in `sheets` for each sheet that it laid
down. Run as a script it makes films of what lies in a profile's folder and prints them:
``print_harness.py ROOT STATE HOST PRINTER``.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

import job_harness

from filmhand.printer.capabilities import Capabilities, MediaEntry
from filmhand.printer.print_request import (
    PDF,
    PWG,
    JobState,
    JobStatus,
    OpenPrinter,
    PrintJobRequest,
)
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.prints import printer_queue
from filmhand.prints.printer_queue import PrinterQueue
from filmhand.prints.profile_orders import PrintingProfile
from filmhand.profile.printing import PrintWishes
from filmhand.queue.job_queue import JobQueue
from filmhand.units import Resolution

ADDRESS = "ipp://film-printer.local/ipp/print"


CAN = Capabilities(
    "film printer",
    formats=(PWG, PDF),
    scalings=("none",),
    color_modes=("bi-level",),
    copies=(1, 99),
    raster_resolutions=(Resolution(300, 300),),
    raster_types=("black_1",),
    media_members=frozenset({"media-size"}),
)


def sheet_entry(width: int, height: int) -> MediaEntry:
    return MediaEntry((width, width), (height, height), margins=(423, 423, 423, 423))


class FolderPrinter:
    """A printer whose memory is a folder; the file `mood` there says how it is.

    A word of the mood: `off`, `busy`, `other-sheet`, `jam`, `panel` (cancels what it gets),
    `aborts`, `whole` (takes only whole jobs), `slow` (prints only when asked twice), `shy` (tells
    of no documents), `starved` (runs out of film in the middle of a document).
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "jobs").mkdir(parents=True, exist_ok=True)
        self.asked: Counter[str] = Counter()

    # --- what a test says and sees -----------------------------------------------------------

    @property
    def mood(self) -> str:
        path = self.folder / "mood"
        return path.read_text() if path.exists() else ""

    @mood.setter
    def mood(self, word: str) -> None:
        (self.folder / "mood").write_text(word)

    def sheets(self) -> list[str]:
        """The documents that were printed, in order, one a sheet."""
        path = self.folder / "sheets"
        return path.read_text().splitlines() if path.exists() else []

    def jobs(self) -> dict[int, dict[str, Any]]:
        return {
            int(path.stem): json.loads(path.read_text())
            for path in sorted((self.folder / "jobs").iterdir())
        }

    def forget(self) -> None:
        """As after a restart: it knows no job any more."""
        for path in (self.folder / "jobs").iterdir():
            path.rename(self.folder / f"forgotten-{path.name}")

    def turn(self) -> None:
        """What the printer does by itself: it prints what it has, as its mood lets it."""
        for number, job in self.jobs().items():
            if JobState(job["state"]).ended:
                continue
            word = self.mood
            if job["document"] is None:
                self._wait_for(number, job)
                continue
            if word == "jam":
                self._set(number, state=JobState.STOPPED, why="paper jam")
            elif word == "panel":
                self._set(number, state=JobState.CANCELED)
            elif word == "aborts":
                self._set(number, state=JobState.ABORTED, why="out of memory")
            elif word == "slow" and job["state"] == JobState.PENDING:
                self._set(number, state=JobState.PROCESSING)
            else:
                with (self.folder / "sheets").open("a") as sheets:
                    sheets.write((job["document"] + "\n") * job["sheets"])
                self._set(number, state=JobState.COMPLETED)

    def _wait_for(self, number: int, job: dict[str, Any]) -> None:
        """A shy printer gives up a job whose document does not come."""
        if self.mood == "shy":
            waited = job.get("waited", 0) + 1
            end = {"state": JobState.ABORTED} if waited > 8 else {}
            self._set(number, waited=waited, **end)

    # --- what filmhand asks ------------------------------------------------------------------

    def _reached(self, what: str) -> None:
        self.asked[what] += 1
        self.turn()
        if self.mood == "off":
            raise PrinterTrouble(
                "The printer does not answer.", TroubleKind.AWAY, nothing_sent=True
            )

    def capabilities(self) -> Capabilities:
        self._reached("capabilities")
        letter, a4 = sheet_entry(21590, 27940), sheet_entry(21000, 29700)
        other = self.mood == "other-sheet"
        return replace(CAN, media=(letter, a4), ready=(a4,) if other else (letter, a4))

    def find(self, name: str) -> list[JobStatus]:
        self._reached("find")
        return [self._status(n) for n, job in self.jobs().items() if job["name"] == name]

    def create(self, job: PrintJobRequest) -> int | None:
        self._reached("create")
        if self.mood == "busy":
            raise PrinterTrouble("The printer is busy.", TroubleKind.BUSY, nothing_sent=True)
        return None if self.mood == "whole" else self._made(job)

    def _made(self, job: PrintJobRequest) -> int:
        number = 1 + max([0, *self.jobs()])
        made = {"name": job.name, "sheets": job.copies, "document": None, "why": ""}
        self._write(number, made | {"state": JobState.PENDING})
        return number

    def send(
        self,
        number: int | None,
        job: PrintJobRequest,
        document: BinaryIO,
        size: int,
        seen: Callable[[JobStatus], None] = lambda status: None,
    ) -> int:
        self._reached("send")
        if self.mood == "starved":
            seen(JobStatus(number or 0, job.name, JobState.STOPPED, False, "a tray is empty"))
        number = self._made(job) if number is None else number
        known = self.jobs().get(number)
        if known is None:
            raise PrinterTrouble("It has no such job.", TroubleKind.REFUSED, nothing_sent=True)
        if known["document"] is not None or JobState(known["state"]).ended:
            raise PrinterTrouble("The printer takes no second document.", TroubleKind.REFUSED)
        data = document.read()
        assert len(data) == size
        self._set(number, document=data.decode())
        return number

    def job(self, number: int) -> JobStatus | None:
        self._reached("job")
        return self._status(number) if number in self.jobs() else None

    def cancel(self, number: int) -> None:
        self._reached("cancel")
        if number in self.jobs() and not JobState(self.jobs()[number]["state"]).ended:
            self._set(number, state=JobState.CANCELED)

    def _status(self, number: int) -> JobStatus:
        job = self.jobs()[number]
        empty = job["document"] is None and self.mood != "shy"
        return JobStatus(number, job["name"], JobState(job["state"]), empty, job["why"])

    def _set(self, number: int, **facts: Any) -> None:
        self._write(number, self.jobs()[number] | {"why": ""} | facts)

    def _write(self, number: int, job: dict[str, Any]) -> None:
        fresh = self.folder / "fresh"
        fresh.write_text(json.dumps(job))
        fresh.rename(self.folder / "jobs" / f"{number:05}.json")


def printer_from(environment: Mapping[str, str]) -> dict[str, OpenPrinter]:
    """Who talks with the printer whose folder PRINTER names; nothing without one."""
    printer_queue.FOLLOWED_EVERY = printer_queue.AT_REST = 0.1
    if "PRINTER" not in environment:
        return {}
    printer = FolderPrinter(Path(environment["PRINTER"]))
    return {"open_printer": lambda address, certificate: printer}


def printing(queue: JobQueue, printer: FolderPrinter, **options: Any) -> PrinterQueue:
    """The printer's queue for one profile; its thread is not started."""
    wishes = PrintWishes(printer=ADDRESS)
    queue.change(replace(queue.settings, printing=wishes))
    profile = PrintingProfile("small", queue.context, wishes, lambda address, certificate: printer)
    made = PrinterQueue(ADDRESS, queue.context.say, **options)
    made.arrange([profile])
    return made


def print_all(made: PrinterQueue, *, seconds: float = 20.0) -> None:
    """Until nothing can be printed any more by itself."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        made._wake.clear()
        made.step()
        if made.settled():
            return
    raise AssertionError(made.status())


def events(root: Path) -> list[dict[str, Any]]:
    """The lines of all logs of prints, each whole."""
    logs = sorted((root / "records").glob("prints*.jsonl"))
    return [json.loads(line) for log in logs for line in log.read_bytes().splitlines()]


def orders(root: Path) -> list[Path]:
    """The folders of all orders, of whichever host."""
    return sorted(path.parent for path in (root / ".filmhand").glob("*/prints/*/order.json"))


if __name__ == "__main__":
    job_harness.forbid_removing(Path(sys.argv[1]))
    printer_queue.FOLLOWED_EVERY = 0.0
    one = job_harness.make_queue(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
    device = FolderPrinter(Path(sys.argv[4]))
    job_harness.work_through(one)
    print_all(printing(one, device))
    os._exit(0)
