"""Whether art waits for company, and how much of it one sheet takes."""

from __future__ import annotations

from collections.abc import Mapping

from filmhand.digest import Readable
from filmhand.profile.read.document import Plain, load_document
from filmhand.profile.read.read_words import FileKind
from filmhand.profile.ticket.ticket_words import AloneWord, TicketAllowed
from filmhand.units import read_length_mm, read_seconds
from filmhand.values import dataclass

MOST_IN_GANG = 50
"""Art that one sheet takes at most; packing and reading take longer with each."""
_WAIT = (1.0, 7 * 86400.0)
_GAP_MM = (0.0, 100.0)
_KEYS = ("wait", "gap", "most")


@dataclass(frozen=True, slots=True)
class GangWishes:
    """Several art files on one sheet.

    Attributes
    ----------
    wait : seconds that the first one waits for company
    gap_mm : left free between one art with its label and the next
    most : art files on one sheet
    """

    wait: float
    gap_mm: float = 5.0
    most: int = 20


def read_gang(value: object) -> GangWishes | None:
    """``off`` (None), a time, or a time with gap and number.

    >>> read_gang("off") is None, read_gang("10 min")
    (True, GangWishes(wait=600.0, gap_mm=5.0, most=20))
    """
    if value == "off" or value is False:
        return None
    given = value if isinstance(value, dict) else {"wait": value}
    try:
        if "wait" not in given or not set(given) <= set(_KEYS):
            raise ValueError
        gang = GangWishes(
            read_seconds(given["wait"]),
            read_length_mm(given.get("gap", "5 mm")),
            _count(given.get("most", 20)),
        )
    except ValueError:
        raise ValueError(TicketAllowed.GANG.say(most=MOST_IN_GANG)) from None
    if not (_WAIT[0] <= gang.wait <= _WAIT[1] and _GAP_MM[0] <= gang.gap_mm <= _GAP_MM[1]):
        raise ValueError(TicketAllowed.GANG.say(most=MOST_IN_GANG))
    return gang


def _count(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 2 <= value <= MOST_IN_GANG:
        return value
    raise ValueError


def goes_alone(wishes: Mapping[str, Plain]) -> str:
    """Why a job with these wishes of a ticket shares no sheet; empty if it may.

    >>> goes_alone({"gang": False}), goes_alone({"lpi": 35, "for": "class 4"})
    ('its ticket says gang: false', '')
    """
    art = wishes.get("art")
    art = art if isinstance(art, dict) else {}
    reasons = {
        AloneWord.GANG_FALSE: wishes.get("gang") in (False, "off", "no"),
        AloneWord.FILM: "film" in wishes,
        AloneWord.MARKS: "marks" in wishes,
        AloneWord.COPIES: wishes.get("copies", 1) != 1,
        AloneWord.TRIAL: wishes.get("trial") not in (None, False, "off", "no"),
        AloneWord.PATCH: wishes.get("patch") is not None,
        AloneWord.FILLS: art.get("fit") == "page",
        AloneWord.INKS: wishes.get("inks", "off") not in (False, "off", "no"),
        AloneWord.REPEATS: art.get("repeat", "off") != "off",
    }
    return next((reason.say() for reason, holds in reasons.items() if holds), "")


def waits_for_gang(ticket: Readable) -> bool:
    """Whether art with this ticket waits for others; a ticket that is wrong is told of at once.

    OSError where the file cannot be read.
    """
    document = load_document(ticket, kind=FileKind.TICKET)
    return document.whole and not document.faults and not goes_alone(document.data)
