"""Which pages of a document a ticket, or the name of the art, asks for."""

from __future__ import annotations

import re

from filmhand.errors import Quantity
from filmhand.profile.ticket.ticket_words import TicketAllowed, TicketCount, TicketRefusal
from filmhand.values import dataclass

MOST_PAGE = 10_000
PAGES = r"\d{1,5}(?: ?[-\u2013] ?\d{1,5})?"
_PART = re.compile(r"(\d{1,5})(?: ?[-\u2013] ?(\d{1,5}))?")


@dataclass(frozen=True, slots=True)
class PageChoice:
    """Runs of pages, first and last from 1 on, in their order."""

    runs: tuple[tuple[int, int], ...]

    def __str__(self) -> str:
        return ", ".join(f"{a}" if a == b else f"{a}-{b}" for a, b in self.runs)

    def of(self, count: int, *, name: str) -> list[int]:
        """The pages, from 0, of a document that has so many.

        Raises
        ------
        Refused
            ``bad-ticket`` where it has fewer.
        """
        last = self.runs[-1][1]
        if last > count:
            raise TicketRefusal.FEWER_PAGES.refused(
                found=Quantity(count, "pages"),
                needed=Quantity(last, "pages"),
                name=name,
                last=last,
                count=count,
                pages=TicketCount.PAGES.say(count),
            )
        return [page - 1 for first, stop in self.runs for page in range(first, stop + 1)]


def read_pages(value: object) -> PageChoice:
    """A page, a run, or several of both with commas between them.

    >>> str(read_pages("2-5, 8")), str(read_pages(3))
    ('2-5, 8', '3')
    """
    allowed = TicketAllowed.PAGES.say(most=f"{MOST_PAGE:,}")
    if isinstance(value, bool) or not isinstance(value, int | str | list):
        raise ValueError(allowed)
    given = value if isinstance(value, list) else str(value).split(",")
    runs: list[tuple[int, int]] = []
    for one in given:
        found = _PART.fullmatch(str(one).strip()) if isinstance(one, int | str) else None
        if not found:
            raise ValueError(allowed)
        first, last = int(found[1]), int(found[2] or found[1])
        after = runs[-1][1] if runs else 0
        if not after < first <= last <= MOST_PAGE:
            raise ValueError(allowed)
        runs.append((first, last))
    if not runs:
        raise ValueError(allowed)
    return PageChoice(tuple(runs))
