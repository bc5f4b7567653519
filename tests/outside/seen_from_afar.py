"""Real art and its film as somebody sees them who steps back, drawn by other libraries."""

from __future__ import annotations

import gzip
import warnings
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps
from real_set import Outcome
from skimage.feature import match_template
from skimage.filters import gaussian
from skimage.metrics import structural_similarity

SIDE = 230  # of a picture seen from afar, in pixels
_MARGIN = 0.04
_STANDS_OUT, _STILL_SEEN = 0.05 * 255, 0.25


def from_afar(one: Outcome, margin: float = 0.0) -> Image.Image:
    """The film's bits averaged, turned as the art lies, with this share of the art around it."""
    assert one.film is not None
    with Image.open(one.film) as opened:
        gray = opened.convert("L")
    art, dpi = one.record["art"], one.record["film"]["dpi"]
    size = [art[key] / 25.4 * ppi for key, ppi in zip(("width_mm", "height_mm"), dpi, strict=True)]
    if art["copies"] is None:
        edges = [round((whole - part) / 2) for whole, part in zip(gray.size, size, strict=True)]
        more = round(margin * max(size))
        left, top = (edge - more for edge in edges)
        gray = ImageOps.invert(gray).crop((left, top, gray.width - left, gray.height - top))
        gray = ImageOps.invert(gray)
    side = SIDE * (1 + 2 * margin)
    gray.thumbnail((round(side), round(side)), Image.Resampling.BOX, reducing_gap=None)
    return gray.rotate(-art["turned"], expand=True).convert("RGB")


def similarity(one: Outcome, folder: Path) -> float | None:
    """Structural similarity of art and film from afar where they fit best; 1 if they are the same.

    None where no film was made, or the art is too small or cannot be opened here.
    """
    pair = _pair(one, folder, blur=1.0)
    if pair is None:
        return None
    return round(float(structural_similarity(*pair, data_range=255)), 3)


def art_thumbnail(path: Path) -> Image.Image:
    """The art on white, drawn by other libraries; an empty field where they cannot."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            art = ImageOps.exif_transpose(_opened(path))
            if art.mode.startswith("I") or art.mode == "F":
                deep = np.asarray(art, dtype=float)
                deep = (deep - deep.min()) / (np.ptp(deep) or 1)
                art = Image.fromarray((deep * 255).astype(np.uint8))
            art = art.convert("RGBA")
            white = Image.new("RGBA", art.size, "white")
            art = Image.alpha_composite(white, art).convert("RGB")
        except Exception:  # whatever a broken file makes of a decoder
            art = Image.new("RGB", (SIDE, SIDE), (90, 60, 60))
    art.thumbnail((SIDE, SIDE), Image.Resampling.LANCZOS)
    return art


def _opened(path: Path) -> Image.Image:
    if path.suffix == ".pdf":
        import pypdfium2

        page = pypdfium2.PdfDocument(path)[0]
        return page.render(scale=2 * SIDE / max(page.get_size())).to_pil()
    if path.suffix in {".svg", ".svgz"}:
        import resvg_py

        data = path.read_bytes()
        text = (gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data).decode()
        return Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=96))))
    return Image.open(path)


def shapes_lost(one: Outcome, folder: Path) -> float | None:
    """Share 0..1 of the art's light and dark shapes that its film does not show, seen from afar.

    A shape is what stands out by 5 % of white from what lies around it within 6 pixels of ``SIDE``;
    it is lost where the film has less than a quarter of that. None as for :func:`similarity`.
    """
    pair = _pair(one, folder, blur=2.0)
    if pair is None:
        return None
    art, film = (side - gaussian(side, 6.0) for side in pair)
    shape = np.abs(art) > _STANDS_OUT
    if not shape.any():
        return 0.0
    lost = shape & (film * np.sign(art) < _STILL_SEEN * np.abs(art))
    return float(np.abs(art[lost]).sum() / np.abs(art[shape]).sum())


def _pair(
    one: Outcome, folder: Path, *, blur: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Art and film, 0..255, of one size and at the place where they fit best."""
    art = art_thumbnail(folder / one.label.file_name).convert("L")
    if one.film is None or min(art.size) < 32:
        return None
    film = from_afar(one, _MARGIN).convert("L")
    wanted = [round(side * (1 + 2 * _MARGIN * max(art.size) / side)) for side in art.size]
    film = film.resize((wanted[0], wanted[1]), Image.Resampling.BOX)
    seen, shown = (gaussian(np.asarray(side, dtype=float), blur) for side in (art, film))
    fit = np.nan_to_num(match_template(shown, seen))
    top, left = np.unravel_index(int(np.argmax(fit)), fit.shape)
    return seen, shown[top : top + seen.shape[0], left : left + seen.shape[1]]
