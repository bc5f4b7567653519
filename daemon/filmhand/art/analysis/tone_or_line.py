"""Line art or tone: which of the two an art is, and why.

Drawn art is judged by its flats: line art has two, the background and the ink. Scans and
photographs are judged as a drawing on paper would look: the paper is evened, and then nearly
everything is paper or ink, strokes are about equally deep, and what lies between is the rim of a
stroke.

The limits were set on labeled pictures and drawings degraded on purpose (the tests hold them);
they have no other source.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from filmhand.arrays import Float32Array
from filmhand.art.analysis.exact_flats import flat_codes
from filmhand.art.analysis.reading_words import ReadingNote
from filmhand.art.analysis.reduced_image import ReducedImage
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import (
    local_maximum,
    median_of,
    otsu,
    quantile_of,
    quantiles_of,
    share_counts,
    smooth,
)
from filmhand.values import dataclass

_BLACKBOARD = 0.30  # a dark background under a drawing is darker than this
# On dark backgrounds photographs are commoner than chalk, so the limits are tighter there.
_LEAST_PAPER, _LEAST_DARK_BACKGROUND = 0.55, 0.7
_LEAST_CRISP_PAPER, _LEAST_CRISP = 0.3, 0.02
_CRISP_CONTRAST, _CRISP_SPREAD = 0.4, 0.15
_MOST_SHALLOW, _MOST_SHALLOW_IN_DARK = 0.055, 0.03
_MOST_STRAY = 0.27
_FAINT, _MOST_STRAY_IF_FAINT = 0.15, 0.1  # faint marks with soft edges were not drawn
_DEEPEST = 1.25  # blacker ink counts no more: a crest is then as wide as its ink
_MOST_ROUGH = 0.02
_TINT_SHARE, _TINT_SPREAD = 0.004, 0.35
_PALER, _MOST_PALER = 0.65, 0.02
_MOST_CLOUDS, _MOST_CLOUDS_IN_DARK = 0.1, 0.04
# Tones of flats that line art may have.
_LIGHT_FLAT, _DARK_FLAT, _BACKGROUND_FLAT = 0.12, 0.75, 0.35


@dataclass(frozen=True, slots=True)
class ToneOrLine:
    """The judgment, and a sentence for the record with the figures behind it."""

    treat: Literal["tone", "line"]
    why: str


def tone_or_line(coded: Codes, *, drawn: bool | None = None) -> ToneOrLine:
    """The judgment on one art; see :func:`tone_or_line_of`.

    coded : (H, W) uint16 sRGB-coded gray.
    drawn : what :func:`~filmhand.art.analysis.exact_flats.looks_drawn` says of it, where that is
        known.
    """
    return tone_or_line_of(ReducedImage.at(coded, drawn=drawn))


def tone_or_line_of(look: ReducedImage) -> ToneOrLine:
    """Whether art is line art (cut at a threshold) or tone (screened).

    Looks at a copy of about a megapixel. Anything that is not plainly line art is tone.
    """
    if look.narrow:
        return _tone(ReadingNote.TOO_NARROW)
    if look.drawn:
        return _judge_flats(look.coded, look.factor)
    return _judge_scan(look)


def _judge_flats(coded: Codes, factor: int) -> ToneOrLine:
    counts, total = flat_codes(coded)
    tones = 1 - (np.arange(256) + 0.5) / 256
    levels = counts / max(1, total)
    common = int(np.argmax(levels))
    lightest = int(np.max(np.flatnonzero(levels > 0.001)))
    height, width = (side // factor * factor for side in coded.shape)
    sample = coded[:height:factor, :width:factor].astype(np.float32)
    codes = smooth(sample / np.float32(WHITE))
    between = (codes > 1 - _DARK_FLAT) & (codes < 1 - _LIGHT_FLAT)
    if common >= lightest - 3 and tones[common] < _BACKGROUND_FLAT:
        between &= codes < 1 - tones[common] - 0.02  # a tinted background is still the background
    # Nine pixels: enlarged pixels of a smooth edge are flat too, but small.
    wide = local_maximum(codes, 9) + local_maximum(-codes, 9) < 0.03
    tints = float((between & wide).mean())
    spread = local_maximum(codes, 5) + local_maximum(-codes, 5)
    middle = (codes > 1 - _DARK_FLAT) & (codes < 1 - _BACKGROUND_FLAT)
    soft = float((middle & (spread < 0.2) & (spread > 0)).mean())
    if len(np.flatnonzero(levels > 0.001)) < 2 and levels.max() > 0.999:
        return _tone(ReadingNote.ONE_FLAT)
    if tints > 0.0005:
        return _tone(ReadingNote.FLAT_TINTS, share=f"{100 * tints:.2g}")
    if soft > 0.004:
        return _tone(ReadingNote.SOFT_SHADES, share=f"{100 * soft:.2g}")
    share = f"{100 * float(levels.sum()):.0f}"
    return ToneOrLine("line", ReadingNote.DRAWN_IN_FLATS.say(share=share))


def _judge_scan(look: ReducedImage) -> ToneOrLine:
    median, dark = look.median, look.dark
    if dark and median > _BLACKBOARD:
        return _tone(ReadingNote.MIDDLE_GRAY, code=f"{median:.2f}")
    # A drawing in light on dark is judged as its negative.
    paper = look.paper_estimate
    if paper is None:
        return _tone(ReadingNote.NO_EVEN_GROUND)
    if paper.paper_share < (_LEAST_DARK_BACKGROUND if dark else _LEAST_PAPER) and (
        paper.paper_share < _LEAST_CRISP_PAPER or not _is_crisp(look.relative_code)
    ):
        return _tone(ReadingNote.LITTLE_GROUND, share=f"{100 * paper.paper_share:.0f}")
    depth, contrast = look.inked_depth
    if contrast < max(0.04, paper.noise):  # the noise of bare paper alone parts by a third of it
        return _tone(ReadingNote.NOTHING_STANDS_OUT)
    return _judge_strokes(depth, contrast=contrast, paper=paper.paper_share, dark=dark)


def _is_crisp(share: Float32Array) -> bool:
    """True for black and white with nothing between, as bar codes and stencils are.

    They may have more ink than paper, where a photograph has both of many depths.
    """
    threshold = (otsu(share_counts(share, 256)) + 1) / 256  # the upper end of its bin
    lowest, highest = local_maximum(-share, 5), local_maximum(share, 5)
    ink, paper = highest <= threshold, -lowest > threshold
    if min(float(ink.mean()), float(paper.mean())) < _LEAST_CRISP:
        return False
    (black, ink_spread), (white, paper_spread) = (
        (median_of(share[part]), float(np.ptp(quantiles_of(share[part], (0.02, 0.98)))))
        for part in (ink, paper)
    )
    contrast = white - black
    return contrast > _CRISP_CONTRAST and max(ink_spread, paper_spread) < _CRISP_SPREAD * contrast


def is_clouded(look: ReducedImage) -> bool:
    """True where the background beside the marks is shaded by much of their own depth.

    A photograph of low contrast parts into background and marks as well as a drawing does. But
    paper is even once its grain is averaged, and a wall, a sky or a skin is not.
    """
    depth = look.inked_depth[0]
    marks = local_maximum(depth, 9) > 0.55
    for _ in range(3):
        depth = smooth(depth)
    # The light of the paper is known least at the edges.
    edge = max(3, max(depth.shape) // 20)
    inner = (slice(edge, -edge), slice(edge, -edge))
    paper = depth[inner][~marks[inner]]
    if paper.size < 100:
        return False
    most = _MOST_CLOUDS_IN_DARK if look.dark else _MOST_CLOUDS
    return bool(np.ptp(quantiles_of(paper, (0.05, 0.95))) > most)


def _judge_strokes(depth: Float32Array, *, contrast: float, paper: float, dark: bool) -> ToneOrLine:
    rough, paler = _roughness(depth), _paler_flats(depth)
    depth = np.minimum(depth, np.float32(_DEEPEST))
    middle, ink = (depth > 0.25) & (depth < 0.75), depth >= 0.75
    near_ink = local_maximum(depth, 13) > 0.75
    near_paper = local_maximum(-depth, 13) > -0.25
    inked = max(1, int((middle | ink).sum()))
    stray = float((middle & ~(near_ink & near_paper)).sum()) / inked
    crest = (depth >= local_maximum(depth, 7)) & (depth > 0.25)
    shallow = float((crest & (depth < 0.65)).sum()) / max(1, int(crest.sum()))
    flat = (local_maximum(depth, 9) + local_maximum(-depth, 9) < 0.2) & (depth > 0.2)
    tinted = float(flat.mean())
    spread = float(np.ptp(quantiles_of(depth[flat], (0.05, 0.95)))) if flat.any() else 0.0
    if shallow > (_MOST_SHALLOW_IN_DARK if dark else _MOST_SHALLOW):
        return _tone(ReadingNote.MANY_DEPTHS, share=f"{100 * shallow:.0f}")
    if stray > (_MOST_STRAY_IF_FAINT if contrast < _FAINT else _MOST_STRAY):
        return _tone(ReadingNote.BETWEEN_INK_AND_GROUND, share=f"{100 * stray:.0f}")
    # Texture tells a photograph only where there are wide parts to carry it; on thin strokes it is
    # the paper's own.
    if rough > _MOST_ROUGH and tinted > 2 * _MOST_ROUGH:
        return _tone(ReadingNote.TEXTURED, share=f"{100 * rough:.1f}")
    if paler > _MOST_PALER:
        return _tone(ReadingNote.PALER_TINTS, share=f"{100 * paler:.1f}")
    if tinted > _TINT_SHARE and spread > _TINT_SPREAD:
        return _tone(ReadingNote.TINTS_OF_SEVERAL_DEPTHS, share=f"{100 * tinted:.1f}")
    said = {"ground": f"{100 * paper:.0f}", "between": f"{100 * stray:.0f}"}
    return ToneOrLine("line", ReadingNote.ON_PAPER.say(**said))


def _paler_flats(depth: Float32Array) -> float:
    """Share of the art that is evenly inked, but paler than its strokes are.

    One ink is at least as deep where it is wide: a lens makes thin strokes paler, never wide ones.
    """
    change = local_maximum(depth, 9) + local_maximum(-depth, 9)
    flat = (change < 0.2) & (depth > 0.2)
    crests = depth[(depth >= local_maximum(depth, 7)) & (depth > 0.5) & ~flat]
    if crests.size < 100:
        return 0.0
    return float((flat & (depth < _PALER * np.float32(quantile_of(crests, 0.75)))).mean())


def _roughness(depth: Float32Array) -> float:
    """Share of the art that lies within wide ink and is textured there."""
    depth = smooth(smooth(smooth(depth)))  # noise is no texture
    wide = -local_maximum(-depth, 9) > 0.75
    range_within = local_maximum(depth, 9) + local_maximum(-depth, 9)
    return float((wide & (range_within > 0.4)).mean())


def _tone(why: ReadingNote, **parts: str) -> ToneOrLine:
    return ToneOrLine("tone", why.say(**parts))
