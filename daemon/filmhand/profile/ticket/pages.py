"""Which pages of a document a ticket, or the name of the art, asks for."""

from __future__ import annotations

import re
from dataclasses import dataclass

from filmhand.errors import Quantity, Reason, Refused

MOST_PAGE = 10_000
_ALLOWED = (
    f"pages from 1 to {MOST_PAGE:,}, as in 3, 2-5 or 2-5, 8, each of them once and in their order"
)
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
            has = "1 page" if count == 1 else f"{count} pages"
            raise Refused(
                Reason.BAD_TICKET,
                f"Page {last} of “{name}” was asked for, and it has {has}.",
                f"Ask for pages up to {count}, or leave pages out for all of them.",
                found=Quantity(count, "pages"),
                needed=Quantity(last, "pages"),
            )
        return [page - 1 for first, stop in self.runs for page in range(first, stop + 1)]


def read_pages(value: object) -> PageChoice:
    """A page, a run, or several of both with commas between them.

    >>> str(read_pages("2-5, 8")), str(read_pages(3))
    ('2-5, 8', '3')
    """
    if isinstance(value, bool) or not isinstance(value, int | str | list):
        raise ValueError(_ALLOWED)
    given = value if isinstance(value, list) else str(value).split(",")
    runs: list[tuple[int, int]] = []
    for one in given:
        found = _PART.fullmatch(str(one).strip()) if isinstance(one, int | str) else None
        if not found:
            raise ValueError(_ALLOWED)
        first, last = int(found[1]), int(found[2] or found[1])
        after = runs[-1][1] if runs else 0
        if not after < first <= last <= MOST_PAGE:
            raise ValueError(_ALLOWED)
        runs.append((first, last))
    if not runs:
        raise ValueError(_ALLOWED)
    return PageChoice(tuple(runs))
