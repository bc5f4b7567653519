"""Refusals of the mesh and of the resolution: what was measured, what it takes, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, sqrt

from filmhand.errors import Quantity, Reason, Refused
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.figures import figures_apart, rounded_apart
from filmhand.profile.model import COARSEST_LPI, Profile
from filmhand.profile.read.values import listing
from filmhand.profile.terms import Automatic
from filmhand.sheet.layout import Layout, turn_size
from filmhand.units import MM_PER_INCH, size_text


class CheckFailed(Refused):
    """A check says that no film can be made by this profile.

    Attributes
    ----------
    check : the check that failed
    layout : how the art would have lain on the sheet
    """

    def __init__(self, check: Check, layout: Layout, refusal: Refused, *, where: str) -> None:
        say = f"{refusal.say[:-1]}; {where}." if where else refusal.say
        super().__init__(
            refusal.reason, say, refusal.do, found=refusal.found, needed=refusal.needed
        )
        self.check = check
        self.layout = layout

    def with_offers(self, offers: Sequence[str]) -> Refused:
        """The refusal with what was tried and passes, in place of what might help."""
        do = self.do
        if offers:
            tried = "each passes" if len(offers) > 1 else "it passes"
            either = listing(offers, last=", or ")
            do = f"{either[0].upper()}{either[1:]} (tried with this art: {tried})."
            if self.reason is Reason.TOO_SMALL:
                do = f"{do[:-1]}, or {self.do[0].lower()}{self.do[1:]}"
        return Refused(self.reason, self.say, do, found=self.found, needed=self.needed)


def refuse_on(checks: list[Check], profile: Profile, layout: Layout, *, where: str = "") -> None:
    """Raise :class:`CheckFailed` for the first check that fails, saying where that is."""
    for check in checks:
        if check.verdict is Verdict.FAIL:
            raise CheckFailed(check, layout, _refusal(check, profile, layout), where=where)


def _refusal(check: Check, profile: Profile, layout: Layout) -> Refused:
    reason, unit = check.name.row.reason, check.name.row.unit
    measured, limit = check.measured, check.fail_limit
    assert measured is not None and limit is not None
    match reason:
        case Reason.DOTS_TOO_FINE | Reason.HOLES_TOO_FINE:
            say, do = _too_fine(check, measured, limit, profile)
        case Reason.LINES_TOO_FINE:
            say, do = _lines_too_fine(check, measured, limit, profile)
        case Reason.TOO_SMALL:
            say, do = _too_few_pixels(measured, limit, profile, layout)
        case Reason.MOIRE:
            say, do = _moire(check, measured, limit, profile)
        case _:
            raise ValueError(f"the check {check.name} refuses nothing")
    told = rounded_apart(measured, [limit])
    found, needed = (Quantity(value, unit) for value in told if value is not None)
    return Refused(reason, say, do, found=found, needed=needed)


def _too_fine(check: Check, measured: float, limit: float, profile: Profile) -> tuple[str, str]:
    assert profile.mesh is not None
    row = check.name.row
    return (
        f"The smallest {row.things} on this film measure {measured:.0f} µm; on mesh "
        f"{profile.mesh.label} anything of {limit:.0f} µm or less {row.lost}.",
        # With hold: auto the screen leaves out what is too small; only the art can have cut it up.
        "Smooth the grain and the finest detail of the picture, or use a finer mesh."
        if profile.tone.hold == "auto"
        else "Set tone: {hold: auto}, which leaves out what is too small, or use a finer mesh.",
    )


def _lines_too_fine(
    check: Check, measured: float, limit: float, profile: Profile
) -> tuple[str, str]:
    assert profile.mesh is not None
    thing, lost = check.name.row.things, check.name.row.lost
    return (
        f"The narrowest {thing} of this drawing measure {measured / 1000:.2f} mm on the "
        f"film; on mesh {profile.mesh.label} {thing} of {limit / 1000:.2f} mm or less {lost}.",
        f"Print it larger, use a finer mesh, or draw its finest {thing} wider than "
        f"{limit / 1000:.2f} mm.",
    )


def _too_few_pixels(
    measured: float, limit: float, profile: Profile, layout: Layout
) -> tuple[str, str]:
    # As the picture stands upright, whichever way it lies on the sheet: so people know it.
    size = turn_size(layout.art_mm, layout.turned)
    pixels = [round(side / MM_PER_INCH * limit * 1.5 / 10) * 10 for side in size]
    cut = profile.art.crop is not None or profile.art.trim is Automatic.AUTO
    kept = " in what is left of it after art.crop and art.trim" if cut else ""
    found, needed = figures_apart(measured, limit, figures=2 if limit < 100 else 3)
    return (
        f"At {size_text(size, profile.sheet)} this picture has "
        f"{found} pixels to the inch, and a screen of {profile.lpi:g} lpi needs at "
        f"least {needed}.",
        f"Bring the picture with about {pixels[0]} x {pixels[1]} pixels{kept}.",
    )


def _moire(check: Check, measured: float, limit: float, profile: Profile) -> tuple[str, str]:
    assert profile.mesh is not None
    found, allowed = figures_apart(measured, limit, figures=2)
    return (
        f"Dots and threads of mesh {profile.mesh.label} would show moire: {check.detail}; their "
        f"visibility is {found}, and this profile allows at most {allowed}.",
        "Use another angle, another lpi or another mesh.",
    )


def where_it_passes(check: Check, profile: Profile, layout: Layout) -> str:
    """The size or ruling from which a check passes, as a sentence; nothing for other checks.

    These follow from the figures alone; what needs the art itself is found by trying it.
    """
    if check.measured is None or not check.warn_limit or check.verdict is Verdict.PASS:
        return ""
    share = check.measured / check.warn_limit
    ways = []
    if check.name is CheckName.ART_RESOLUTION:
        smaller = [side * share for side in turn_size(layout.art_mm, layout.turned)]
        ways.append(size_text(smaller, profile.sheet, cut=floor))
    if check.name is CheckName.GRAY_LEVELS:
        # Levels go by the square of the ruling, but for the one that is no dot at all.
        share = sqrt((check.measured - 1) / (check.warn_limit - 1))
    # The resolution of line art goes by the device and has no ruling, nor a limit that fails.
    by_ruling = check.name in {CheckName.GRAY_LEVELS, CheckName.MESH_TO_LPI_RATIO}
    if by_ruling or (ways and check.fail_limit is not None):
        lpi = floor((profile.lpi or 0) * share)
        if lpi >= COARSEST_LPI:
            ways.append(f"{lpi} lpi")
    return f" It would pass at {' or at '.join(ways)}." if ways else ""
