"""Which patches a trial has, what each is called, and where it lies on the sheet.

A patch's name follows from the lists alone: the number tells the value of the first setting that
varies, the letter the combination of the others. So the same ticket with one line more,
``patch: B2``, finds the same patch again without any file of the trial.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from math import ceil, floor
from typing import Any

from filmhand.errors import Quantity, Refused
from filmhand.mesh.limits import best_lpi
from filmhand.pipeline.render.screen_plan import limits_of
from filmhand.pipeline.trial.trial_words import TrialCaption, TrialNote, TrialRefusal
from filmhand.profile.model import COARSEST_LPI, Profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket.trial import SETTINGS, Trial
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.sheet.layout import Box, in_pixels
from filmhand.units import MM_PER_INCH, PixelsPerInch, finest_lpi, length_text
from filmhand.values import dataclass

_FOR_TONE = ("lpi", "dot", "angle", "contrast", "midtone")
_FOR_LINE = ("threshold", "contrast", "midtone")
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# A patch must show some dots in a row to be judged by (common practice, no source).
LEAST_MM, LEAST_CELLS = 25.0, 20
GAP_MM, CAPTION_MM = 4.0, 13.0
# Rows as people read a table are worth a somewhat smaller patch.
_WORTH_A_TABLE = 0.75

Values = tuple[tuple[str, tuple[Any, ...]], ...]


@dataclass(frozen=True, slots=True)
class Patch:
    """One patch: its name on the sheet, and the settings that it shows."""

    name: str
    settings: tuple[tuple[str, Any], ...]

    def applied(self, profile: Profile) -> Profile:
        """The profile with the patch's settings in place of its own."""
        for key, value in self.settings:
            group, *inner = map(str, SETTINGS[key])
            if inner:
                inside: Any = getattr(profile, group)
                changed = replace(inside, **{inner[0]: value})
            else:
                changed = value
            profile = replace(profile, **{group: changed})
        return profile

    def words(self) -> list[str]:
        """The settings as they stand below the patch."""
        return [
            TrialCaption[key.upper()].say(
                value=f"{value:g}" if isinstance(value, int | float) else value
            )
            for key, value in self.settings
        ]

    def record(self) -> dict[str, Any]:
        """Name and settings as the record shows them."""
        shown = {
            key: str(value) if isinstance(value, DotShape) else value
            for key, value in self.settings
        }
        return {"patch": self.name, **shown}


@dataclass(frozen=True, slots=True)
class TrialSheetPlan:
    """A trial sheet: its patches, how many lie in a row, and the largest side of one."""

    patches: tuple[Patch, ...]
    columns: int
    side_mm: float

    def cells(self, zone: Box, size: tuple[int, int], dpi: PixelsPerInch) -> list[Box]:
        """Where patches of ``size`` pixels lie with the captions below them, as read."""
        gap, caption = in_pixels(GAP_MM, dpi), in_pixels(CAPTION_MM, dpi)[1]
        # Art that is smaller than the side leaves room; its captions need a width all the same.
        across = max(size[0], min(in_pixels(LEAST_MM, dpi)[0], in_pixels(self.side_mm, dpi)[0]))
        down = size[1] + caption
        found = []
        for place in range(len(self.patches)):
            row, column = divmod(place, self.columns)
            left = zone.left + column * (across + gap[0])
            found.append(Box(left, zone.top + row * (down + gap[1]), across, down))
        return found


def sheet_of(profile: Profile, trial: Trial, treated: Treat, zone: Box) -> TrialSheetPlan:
    """The patches of a trial and their places.

    Parameters
    ----------
    profile : what holds where the trial does not vary it
    treated : how the art is treated, which decides what can be varied
    zone : where patches may lie, in device pixels

    Raises
    ------
    Refused
        ``bad-ticket`` where nothing that the trial varies matters for this art, or the sheet has
        no room for so many patches
    """
    lists = _lists(profile, trial, treated)
    while True:
        patches = tuple(_patches(lists))
        found = _arranged(profile, patches, len(lists[0][1]) if lists else 1, zone)
        if found is not None:
            return found
        if trial.values or len(lists) < 2:
            raise _no_room(profile, patches, zone)
        lists = lists[:-1]


def patch_named(name: str, sheet: TrialSheetPlan, page: int | None = None) -> Patch:
    """The patch of that name; ``page`` is counted from 1, None where the art has one page only.

    Raises
    ------
    Refused
        ``bad-ticket``, naming the patches there are
    """
    for patch in sheet.patches:
        if patch.name == name:
            return patch
    rows: dict[str, list[str]] = {}
    for patch in sheet.patches:
        rows.setdefault(patch.name[0], []).append(patch.name)
    there = ", ".join(
        r[0] if len(r) == 1 else TrialNote.FROM_TO.say(first=r[0], last=r[-1])
        for r in rows.values()
    )
    row = TrialRefusal.NO_PATCH if page is None else TrialRefusal.NO_PATCH_OF_PAGE
    raise row.refused(
        found=Quantity(name, "patch"),
        needed=Quantity(there, "patch"),
        patch=name,
        page=page,
        there=there,
    )


def _lists(profile: Profile, trial: Trial, treated: Treat) -> Values:
    """The values to combine; the first of the lists with several goes first."""
    allowed = _FOR_LINE if treated is Treat.LINE else _FOR_TONE
    values = tuple((key, some) for key, some in trial.values if key in allowed)
    if trial.values and not values:
        is_line = treated is Treat.LINE
        row = TrialRefusal.NOTHING_FOR_LINE_ART if is_line else TrialRefusal.NOTHING_FOR_TONE
        raise row.refused(
            keys=", ".join(key for key, _ in trial.values), allowed=", ".join(allowed)
        )
    if not values:
        values = _thresholds(profile) if treated is Treat.LINE else _screens(profile)
    return tuple(sorted(values, key=lambda pair: (len(pair[1]) == 1, allowed.index(pair[0]))))


def _screens(profile: Profile) -> Values:
    """Three rulings, two dots and two contrasts: the profile's own and what stands next to it."""
    assert profile.lpi is not None and profile.dot is not None
    own, highest = profile.lpi, finest_lpi(profile.acetate_dpi)
    limits = limits_of(profile)
    finest = floor(best_lpi(limits)) if limits is not None and best_lpi(limits) < highest else 0
    # What is too fine is worth seeing, too, where the profile is at the mesh's own limit already.
    finer = finest if finest > 1.1 * own else round(own * 4 / 3)
    rulings = {float(max(COARSEST_LPI, round(own * 3 / 4))), own, float(min(finer, floor(highest)))}
    other = Dot.ROUND if profile.dot.kind is not Dot.ROUND else Dot.ELLIPSE
    contrast = profile.tone.contrast
    return (
        ("lpi", tuple(sorted(rulings))),
        ("dot", (profile.dot, DotShape(other))),
        ("contrast", (contrast, round(min(5.0, 1.3 * contrast), 2))),
    )


def _thresholds(profile: Profile) -> Values:
    """The profile's own threshold, and two steps to either side."""
    assert profile.threshold is not None
    near = {min(95.0, max(5.0, profile.threshold + step)) for step in (-20, -10, 0, 10, 20)}
    return (("threshold", tuple(sorted(near))),)


def _patches(lists: Values) -> Iterator[Patch]:
    (key, across), others = lists[0], lists[1:]
    rows = list(product(*(values for _, values in others)))
    for row, chosen in enumerate(rows):
        letter = _LETTERS[row] if row < len(_LETTERS) else "?"
        for number, value in enumerate(across, start=1):
            kept = tuple(zip((name for name, _ in others), chosen, strict=True))
            yield Patch(f"{letter}{number}", ((key, value), *kept))


def _arranged(
    profile: Profile, patches: tuple[Patch, ...], across: int, zone: Box
) -> TrialSheetPlan | None:
    """The patches as a table if that is not much smaller than what else fits; None if none does."""
    count = len(patches)
    if count > across * len(_LETTERS):
        return None
    sides = {columns: _side_mm(profile, zone, columns, count) for columns in range(1, count + 1)}
    columns = max(sides, key=lambda n: (sides[n], -n))
    if sides[columns] < _least_mm(profile, patches):
        return None
    # One or several rows of the table to a row of the sheet.
    tables = [n for n in sides if n % across == 0]
    table = max(tables, key=lambda n: (sides[n], -n))
    if sides[table] >= max(_least_mm(profile, patches), _WORTH_A_TABLE * sides[columns]):
        columns = table
    return TrialSheetPlan(patches, columns, sides[columns])


def _side_mm(profile: Profile, zone: Box, columns: int, count: int) -> float:
    """The largest square patch with so many in a row, rounded down to a tenth of a millimeter."""
    rows = -(-count // columns)
    width = (zone.width - 2) / profile.acetate_dpi.x * MM_PER_INCH
    height = (zone.height - 2) / profile.acetate_dpi.y * MM_PER_INCH
    side = min(
        (width - (columns - 1) * GAP_MM) / columns,
        (height - (rows - 1) * GAP_MM) / rows - CAPTION_MM,
    )
    # Each of the parts is rounded to whole pixels for itself.
    spare = (
        (columns + rows) * MM_PER_INCH / min(profile.acetate_dpi.x, profile.acetate_dpi.y) / columns
    )
    return floor(10 * (side - spare)) / 10


def _least_mm(profile: Profile, patches: tuple[Patch, ...]) -> float:
    """The smallest side at which all patches can be judged."""
    coarsest = _coarsest_lpi(profile, patches)
    cells = 0.0 if coarsest is None else LEAST_CELLS * MM_PER_INCH / coarsest
    return max(LEAST_MM, cells)


def _coarsest_lpi(profile: Profile, patches: tuple[Patch, ...]) -> float | None:
    rulings = [value for patch in patches for key, value in patch.settings if key == "lpi"]
    return min(rulings, default=profile.lpi)


def _no_room(profile: Profile, patches: tuple[Patch, ...], zone: Box) -> Refused:
    least = _least_mm(profile, patches)
    room = max(
        (
            count
            for count in range(1, len(patches))
            for columns in range(1, count + 1)
            if _side_mm(profile, zone, columns, count) >= least
        ),
        default=0,
    )
    row = TrialRefusal.NO_ROOM_FOR_DOTS if least > LEAST_MM else TrialRefusal.NO_ROOM
    return row.refused(
        found=Quantity(len(patches), "patches"),
        needed=Quantity(room, "patches"),
        patches=len(patches),
        room=room,
        least=length_text(least, profile.sheet, cut=ceil),
        cells=LEAST_CELLS,
        lpi=f"{_coarsest_lpi(profile, patches) or 0:g}",
    )
