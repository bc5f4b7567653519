"""Where on a film something is, as it is told: from the corner that the reader sees."""

from __future__ import annotations

from collections.abc import Sequence

from filmhand.language import and_list
from filmhand.pipeline.verdict.verdict_words import VerdictWord
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Box, Layout, in_millimeters
from filmhand.units import size_text


def proof_turn(profile: Profile, layout: Layout) -> int:
    """By how much the film's picture is turned, counter-clockwise, for its art to stand upright."""
    if not layout.turned:
        return 0
    # A mirror that swaps left and right leaves what leaned to the left leaning to the right.
    return 90 if profile.film.mirror else 270


def places_told(boxes: Sequence[Box], profile: Profile, *, shown: Layout | None = None) -> str:
    """The top left corners of boxes of the film.

    ``shown`` is the layout of a film whose proof is meant, which may be turned; of one that goes
    over several films no proof shows the whole.
    """
    turn = 0 if shown is None or shown.films else proof_turn(profile, shown)
    if shown is None or not turn:
        corners = [in_millimeters((box.left, box.top), profile.acetate_dpi) for box in boxes]
        said = VerdictWord.FROM_SHEET
    else:
        corners = [_as_shown(box, shown.sheet, profile, turn) for box in boxes]
        said = VerdictWord.FROM_SHOWN
    return said.say(places=and_list([size_text(one, profile.sheet) for one in corners]))


def _as_shown(box: Box, sheet: Box, profile: Profile, turn: int) -> tuple[float, float]:
    """The box's corner nearest the top left of the sheet after it was turned, in millimeters."""
    dpi = profile.acetate_dpi
    left, top = in_millimeters((box.left, box.top), dpi)
    from_right, from_foot = in_millimeters(
        (sheet.right - box.right, sheet.bottom - box.bottom), dpi
    )
    return (top, from_right) if turn == 90 else (from_foot, left)
