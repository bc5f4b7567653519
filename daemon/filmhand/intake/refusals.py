"""The refusals that need no look inside the art: empty, cut off, too many bytes, alone."""

from __future__ import annotations

import os

from filmhand.disk import file_names
from filmhand.errors import Quantity, Refused, has_too_many_megabytes
from filmhand.intake.intake_words import IntakeRefusal, IntakeWord
from filmhand.intake.scan import Bundle
from filmhand.intake.settle import SettleLook, SettleState


def of_look(look: SettleLook, found: os.stat_result, max_bytes: int) -> Refused | None:
    """The refusal of a file that has come to rest; None if it goes on to be made."""
    if look.rest is SettleState.EMPTY:
        return IntakeRefusal.EMPTY.refused(
            found=Quantity(0, "bytes"), needed=Quantity(IntakeWord.SOMETHING.say(), "bytes")
        )
    if look.rest is SettleState.CUT_OFF:
        return IntakeRefusal.BROKE_OFF.refused(why=look.why.rstrip("."))
    if found.st_size > max_bytes:
        what = IntakeWord.THE_FILE.say()
        return has_too_many_megabytes(what, found.st_size / 1e6, max_bytes / 1e6)
    return None


def unreadable(name: str, why: str) -> Refused:
    """The refusal of a bundle of which a file could not be read for a day; `why` says whose."""
    return IntakeRefusal.UNREADABLE.refused(name=file_names.shown(name), why=why)


def misnamed(art: str, companion: str) -> Refused:
    """The refusal of art beside a ticket or mask that was meant for it and would not be read."""
    belongs = file_names.companion_of(companion)
    assert belongs is not None
    kind, name = belongs[1], file_names.shown(companion)
    right = file_names.companion_name(file_names.shown(art), kind)
    is_ticket = kind == "ticket"
    row = IntakeRefusal.MISNAMED_TICKET if is_ticket else IntakeRefusal.MISNAMED_MASK
    return row.refused(
        found=Quantity(name, "file"), needed=Quantity(right, "file"), name=name, right=right
    )


def alone(bundle: Bundle) -> Refused:
    """The refusal of a ticket or mask whose art did not come."""
    is_ticket = bundle.alone == "ticket"
    row = IntakeRefusal.TICKET_ALONE if is_ticket else IntakeRefusal.MASK_ALONE
    end = file_names.TICKET_END if is_ticket else file_names.MASK_END
    belongs = file_names.companion_of(bundle.art.name)
    assert belongs is not None
    art = file_names.shown(belongs[0])
    return row.refused(
        found=Quantity(IntakeWord.NO_ART.say(), "file"),
        needed=Quantity(art, "file"),
        art=art,
        example=f"poster.jpg{end}",
    )
