"""Refusals of the mesh and of the resolution: what was measured, what it takes, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import ceil, floor, sqrt

from filmhand.errors import Quantity, Reason, Refused
from filmhand.language import or_list
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.figures import rounded_apart
from filmhand.pipeline.verdict.verdict_words import FilmRefusal, OfferWord, VerdictWord
from filmhand.pipeline.verdict.ways_to_ask import name_asking, setting_text
from filmhand.profile.model import COARSEST_LPI, Profile
from filmhand.profile.terms import Automatic
from filmhand.profile.ticket.ticket import Ticket
from filmhand.request import JobRequest
from filmhand.sheet.layout import Layout, turn_size
from filmhand.units import MM_PER_INCH, plain_length, size_text
from filmhand.values import dataclass

_UM_PER_POINT = 1000 * MM_PER_INCH / 72
# Of a size or a ruling: what is smaller than half as wished helps nobody (ours, no source).
_LEAST_SHARE = 0.5
SMALLEST_OFFERED_MM = 25.0
"""Longer side of the smallest art that is offered as a remedy: hardly anybody prints smaller
(common practice, no source)."""


class CheckFailed(Refused):
    """A check says that no film can be made by this profile.

    Attributes
    ----------
    check : the check that failed
    layout : how the art would have lain on the sheet
    """

    def __init__(self, check: Check, layout: Layout, refusal: Refused) -> None:
        super().__init__(
            refusal.reason, refusal.say, refusal.do, found=refusal.found, needed=refusal.needed
        )
        self.check = check
        self.layout = layout

    def with_offers(self, offers: Sequence[str]) -> Refused:
        """The refusal with what was tried and passes, in place of what might help."""
        do = self.do
        if offers:
            *others, last = offers
            if others:
                offered = OfferWord.OR.say(offers="; ".join(others), last=last)
                do = OfferWord.SEVERAL.say(offers=offered)
            else:
                do = OfferWord.ONE.say(offer=last)
            do = self._or_as_it_is(do)
        return Refused(self.reason, self.say, do, found=self.found, needed=self.needed)

    def _or_as_it_is(self, offers: str) -> str:
        """The offers, and what else can be done by those who want none of them."""
        if self.reason is Reason.TOO_SMALL:
            return OfferWord.ELSE.say(offers=offers, do=self.do)
        limit = _told_figures(self.check)[1]
        if self.check.name is CheckName.NARROWEST_STROKE:
            return OfferWord.OR_WIDER_STROKES.say(offers=offers, limit=_width(limit))
        if self.check.name is CheckName.NARROWEST_GAP:
            return OfferWord.OR_WIDER_GAPS.say(offers=offers, limit=_width(limit))
        return offers


def refuse_on(checks: list[Check], profile: Profile, layout: Layout, *, where: str = "") -> None:
    """Raise :class:`CheckFailed` for the first check that fails, saying where that is."""
    for check in checks:
        if check.verdict is Verdict.FAIL:
            raise CheckFailed(check, layout, _refusal(check, profile, layout, where))


def _refusal(check: Check, profile: Profile, layout: Layout, where: str) -> Refused:
    unit, (measured, limit) = check.name.row.unit, _told_figures(check)
    refused = _said(check, (measured, limit), profile, layout, where)
    return replace(refused, found=Quantity(measured, unit), needed=Quantity(limit, unit))


def _told_figures(check: Check) -> tuple[float, float]:
    """What was measured and the limit, as they are told."""
    row = check.name.row
    assert check.measured is not None and check.fail_limit is not None
    if row.digits is None:
        measured, limit = map(float, row.told(check.measured, check.fail_limit))
        return measured, limit
    found, wanted = rounded_apart(check.measured, [check.fail_limit])
    assert found is not None and wanted is not None
    return found, wanted


def _width(um: float) -> str:
    """A width on the film; whoever draws counts in points."""
    return VerdictWord.WIDTH.say(micrometers=f"{um:.9g}", points=f"{um / _UM_PER_POINT:.2f}")


def _said(
    check: Check, figures: tuple[float, float], profile: Profile, layout: Layout, where: str
) -> Refused:
    """The refusal in words; ``figures`` are what was measured and the limit, as they are told."""
    measured, limit = (f"{figure:.9g}" for figure in figures)
    if check.name is CheckName.ART_RESOLUTION:
        return _too_few_pixels(check, (measured, limit), profile, layout)
    if check.name is CheckName.MOIRE_BETWEEN_FILMS:
        row = FilmRefusal.MOIRE_BETWEEN_FILMS
        return row.refused(bands=check.detail, measured=measured, limit=limit)
    assert profile.mesh is not None
    mesh, left_out = profile.mesh.label, profile.tone.hold == "auto"
    match check.name:
        case CheckName.MOIRE:
            return FilmRefusal.MOIRE.refused(
                mesh=mesh, bands=check.detail, measured=measured, limit=limit
            )
        case CheckName.SMALLEST_DOT:
            row = FilmRefusal.DOTS if left_out else FilmRefusal.DOTS_OF_ALL_SIZES
        case CheckName.SMALLEST_SHADOW_DOT:
            row = FilmRefusal.SHADOW_DOTS if left_out else FilmRefusal.SHADOW_DOTS_OF_ALL_SIZES
        case CheckName.NARROWEST_STROKE:
            row = FilmRefusal.STROKES
        case CheckName.NARROWEST_GAP:
            row = FilmRefusal.GAPS
        case _:
            raise ValueError(f"the check {check.name} refuses nothing")
    if row in {FilmRefusal.STROKES, FilmRefusal.GAPS}:
        measured, limit = map(_width, figures)
    return row.refused(mesh=mesh, where=where, measured=measured, limit=limit)


def _too_few_pixels(
    check: Check, figures: tuple[str, str], profile: Profile, layout: Layout
) -> Refused:
    # As the picture stands upright, whichever way it lies on the sheet: so people know it.
    size = turn_size(layout.art_mm, layout.turned)
    assert check.fail_limit is not None
    across, down = (round(side / MM_PER_INCH * check.fail_limit * 1.5 / 10) * 10 for side in size)
    cut = profile.art.crop is not None or profile.art.trim is Automatic.AUTO
    return (FilmRefusal.PIXELS_LEFT if cut else FilmRefusal.PIXELS).refused(
        size=size_text(size, profile.sheet),
        measured=figures[0],
        lpi=f"{profile.lpi:g}",
        limit=figures[1],
        across=across,
        down=down,
    )


def where_it_passes(
    check: Check, profile: Profile, layout: Layout, request: JobRequest, ticket: Ticket
) -> str:
    """The size or ruling from which a check passes, and how to ask for it; nothing for others.

    These follow from the figures alone; what needs the art itself is found by trying it. How art
    with a ticket is made its name may not decide, and a mask goes by its art's name.
    """
    if check.measured is None or not check.warn_limit or check.verdict is Verdict.PASS:
        return ""
    share = check.measured / check.warn_limit
    if share < _LEAST_SHARE and profile.art.fit.kind != "page":
        return ""
    passing: list[_PassesAt] = []
    wanted = ""
    if check.name is CheckName.ART_RESOLUTION:
        now = turn_size(layout.art_mm, layout.turned)
        width, height = (side * share for side in now)
        if max(width, height) < SMALLEST_OFFERED_MM:
            across, down = (ceil(side / MM_PER_INCH * check.warn_limit) for side in now)
            wanted = VerdictWord.PIXELS_WANTED.say(
                size=size_text(now, profile.sheet), across=across, down=down
            )
    if check.name is CheckName.ART_RESOLUTION and not wanted:
        size = size_text((width, height), profile.sheet, cut=floor)
        written = plain_length(width, profile.sheet, cut=floor)
        passing.append(_PassesAt(size, ("art", "fit"), f"width {written}", written))
    if check.name is CheckName.GRAY_LEVELS:
        # Levels go by the square of the ruling, but for the one that is no dot at all.
        share = sqrt((check.measured - 1) / (check.warn_limit - 1))
    # The resolution of line art goes by the device and has no ruling, nor a limit that fails.
    by_ruling = check.name in {CheckName.GRAY_LEVELS, CheckName.MESH_TO_LPI_RATIO}
    if by_ruling or ((passing or wanted) and check.fail_limit is not None):
        lpi = floor((profile.lpi or 0) * share)
        if lpi >= COARSEST_LPI:
            passing.append(_PassesAt(f"{lpi} lpi", ("lpi",), str(lpi), f"{lpi} lpi"))
    ways = _told_with_ways(passing, request, ticket) if passing else ""
    return f"{wanted} {ways}".strip()


@dataclass(frozen=True, slots=True)
class _PassesAt:
    """A size or ruling as people read it; its key, what to write there, and the wish for a name."""

    where: str
    path: tuple[str, ...]
    value: str
    wish: str


def _told_with_ways(passing: list[_PassesAt], request: JobRequest, ticket: Ticket) -> str:
    where = or_list([one.where for one in passing])
    if request.ticket is not None:
        settings = [setting_text(one.path, one.value, beside=ticket.raw) for one in passing]
        return VerdictWord.PASSES_AT_BY_TICKET.say(where=where, settings=or_list(settings))
    names = [
        None if request.mask else name_asking(request.name, one.path, one.value, one.wish)
        for one in passing
    ]
    known = [VerdictWord.QUOTED_NAME.say(name=name) for name in names if name is not None]
    if not known:
        return VerdictWord.PASSES_AT.say(where=where)
    return VerdictWord.PASSES_AT_BY_NAME.say(where=where, names=or_list(known))
