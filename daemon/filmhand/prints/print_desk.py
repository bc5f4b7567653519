"""All printers of a station: one queue with a thread of its own for each address."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import Any

from filmhand.prints.printer_queue import PrinterQueue
from filmhand.prints.profile_orders import PrintingProfile


class PrintDesk:
    """The printers that the profiles name, as they are now.

    Parameters
    ----------
    say : takes events for the log
    changed : called when a film has been printed, or will not be
    """

    def __init__(
        self,
        say: Callable[..., None],
        *,
        changed: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.ended = 0  # films that have been printed since the start, or will not be
        self._say = say
        self._tell = changed
        self._clock = clock
        self._printers: dict[str, PrinterQueue] = {}

    def arrange(self, profiles: Iterable[PrintingProfile]) -> None:
        """From here these profiles print; one that names no printer does not."""
        wanted: dict[str, list[PrintingProfile]] = {}
        for profile in profiles:
            if profile.wishes.printer is not None:
                wanted.setdefault(profile.wishes.printer, []).append(profile)
        for printer in [printer for printer in self._printers if printer not in wanted]:
            self._printers.pop(printer).stop(for_good=True)
        for printer, its_own in wanted.items():
            queue = self._printers.get(printer)
            if queue is None:
                queue = PrinterQueue(printer, self._say, changed=self._changed, clock=self._clock)
                queue.arrange(its_own)
                queue.start()
                self._printers[printer] = queue
            else:
                queue.arrange(its_own)

    def _changed(self) -> None:
        self.ended += 1  # several threads may count as one here: it tells only that there was one
        self._tell()

    def wake(self) -> None:
        """A film may have been published."""
        for queue in self._printers.values():
            queue.wake()

    def settled(self) -> bool:
        """True if all has been printed that can be for now."""
        return all(queue.settled() for queue in self._printers.values())

    def status(self) -> list[dict[str, Any]]:
        """What `filmhand status` tells of the printers."""
        return [queue.status() for queue in self._printers.values()]

    def stop(self) -> None:
        """Begin with nothing more; does not wait."""
        for queue in self._printers.values():
            queue.stop()

    def join(self, seconds: float) -> None:
        """Wait for the threads, but no longer than that."""
        until = self._clock() + seconds
        for queue in self._printers.values():
            queue.join(max(0.0, until - self._clock()))
