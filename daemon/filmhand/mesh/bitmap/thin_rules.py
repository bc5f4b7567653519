"""Thin rules inside a halftone: strokes and gaps of the art, which the screen's dots break up.

Where a hairline crosses dots it is no thinner than they are, so an opening takes only its pieces
between them. What tells it from bits of dots is that its pieces stand in a row: one after the other
on a straight line, each along it. That it takes six cells of the screen, and the other limits, were
set on photographs without rules and on rules drawn into flat tones (the tests hold them); they have
no other source.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, Int64Array
from filmhand.mesh.bitmap.strokes import InkShape, ThinPiece, ThinPieces
from filmhand.mesh.bitmap.thin_pieces import FoundPiece, PieceGatherer, PointFinder
from filmhand.values import dataclass

# Pieces from so many limits on are looked at, at most so many of the longest.
_SHORTEST, _MOST = 1.5, 2000
# A piece counts by itself if it is over so many limits and cells, more than two dots can make.
_SINGLE_LIMITS, _SINGLE_CELLS = 5.0, 2.0
# A row of pieces is that many cells long, and has no longer gaps and no fewer pieces to a cell.
_ROW_CELLS, _GAP_CELLS, _ROW_PIECES, _PIECES_A_CELL = 6.0, 5.0, 6, 0.4
# Of the pieces within a cell of it, the row has at least this share.
_SHARE_ABOUT = 0.7
# How far beside the line the pieces may lie, in limits, and how much they may be turned from it.
_BESIDE, _TURNED = 0.75, np.radians(25)
# The axis of a single short piece is good to about a seventh.
_FIRST_SLOPE = 0.15


@dataclass(frozen=True, slots=True)
class ScreenOfRules:
    """The screen that may have broken up rules.

    ``lines_angle`` is the direction of a line screen's own lines, in degrees counter-clockwise;
    None for dots.
    """

    lpi: float
    lines_angle: float | None = None


def thin_rules(shape: InkShape, limit_um: float, screen: ScreenOfRules) -> ThinPieces | None:
    """The strokes or gaps at or under a limit that the art has and not the screen; None without.

    Parameters
    ----------
    shape : the ink, for strokes, or the bare film, for gaps
    limit_um : as for :func:`filmhand.mesh.bitmap.thin_pieces.thin_pieces`
    """
    cell = 25400 / screen.lpi / limit_um
    pieces = _longest(shape, limit_um)
    if screen.lines_angle is not None:
        along = -np.radians(screen.lines_angle)  # rows run downward
        pieces = [one for one in pieces if _turned(np.array(one.angle), along) > _TURNED]
    rules, points = ThinPieces(limit_um), PointFinder(shape, limit_um)
    rows = _rows(pieces, cell)
    rules.add([_as_one([pieces[one] for one in row], limit_um) for row in rows])
    single_um = max(_SINGLE_LIMITS, _SINGLE_CELLS * cell) * limit_um
    in_rows = {int(one) for row in rows for one in row}
    rules.add(
        [
            one.piece
            for number, one in enumerate(pieces)
            if number not in in_rows and one.piece.length_um > single_um
            if not points.is_point(one)
        ]
    )
    return rules if rules.count else None


def _longest(shape: InkShape, limit_um: float) -> list[FoundPiece]:
    """The longest pieces, the longest first."""
    longest: list[FoundPiece] = []
    for found in PieceGatherer(shape, limit_um, shortest=_SHORTEST).pieces():
        longest += found
        longest.sort(key=lambda one: (-one.piece.length_um, one.y, one.x))
        del longest[_MOST:]
    return longest


def _rows(pieces: list[FoundPiece], cell: float) -> list[Int64Array]:
    """Which pieces stand in a row, each by their numbers in order along it."""
    if len(pieces) < _ROW_PIECES:
        return []
    places = np.array([(one.x, one.y) for one in pieces])
    angles = np.array([one.angle for one in pieces])
    free = np.ones(len(pieces), np.bool_)
    rows = []
    for seed in range(len(pieces)):
        if free[seed]:
            row = _row_of(seed, places, angles, free, cell)
            if row.size:
                free[row] = False
                rows.append(row)
    return rows


def _row_of(
    seed: int, places: Float64Array, angles: Float64Array, free: BoolArray, cell: float
) -> Int64Array:
    """The row that a piece stands in; empty where it is none."""
    middle, angle, slope = places[seed], float(angles[seed]), _FIRST_SLOPE
    row = np.array([seed])
    while True:
        axis = np.array([np.cos(angle), np.sin(angle)])
        along = (places - middle) @ axis
        beside = np.abs((places - middle) @ np.array([-axis[1], axis[0]]))
        near = np.abs(along) <= 1.5 * _GAP_CELLS * cell if slope else np.True_
        fits = free & near & (beside <= _BESIDE + slope * np.abs(along))
        fits &= _turned(angles, angle) <= _TURNED
        fits[seed] = True
        order = np.flatnonzero(fits)
        order = order[np.argsort(along[order], kind="stable")]
        # The stretch without long gaps that holds the piece.
        breaks = np.flatnonzero(np.diff(along[order]) > _GAP_CELLS * cell) + 1
        parts = np.split(order, breaks)
        found = next(part for part in parts if seed in part)
        if found.size < 2 or (not slope and found.size <= row.size):
            break
        row, slope = found, 0.0
        middle = places[row].mean(axis=0)
        spread = places[row] - middle
        angle = 0.5 * float(
            np.arctan2(
                2 * (spread[:, 0] * spread[:, 1]).sum(),
                (spread[:, 0] ** 2).sum() - (spread[:, 1] ** 2).sum(),
            )
        )
    first, last = along[row].min(), along[row].max()
    cells = float(last - first) / cell
    # Where pieces lie all about, some of them stand in a row by chance.
    about = ((along >= first) & (along <= last) & (beside <= cell)).sum()
    enough = max(_ROW_PIECES, _PIECES_A_CELL * cells, _SHARE_ABOUT * about)
    return row if cells >= _ROW_CELLS and row.size >= enough else row[:0]


def _turned(angles: Float64Array, angle: float) -> Float64Array:
    """By how much axes are turned from another, 0 .. pi / 2."""
    turned: Float64Array = np.abs((angles - angle + np.pi / 2) % np.pi - np.pi / 2)
    return turned


def _as_one(row: list[FoundPiece], limit_um: float) -> ThinPiece:
    """A row as one stroke or gap, shown at the piece in its middle."""
    ends = np.array([(one.x, one.y) for one in (row[0], row[-1])])
    length = float(np.hypot(*(ends[1] - ends[0]))) * limit_um
    length += (row[0].piece.length_um + row[-1].piece.length_um) / 2
    lengths = np.array([one.piece.length_um for one in row])
    widths = np.array([one.piece.width_um for one in row])
    shown = row[len(row) // 2].piece
    width = float((lengths * widths).sum() / lengths.sum())
    return ThinPiece(shown.x_px, shown.y_px, length, width)
