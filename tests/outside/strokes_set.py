"""Clean pages of strokes and what scanners and phones make of them, to score what is cleaned.

No page with a published score can be had offline: scikit-image's own page and text have no ground
truth. So the truth is drawn here, and the page is spoiled on purpose.

The score is the F-measure of the ink's pixels, as the contests of document binarization use it
(B. Gatos, K. Ntirogiannis and I. Pratikakis, ICDAR 2009 document image binarization contest):
2 precision recall / (precision + recall), in percent. The others are scikit-image's, as its own
gallery page on thresholding of text uses them (window of 25 pixels, k of 0.8 for Niblack).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from kinds_set import KINDS, drawn_pages
from numpy.typing import NDArray
from PIL import Image, ImageFilter
from skimage.filters import threshold_niblack, threshold_otsu, threshold_sauvola

from filmhand.art.repair.line_cleaning import prepare_line
from filmhand.tone import linear_to_srgb, srgb_to_linear

Bits = NDArray[np.bool_]
WAYS = ("scanned", "tinted", "pencil", "shadow", "phone")


def pages(ways: Sequence[str] = WAYS) -> Iterator[tuple[str, str, NDArray[np.uint8], Bits]]:
    """(page, what was done to it, its gray, where the ink really is)."""
    for kind in ("text", "drawing"):
        for i, (name, make) in enumerate(drawn_pages(kind)[:4]):
            clean = make(np.random.default_rng(31 * i + KINDS.index(kind)))
            truth = np.asarray(clean) < 128
            for way in ways:
                yield name, way, _spoiled(clean, way, seed=100 * i + WAYS.index(way)), truth


def _spoiled(clean: Image.Image, way: str, *, seed: int) -> NDArray[np.uint8]:
    """Codes of a page. A lens blurs light, and so the page is made of light; noise is in codes."""
    # codes of paper and ink, darkest light, blur in pixels, noise
    paper, ink, darkest, blur, noise = {
        "scanned": (245, 30, 1.0, 0.6, 2.0),
        "tinted": (170, 40, 1.0, 0.8, 3.0),
        "pencil": (225, 150, 0.9, 0.8, 4.0),
        "shadow": (230, 40, 0.3, 0.8, 3.0),
        "phone": (215, 60, 0.5, 1.3, 6.0),
    }[way]
    rng = np.random.default_rng(seed)
    bare = np.asarray(clean.filter(ImageFilter.GaussianBlur(blur))).astype(float) / 255
    y, x = np.mgrid[0 : bare.shape[0], 0 : bare.shape[1]] / max(bare.shape)
    angle = rng.uniform(0, 2 * np.pi)
    ramp = np.cos(angle) * x + np.sin(angle) * y
    ramp = (ramp - ramp.min()) / np.ptp(ramp)
    light_of_paper, light_of_ink = srgb_to_linear(np.array((paper, ink)) / 255)
    light = light_of_ink + (light_of_paper - light_of_ink) * bare
    codes = 255 * linear_to_srgb(light * (1 - (1 - darkest) * ramp))
    return np.clip(np.round(codes + rng.normal(0, noise, bare.shape)), 0, 255).astype(np.uint8)


def _ours(gray: NDArray[np.uint8]) -> Bits:
    return prepare_line(gray.astype(np.uint16) * 257, drawn=False).share > 32767


CUTS: dict[str, Callable[[NDArray[np.uint8]], Bits]] = {
    "filmhand": _ours,
    "Otsu": lambda gray: gray <= threshold_otsu(gray),
    "Sauvola": lambda gray: gray < threshold_sauvola(gray, window_size=25),
    "Niblack": lambda gray: gray < threshold_niblack(gray, window_size=25, k=0.8),
}


def f_measure(found: Bits, truth: Bits) -> float:
    """0 .. 100."""
    both = int((found & truth).sum())
    return 200 * both / max(1, int(found.sum()) + int(truth.sum()))


def scores() -> dict[tuple[str, str], list[float]]:
    """The F-measures of every (way of spoiling, way of cutting), page by page."""
    found: dict[tuple[str, str], list[float]] = {(way, cut): [] for way in WAYS for cut in CUTS}
    for _, way, gray, truth in pages():
        for cut, apply in CUTS.items():
            found[way, cut].append(f_measure(apply(gray), truth))
    return found
