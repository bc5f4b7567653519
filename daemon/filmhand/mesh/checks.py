"""The verdicts on a finished film: what was measured, what the limits are, what follows.

Every check is made on the finished bitmap or on the screen and mesh as they are, never on what was
asked for. The limits of sizes stand in :mod:`filmhand.mesh.limits`; those of the ratio, the
resolution, the gray levels and moire come from the profile, whose defaults are trade rules. The
page ``mesh`` of the guide names the source of each.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Any

from filmhand.errors import Reason
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.strokes import Narrowness, ThinPieces
from filmhand.mesh.check_words import CheckCaption, CheckFigure, CheckMeaning, LimitFigure
from filmhand.mesh.figures import figures_apart, rounded_apart, whole_apart
from filmhand.mesh.limits import (
    STENCIL_GAP_UM,
    STENCIL_STROKE_UM,
    Feature,
    MeshLimits,
    Pair,
    diameter_um,
)
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# Share of the dots, or shadow dots, that may lie at or under a limit.
ALLOWED_SHARE = 0.001


class Verdict(StrEnum):
    """What a check says."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"


@dataclass(frozen=True, slots=True)
class CheckRow:
    """All that belongs to one check.

    Attributes
    ----------
    name : as records have it
    unit : of what is measured, as records have it
    meaning, figure, caption, limit : what is said of it where it does not pass
    digits : the significant figures that what was measured is good for; None for lengths on the
        film, where a device pixel has tens of micrometers, and whole ones are told
    key : of the profile's group ``verdict``, where its limits can be set
    reason : of the refusal where it fails; None for a check that only warns
    feature : what is measured on the film's bits
    at_most : True where it is what is large that fails
    """

    name: str
    unit: str
    meaning: CheckMeaning
    figure: CheckFigure
    caption: CheckCaption
    limit: LimitFigure = LimitFigure.MICROMETERS
    digits: int | None = 4
    key: str | None = None
    reason: Reason | None = None
    feature: Feature | None = None
    at_most: bool = False

    def told(self, measured: float, limit: float) -> tuple[str, str]:
        """Both figures as people are told them, so that one is seen to pass the other or not."""
        if self.digits is None:
            return whole_apart(measured, limit)
        return figures_apart(measured, limit, figures=self.digits)


class CheckName(StrEnum):
    """The checks, each with its row."""

    row: CheckRow

    def __new__(cls, row: CheckRow) -> CheckName:
        """A member that is its name and carries its row."""
        member = str.__new__(cls, row.name)
        member._value_ = row.name
        member.row = row
        return member

    SMALLEST_DOT = CheckRow(
        "smallest dot",
        "um",
        CheckMeaning.SMALLEST_DOT,
        CheckFigure.SMALLEST_DOT,
        CheckCaption.SMALLEST_DOT,
        digits=None,
        key="dot",
        reason=Reason.DOTS_TOO_FINE,
        feature=Feature.DOT,
    )
    SMALLEST_SHADOW_DOT = CheckRow(
        "smallest shadow dot",
        "um",
        CheckMeaning.SMALLEST_SHADOW_DOT,
        CheckFigure.SMALLEST_SHADOW_DOT,
        CheckCaption.SMALLEST_SHADOW_DOT,
        digits=None,
        key="shadow_dot",
        reason=Reason.HOLES_TOO_FINE,
        feature=Feature.SHADOW_DOT,
    )
    NARROWEST_STROKE = CheckRow(
        "narrowest stroke",
        "um",
        CheckMeaning.NARROWEST_STROKE,
        CheckFigure.NARROWEST_STROKE,
        CheckCaption.NARROWEST_STROKE,
        digits=None,
        key="stroke",
        reason=Reason.LINES_TOO_FINE,
        feature=Feature.STROKE,
    )
    NARROWEST_GAP = CheckRow(
        "narrowest gap",
        "um",
        CheckMeaning.NARROWEST_GAP,
        CheckFigure.NARROWEST_GAP,
        CheckCaption.NARROWEST_GAP,
        digits=None,
        key="gap",
        reason=Reason.LINES_TOO_FINE,
        feature=Feature.GAP,
    )
    STENCIL_STROKE = CheckRow(
        "stroke for the stencil",
        "um",
        CheckMeaning.STENCIL_STROKE,
        CheckFigure.STENCIL_STROKE,
        CheckCaption.STENCIL_STROKE,
        digits=None,
        feature=Feature.STROKE,
    )
    STENCIL_GAP = CheckRow(
        "gap for the stencil",
        "um",
        CheckMeaning.STENCIL_GAP,
        CheckFigure.STENCIL_GAP,
        CheckCaption.STENCIL_GAP,
        digits=None,
        feature=Feature.GAP,
    )
    MESH_TO_LPI_RATIO = CheckRow(
        "mesh to lpi ratio",
        "threads per line",
        CheckMeaning.MESH_TO_LPI_RATIO,
        CheckFigure.MESH_TO_LPI_RATIO,
        CheckCaption.MESH_TO_LPI_RATIO,
        LimitFigure.RATIO,
        digits=3,
        key="ratio",
    )
    ART_RESOLUTION = CheckRow(
        "art resolution",
        "ppi",
        CheckMeaning.ART_RESOLUTION,
        CheckFigure.ART_RESOLUTION,
        CheckCaption.ART_RESOLUTION,
        LimitFigure.RESOLUTION,
        key="resolution",
        reason=Reason.TOO_SMALL,
    )
    GRAY_LEVELS = CheckRow(
        "gray levels",
        "sizes of one dot",
        CheckMeaning.GRAY_LEVELS,
        CheckFigure.GRAY_LEVELS,
        CheckCaption.GRAY_LEVELS,
        LimitFigure.SIZES,
        key="levels",
    )
    MOIRE = CheckRow(
        "moire",
        "visibility",
        CheckMeaning.MOIRE,
        CheckFigure.MOIRE,
        CheckCaption.MOIRE,
        LimitFigure.VISIBILITY,
        digits=2,
        key="moire",
        reason=Reason.MOIRE,
        at_most=True,
    )
    MOIRE_BETWEEN_FILMS = CheckRow(
        "moire between films",
        "visibility",
        CheckMeaning.MOIRE_BETWEEN_FILMS,
        CheckFigure.MOIRE_BETWEEN_FILMS,
        CheckCaption.MOIRE_BETWEEN_FILMS,
        LimitFigure.VISIBILITY,
        digits=2,
        key="moire",
        reason=Reason.MOIRE,
        at_most=True,
    )


@dataclass(frozen=True, slots=True)
class Check:
    """One check of the record. A limit that is None is not judged.

    ``pieces`` are single strokes or gaps for which it warns, whatever lies beside them.
    ``detail`` is what people are told beside the figure.
    """

    name: CheckName
    measured: float | None
    warn_limit: float | None
    fail_limit: float | None
    verdict: Verdict
    pieces: ThinPieces | None = None
    detail: str = ""

    @property
    def decisive_limit(self) -> float | None:
        """The limit that it fails by, else the one that it warns by."""
        return self.fail_limit if self.verdict is Verdict.FAIL else self.warn_limit

    @property
    def unit(self) -> str:
        """Of what was measured and of the limits."""
        return self.name.row.unit

    def record(self) -> dict[str, Any]:
        """The check as the record shows it, rounded to what the measurement is good for."""
        told = rounded_apart(self.measured, (self.warn_limit, self.fail_limit))
        figures = dict(zip(("measured", "warn_limit", "fail_limit"), told, strict=True))
        entry = {"name": str(self.name), **figures, "unit": self.unit, "verdict": str(self.verdict)}
        return entry if self.pieces is None else entry | {"pieces": self.pieces.record()}


def low_quantile(areas: AreaCounts) -> int | None:
    """The area such that more than 0.1 % of the components have it or less; None without any."""
    total = areas.total
    return areas.at(int(ALLOWED_SHARE * total)) if total else None


def check_dots(
    dots: AreaCounts, shadow_dots: AreaCounts, resolution: PixelsPerInch, limits: MeshLimits | None
) -> list[Check]:
    """The smallest dot and shadow dot, from the areas of all black and white components.

    A size is the diameter of the circle with the area of the component.
    """
    return [
        _held(CheckName.SMALLEST_DOT, _size(dots, resolution), limits),
        _held(CheckName.SMALLEST_SHADOW_DOT, _size(shadow_dots, resolution), limits),
    ]


def check_lines(strokes: Narrowness, gaps: Narrowness, limits: MeshLimits | None) -> list[Check]:
    """The narrowest stroke and gap of line art, for the mesh and, where there is one, the stencil.

    Single pieces at or under the limit warn, however little of all they are. What emulsion and film
    hold on any mesh only warns.
    """
    checks = [
        _judged_width(CheckName.NARROWEST_STROKE, strokes, limits),
        _judged_width(CheckName.NARROWEST_GAP, gaps, limits),
    ]
    if limits is None:
        return checks
    for name, found, warn in (
        (CheckName.STENCIL_STROKE, strokes, STENCIL_STROKE_UM),
        (CheckName.STENCIL_GAP, gaps, STENCIL_GAP_UM),
    ):
        check = _least(name, found.width_um, warn, None)
        if found.narrowest_um < min(warn, found.width_um):
            check = _least(name, found.narrowest_um, warn, None)
        elif found.at_least:
            # Where nothing narrow was found, the width is only that of the widest disc tried.
            check = replace(check, verdict=Verdict.PASS)
        checks.append(check)
    return checks


def check_pieces(
    strokes: ThinPieces | None, gaps: ThinPieces | None, limits: MeshLimits
) -> list[Check]:
    """The thin strokes and gaps of a halftone that belong to its art; no check where none is."""
    return [
        replace(_held(name, pieces.narrowest_um, limits), verdict=Verdict.WARN, pieces=pieces)
        for name, pieces in ((CheckName.NARROWEST_STROKE, strokes), (CheckName.NARROWEST_GAP, gaps))
        if pieces is not None
    ]


def check_ratio(threads_per_inch: float, lpi: float, *, least: float) -> Check:
    """Threads to lines; warns only, under ``least``.

    Hundredths are as good as a count of threads: 62 a centimeter, sold as 157 an inch, and 45
    lines make 3.4996, which is 3.5.
    """
    return _under(CheckName.MESH_TO_LPI_RATIO, round(threads_per_inch / lpi, 2), least)


def check_resolution(ppi: float, lpi: float, *, limits: Pair) -> Check:
    """Art pixels per inch on the film against lines per inch; ``limits`` are (fail, warn) a line.

    Under sqrt(2) a line the screen shows the pixels at its diagonal; under 1 a dot does not even
    have a pixel of its own.
    """
    return _under(CheckName.ART_RESOLUTION, ppi, limits[1] * lpi, limits[0] * lpi)


def check_line_resolution(ppi: float, dpi: float, *, least: float) -> Check:
    """Line art pixels per inch on the film against device pixels per inch; warns only."""
    return _under(CheckName.ART_RESOLUTION, ppi, least * dpi)


def check_gray_levels(levels: int, *, least: float) -> Check:
    """The sizes that one dot can take; warns only."""
    return _under(CheckName.GRAY_LEVELS, float(levels), least)


def check_moire(
    visibility: float,
    limits: Pair,
    *,
    refuse: bool,
    detail: str = "",
    name: CheckName = CheckName.MOIRE,
) -> Check:
    """The bands that are seen most; fails only where the profile refuses them.

    Parameters
    ----------
    visibility : change of the mean ink, as a share, times how well an eye sees it, 0..1
    limits : over which it warns and fails
    """
    warn, fail = limits[0], limits[1] if refuse else None
    verdict = Verdict.WARN if visibility > warn else Verdict.PASS
    if fail is not None and visibility > fail:
        verdict = Verdict.FAIL
    return Check(name, visibility, warn, fail, verdict, detail=detail)


def _under(name: CheckName, measured: float, warn: float, fail: float | None = None) -> Check:
    """A check that fails under one figure and warns under the other."""
    verdict = Verdict.WARN if measured < warn else Verdict.PASS
    if fail is not None and measured < fail:
        verdict = Verdict.FAIL
    return Check(name, measured, warn, fail, verdict)


def _size(areas: AreaCounts, resolution: PixelsPerInch) -> float | None:
    area = low_quantile(areas)
    return None if area is None else diameter_um(area, resolution)


def _judged_width(name: CheckName, found: Narrowness, limits: MeshLimits | None) -> Check:
    """The check of the width of all strokes or gaps, and of single ones where that does not fail.

    Where it fails, what was measured is what a remedy must bring over the limit.
    """
    check = _held(name, found.width_um, limits)
    if found.pieces is None or check.verdict is Verdict.FAIL:
        return check
    verdict = check.verdict if limits is None else Verdict.WARN
    return replace(check, measured=found.narrowest_um, verdict=verdict, pieces=found.pieces)


def _held(name: CheckName, measured: float | None, limits: MeshLimits | None) -> Check:
    """A check on the size of a feature, held against what the mesh holds."""
    assert name.row.feature is not None
    fail, warn = limits.of_feature(name.row.feature) if limits else (None, None)
    return _least(name, measured, warn, fail)


def _least(
    name: CheckName, measured: float | None, warn: float | None, fail: float | None
) -> Check:
    """A check on a size: fails at or under one limit, warns under the other."""
    verdict = Verdict.PASS
    if measured is not None and fail is not None and measured <= fail:
        verdict = Verdict.FAIL
    elif measured is not None and warn is not None and measured < warn * (1 - 1e-9):
        verdict = Verdict.WARN
    return Check(name, measured, warn, fail, verdict)
