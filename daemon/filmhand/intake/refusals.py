"""The refusals that need no look inside the art: empty, cut off, too many bytes, alone."""

from __future__ import annotations

import os

from filmhand.disk import file_names
from filmhand.errors import Quantity, Reason, Refused, has_too_many_megabytes
from filmhand.intake.scan import Bundle
from filmhand.intake.settle import SettleLook, SettleState


def of_look(look: SettleLook, found: os.stat_result, max_bytes: int) -> Refused | None:
    """The refusal of a file that has come to rest; None if it goes on to be made."""
    if look.rest is SettleState.EMPTY:
        return Refused(
            Reason.DAMAGED,
            "The file is empty: its name arrived, but nothing in it.",
            "Copy it here again; if it is empty where it came from, save it anew there.",
            found=Quantity(0, "bytes"),
            needed=Quantity("at least 1", "bytes"),
        )
    if look.rest is SettleState.CUT_OFF:
        return Refused(
            Reason.DAMAGED,
            f"The file broke off on its way: {look.why.rstrip('.')}.",
            "Copy it here again and wait until the copy is finished; if that does not help, save "
            "it anew from the program that made it.",
        )
    if found.st_size > max_bytes:
        return has_too_many_megabytes("The file", found.st_size / 1e6, max_bytes / 1e6)
    return None


def unreadable(name: str, why: str) -> Refused:
    """The refusal of a bundle of which a file could not be read for a day; `why` says whose."""
    return Refused(
        Reason.UNREADABLE,
        f"{file_names.shown(name)} could not be read for a day: {why}.",
        "Make it readable for filmhand's user, or copy it anew from where it came from, and drop "
        "that.",
    )


def misnamed(art: str, companion: str) -> Refused:
    """The refusal of art beside a ticket or mask that was meant for it and would not be read."""
    belongs = file_names.companion_of(companion)
    assert belongs is not None
    kind = belongs[1]
    right = file_names.companion_name(file_names.shown(art), kind)
    return Refused(
        Reason.BAD_TICKET,
        f"Beside this art lies {file_names.shown(companion)}, and a {kind} takes the "
        "art's whole name, ending included.",
        f"Name it {right}, or move it away, and drop the art again.",
        found=Quantity(file_names.shown(companion), "file"),
        needed=Quantity(right, "file"),
    )


def alone(bundle: Bundle) -> Refused:
    """The refusal of a ticket or mask whose art did not come."""
    end = file_names.TICKET_END if bundle.alone == "ticket" else file_names.MASK_END
    belongs = file_names.companion_of(bundle.art.name)
    assert belongs is not None
    art = file_names.shown(belongs[0])
    return Refused(
        Reason.BAD_TICKET,
        f"This {bundle.alone} belongs to art named {art}, which did not come within ten minutes.",
        f"Drop {art} and this {bundle.alone} together. It takes the art's whole name, ending "
        f"included: for art named poster.jpg it must be named poster.jpg{end}.",
        found=Quantity("no art", "file"),
        needed=Quantity(art, "file"),
    )
