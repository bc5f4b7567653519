"""From a picture in which a wedge was found to the wedge in even light, or why not."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.reading.ground_light import GroundLight, channel_weights, fit_ground, fit_solid
from filmhand.reading.scan_words import ScanRefusal
from filmhand.reading.tones import EvenedWedge, luma_sees
from filmhand.reading.windows import Picture
from filmhand.sheet.wedge_layout import WedgeLayout
from filmhand.sheet.wedge_places import BoxMm

# Limits for what is trusted; common practice, no source, and held against simulated scans.
_LEAST_PPI = 70.0
_GAP_PX = 3.5  # across the bare gaps between patches, so that one pixel lies well inside
_MOST_BLUR = 0.15  # standard deviation, of a gap
_CLIPPED, _MOST_CLIPPED = 0.997, 0.02  # of full light; the share of bare ground that may be there
_FAINT = 0.15
_UNEVEN, _MOST_UNEVEN = 0.035, 0.08  # of the light: at all but a few bare places, at any
_SOLIDS_DIFFER = 0.06
_STRIP = 0.32  # of a gap: what is looked at in its middle
_RIM = 0.14  # of a patch's side that is left out, at the least
_PLACED_MM = 0.25  # how far a patch may lie from where it should, and its ink may run


def gap_of(layout: WedgeLayout) -> float:
    """Millimeters of the narrowest bare gap between patches."""
    return min((box.width for box in layout.bare), default=1.2)


def least_ppi(layout: WedgeLayout) -> float:
    """Pixels to an inch of the wedge that are needed at the least."""
    return max(_LEAST_PPI, _GAP_PX * 25.4 / gap_of(layout))


def inner(box: BoxMm, blur_mm: float) -> BoxMm:
    """What of a patch is read: without a rim that light or ink from outside may reach."""
    rim = max(_RIM * box.width, _PLACED_MM + 2 * blur_mm)
    return box.inside(min(rim, 0.3 * box.width))


def even_light(picture: Picture, layout: WedgeLayout, *, blur_mm: float) -> EvenedWedge:
    """The wedge in even light.

    Raises
    ------
    Refused
        clipped, faint, or lit so unevenly that it cannot be evened
    """
    places, seen, clipped, noise = _bare(picture, layout)
    ground = fit_ground(places, seen, layout.size_mm)
    solids = [*layout.solids, *(p.box for p in layout.patches if p.film_pct == 100)]
    at, light = _solids(picture, solids, blur_mm)
    shares = light / np.maximum(ground.at(*at.T), 1e-6)
    contrast = 1 - np.median(shares, axis=0)
    if not (np.abs(contrast) >= _FAINT).any():
        raise ScanRefusal.FAINT.refused(seen=f"{100 * np.abs(contrast).max():.0f}")
    whole = clipped <= _MOST_CLIPPED
    if not (whole & (np.abs(contrast) >= _FAINT)).any():
        raise ScanRefusal.CLIPPED_PAPER.refused()
    weights = channel_weights(contrast, noise, whole)
    _check_light(ground, weights)
    solid = fit_solid(at, shares, layout.size_mm)
    differs = float(np.abs(solid.off @ weights).max())
    if differs > _SOLIDS_DIFFER * abs(float(contrast @ weights)):
        raise _uneven(differs)
    bare = np.median(seen, axis=0)
    by_luma = bool(whole.all()) and luma_sees(bare, bare * (1 - contrast))
    return EvenedWedge(picture, ground, solid, weights, by_luma)


def _check_light(ground: GroundLight, weights: Float64Array) -> None:
    """Raises Refused where bare places differ from what the others say of their light."""
    differs = np.abs(ground.differs() @ weights)
    many, worst = float(np.quantile(differs, 0.95)), float(differs.max())
    if many > _UNEVEN or worst > _MOST_UNEVEN:
        raise _uneven(max(many, worst))


def _uneven(share: float) -> Exception:
    return ScanRefusal.UNEVEN_LIGHT.refused(seen=f"{100 * share:.1f}", most=f"{100 * _UNEVEN:g}")


def _bare(
    picture: Picture, layout: WedgeLayout
) -> tuple[Float64Array, Float64Array, Float64Array, Float64Array]:
    """Places and light of bare ground; the share of it that is clipped, and its noise."""
    places, seen, full, spread = [], [], [], []
    for box in layout.bare:
        strip = BoxMm(
            box.left + box.width * (1 - _STRIP) / 2,
            box.top + 0.12 * box.height,
            box.width * _STRIP,
            0.76 * box.height,
        )
        part = picture.part(strip)
        if len(part.x) < 3:
            part = picture.part(box.inside(0.25 * min(box.width, box.height)))
        if not len(part.x):
            continue
        places.append((strip.left + strip.width / 2, strip.top + strip.height / 2))
        # The mean of the middle: dust and dots that ran are left out, noise is not bent.
        light = np.sort(part.light, axis=0)
        cut = len(light) // 5
        seen.append(light[cut : len(light) - cut].mean(axis=0))
        full.append((part.light >= _CLIPPED).mean(axis=0))
        spread.append(part.light.std(axis=0) / np.maximum(part.light.mean(axis=0), 1e-6))
    if not places:
        raise ScanRefusal.NO_WEDGE.refused()
    return (
        np.array(places),
        np.maximum(np.array(seen, np.float64), 1e-6),
        np.median(np.array(full), axis=0),
        np.median(np.array(spread), axis=0),
    )


def _solids(
    picture: Picture, boxes: list[BoxMm], blur_mm: float
) -> tuple[Float64Array, Float64Array]:
    """Middles of solids, and the light that each gives back."""
    places, light = [], []
    for box in boxes:
        part = picture.part(inner(box, blur_mm))
        places.append((box.left + box.width / 2, box.top + box.height / 2))
        light.append(part.light.mean(axis=0) if len(part.x) else np.full(3, np.nan))
    return np.array(places), np.array(light, np.float64)


def blur_of(picture: Picture, layout: WedgeLayout) -> float:
    """The spread of edges in millimeters, as a standard deviation, from the solids.

    Raises
    ------
    Refused
        where it would mix the light of patches with that of the bare gaps between them
    """
    spreads = [_edge_spread(picture, box, gap_of(layout)) for box in layout.solids]
    found = [one for one in spreads if one is not None]
    blur = float(np.median(found)) if found else 0.0
    most = _MOST_BLUR * gap_of(layout)
    if blur > most:
        raise ScanRefusal.BLURRED.refused(seen=f"{blur:.2f}", most=f"{most:.2f}")
    return blur


def _edge_spread(picture: Picture, box: BoxMm, gap: float) -> float | None:
    """The spread of the right edge of a solid."""
    reach = 0.5 * gap
    part = picture.part(
        BoxMm(box.right - 2 * reach, box.top + 0.2 * box.height, 3 * reach, 0.6 * box.height)
    )
    # In the channel that changes most.
    inside = part.x < box.right - reach
    if inside.sum() < 3 or (~inside).sum() < 3:
        return None
    channel = int(
        np.argmax(np.abs(part.light[inside].mean(axis=0) - part.light[~inside].mean(axis=0)))
    )
    bins = np.linspace(box.right - 2 * reach, box.right + reach, 31)
    which = np.digitize(part.x, bins) - 1
    counts = np.bincount(which, minlength=31)[:30]
    means = np.bincount(which, part.light[:, channel], 31)[:30]
    have = counts > 0
    profile = np.interp(np.arange(30), np.flatnonzero(have), means[have] / counts[have])
    low, high = float(np.median(profile[:8])), float(profile[-4:].mean())
    if abs(high - low) < 1e-3:
        return None
    edge = np.clip((profile - low) / (high - low), 0, 1)
    # Of a soft edge the 16 % and the 84 % lie two standard deviations apart.
    rising = np.maximum.accumulate(edge)
    at = np.interp([0.16, 0.84], rising + np.arange(30) * 1e-9, np.arange(30))
    return float((at[1] - at[0]) / 2 * (bins[1] - bins[0]))
