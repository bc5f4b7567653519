"""A simulated press and a simulated scanner or camera, to hold the reading of wedges against.

The press moves every edge of the film's bits outward or inward, in each patch by what makes its
tone the one of a curve; the scanner lays ink on paper, looks at it from somewhere, in uneven light
and out of focus, and writes eight bits. All of it in linear light, so that what should be read is
known. Chance is seeded.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO

import cv2
import numpy as np
from PIL import Image
from scipy.ndimage import distance_transform_edt, gaussian_filter

FINER = 2
"""Cells of the print to a device pixel of the film, each way."""


def signed_distance(ink):
    """Cells from the edge of the ink, outward above 0: (H, W) float, smooth below a cell."""
    inside = distance_transform_edt(ink)
    outside = distance_transform_edt(~ink)
    return gaussian_filter(np.where(ink, 0.5 - inside, outside - 0.5), 0.6)


def finer(bits):
    """The bits in cells."""
    return np.kron(bits, np.ones((FINER, FINER), np.bool_))


@lru_cache(maxsize=256)
def move_of_edges(tint, asked):
    """How many cells the edges of an endless tint must move for its ink to cover ``asked`` (0..1).

    ``tint`` gives its bits, (H, W) bool, many cells wide.
    """
    bits = tint()
    distance = signed_distance(finer(bits))
    # A smooth window over many dots hardly minds where it begins and ends.
    window = np.outer(*(np.hanning(side) for side in distance.shape)).ravel()
    order = np.argsort(distance, axis=None)
    share = np.cumsum(window[order]) / window.sum()
    if asked <= 0:
        return -np.inf
    if asked >= 1:
        return np.inf
    return float(distance.ravel()[order[np.searchsorted(share, asked)]])


def printed(bits, *, growth=0, patches=()):
    """What a press makes of a film: (H, W) uint8 of cells, 255 is ink.

    Parameters
    ----------
    bits : (H, W) bool, the film
    growth : cells by which all edges move outward (inward below 0)
    patches : (rows, columns, move) in device pixels: boxes whose edges move by so many cells
    """
    ink = finer(bits).astype(np.uint8) * 255
    if growth:
        size = 2 * abs(growth) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        ink = (cv2.dilate if growth > 0 else cv2.erode)(ink, disc)
    around = 8
    for rows, columns, move in patches:
        top, bottom = max(0, rows.start - around), min(bits.shape[0], rows.stop + around)
        left, right = max(0, columns.start - around), min(bits.shape[1], columns.stop + around)
        alone = np.zeros((bottom - top, right - left), np.bool_)
        own = (
            slice(rows.start - top, rows.stop - top),
            slice(columns.start - left, columns.stop - left),
        )
        alone[own] = bits[rows, columns]
        part = ink[FINER * top : FINER * bottom, FINER * left : FINER * right]
        inner = tuple(slice(FINER * one.start, FINER * one.stop) for one in own)
        if np.isinf(move):
            part[inner] = 255 if move > 0 else 0
            continue
        grown = signed_distance(finer(alone)) <= move
        part[inner] = 0
        part[grown] = 255
    return ink


@dataclass(frozen=True)
class Scanner:
    """What looks at a print, and how.

    Attributes
    ----------
    ppi : pixels to an inch of the print, in its middle
    paper, ink : linear red, green and blue that they reflect
    turn : degrees, counter-clockwise
    tilt : (across, down), by how much nearer one side is than the other, as a share
    mirrored : seen from the back
    blur_mm : standard deviation of the spread of light by the lens
    vignette, slope : what the light loses toward the corners, and from one side to the other
    noise : standard deviation in 8-bit codes
    glare : light of a reflex on the print, as a share of white; ``veil`` of stray light everywhere
    exposure : what white paper of 1 would be coded as, in linear light
    curve : from linear light to code, 0..1; sRGB unless given
    barrel : how far the lens bends lines, as a share at the corner
    jpeg : quality; None keeps the pixels
    margin_mm : paper around the wedge; ``table`` around that
    cut : share of the picture that is cut off at the right
    """

    ppi: float = 300.0
    paper: tuple[float, float, float] = (0.86, 0.85, 0.82)
    ink: tuple[float, float, float] = (0.03, 0.03, 0.03)
    turn: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)
    mirrored: bool = False
    blur_mm: float = 0.04
    vignette: float = 0.0
    slope: tuple[float, float] = (0.0, 0.0)
    noise: float = 1.0
    texture: float = 0.004
    glare: float = 0.0
    veil: float = 0.0
    exposure: float = 1.0
    gamma: float | None = None
    barrel: float = 0.0
    jpeg: int | None = None
    margin_mm: float = 12.0
    table: float = 0.25
    cut: float = 0.0
    seed: int = 1


def coded(light, gamma=None):
    """Codes 0..1 of linear light 0..1: sRGB (IEC 61966-2-1) or a plain power."""
    light = np.clip(light, 0, 1)
    if gamma:
        return light ** (1 / gamma)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def corners_seen(size_mm, scanner):
    """(4, 2) where the wedge's corners come to lie, pixels, and (width, height) of the picture."""
    width, height = size_mm
    square = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    middle = square - square.mean(axis=0)
    if scanner.mirrored:
        middle[:, 0] *= -1
    angle = np.deg2rad(scanner.turn)
    turned = middle @ np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    reach = max(width, height) / 2
    depth = 1 + turned / reach @ np.array(scanner.tilt)
    seen = turned / depth[:, None] * scanner.ppi / 25.4
    edge = scanner.margin_mm * scanner.ppi / 25.4
    low = seen.min(axis=0) - edge
    size = np.ceil(seen.max(axis=0) + edge - low).astype(int)
    return seen - low, (int(size[0]), int(size[1]))


def scanned(ink, cell_mm, scanner):
    """What the scanner writes of a print: (H, W, 3) uint8.

    Parameters
    ----------
    ink : (H, W) uint8 of cells, 255 is ink
    cell_mm : the side of a cell
    """
    chance = np.random.default_rng(scanner.seed)
    size_mm = ink.shape[1] * cell_mm, ink.shape[0] * cell_mm
    over = 2 if scanner.ppi <= 700 else 1
    # Cells to about two samples a pixel, so that sampling loses none of the ink.
    step = max(1, int(25.4 / (scanner.ppi * over) / cell_mm))
    rows, columns = (side // step for side in ink.shape)
    share = (
        cv2.resize(
            ink[: rows * step, : columns * step], (columns, rows), interpolation=cv2.INTER_AREA
        ).astype(np.float32)
        / 255
    )
    paper_px = int(0.9 * scanner.margin_mm / (step * cell_mm))
    share = np.pad(share, paper_px)
    seen, (width, height) = corners_seen(size_mm, scanner)
    flat = np.array([(0, 0), (columns, 0), (columns, rows), (0, rows)], np.float32) + np.float32(
        paper_px - 0.5
    )
    there = (seen * over).astype(np.float32) - np.float32(0.5)
    matrix = cv2.getPerspectiveTransform(flat, there)
    shape = width * over, height * over
    x, y = np.meshgrid(
        *((np.arange(side, dtype=np.float32) + 0.5) / side * 2 - 1 for side in shape)
    )
    bend = 1 + scanner.barrel * (x**2 + y**2) / 2
    u, v = ((one * bend + 1) / 2 * side - 0.5 for one, side in zip((x, y), shape, strict=True))
    back = np.linalg.inv(matrix)
    across, down, near = (row[0] * u + row[1] * v + row[2] for row in back)
    maps = [(one / near).astype(np.float32) for one in (across, down)]

    def look(plane):
        return cv2.remap(plane, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)

    area = look(share)
    on_paper = look(np.ones_like(share))
    grain = (
        1
        + scanner.texture
        * gaussian_filter(chance.standard_normal(area.shape), 2).astype(np.float32)
        * 7
    )
    light = (1 - scanner.vignette * (x**2 + y**2) / 2) * (
        1 + scanner.slope[0] * x + scanner.slope[1] * y
    )
    reflex = scanner.glare * np.exp(-((x - 0.2) ** 2 + (y + 0.1) ** 2) / 0.05)
    blur = scanner.blur_mm * scanner.ppi * over / 25.4
    planes = []
    for paper, inked in zip(scanner.paper, scanner.ink, strict=True):
        plane = (paper + (inked - paper) * area) * on_paper + scanner.table * (1 - on_paper)
        plane = plane * grain * light + reflex
        plane = cv2.GaussianBlur(plane.astype(np.float32), (0, 0), blur) if blur > 0.1 else plane
        plane = (
            cv2.resize(plane, (width, height), interpolation=cv2.INTER_AREA) if over > 1 else plane
        )
        planes.append(scanner.exposure * (plane + scanner.veil))
    codes = 255 * coded(np.stack(planes, axis=-1), scanner.gamma)
    codes += chance.standard_normal(codes.shape) * scanner.noise
    pixels = np.clip(np.rint(codes), 0, 255).astype(np.uint8)
    if scanner.cut:
        pixels = np.ascontiguousarray(pixels[:, : round(width * (1 - scanner.cut))])
    if scanner.jpeg is None:
        return pixels
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=scanner.jpeg)
    return np.asarray(Image.open(stream))
