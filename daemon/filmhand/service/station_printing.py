"""The printers of a station, as its queues name them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from functools import partial

from filmhand.printer.print_request import OpenPrinter
from filmhand.prints.print_desk import PrintDesk
from filmhand.prints.printer_status import left_for
from filmhand.prints.profile_orders import PrintingProfile
from filmhand.queue.job_queue import JobQueue


class StationPrinting(PrintDesk):
    """The printers that the profiles of the queues name; `open_printer` talks with one."""

    def __init__(
        self,
        open_printer: OpenPrinter,
        say: Callable[..., None],
        *,
        changed: Callable[[], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(say, changed=changed, clock=clock)
        self._open_printer = open_printer
        self._arranged: list[PrintingProfile] = []

    def arrange_for(self, queues: Iterable[JobQueue]) -> None:
        """Let the printers know which profiles name them now; costs nothing if it is as before."""
        profiles = [
            PrintingProfile(
                queue.name,
                queue.context,
                queue.settings.printing,
                self._open_printer,
                partial(_hangs, queue),
                queue.settings.in_inches,
                queue.settings.language,
            )
            for queue in queues
            if queue.settings.printing is not None
        ]
        if profiles != self._arranged:
            self._arranged = profiles
            self.arrange(profiles)

    def unprinted(self) -> list[str]:
        """A sentence on each printer for which films are left."""
        return [say for say in map(left_for, self.status()) if say]


def _hangs(queue: JobQueue) -> bool:
    return bool(queue.trouble.hanging)
