"""The printed rules of writing paper: found under strokes of ink, and taken off.

Ruled and squared paper has straight, parallel, evenly spaced lines from edge to edge, paler than
the ink that is written over them. A rule is measured across, and its own depth is taken away, so
that what is written over it keeps its edges:

    depth of the ink alone = ink (depth - rule) / (ink - rule)

which is 0 where there is the rule alone and ``ink`` where ink covers it.

The limits were set on drawn signatures (the tests hold them); they have no other source.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, distinct
from filmhand.art.raster import median_of, quantile_of
from filmhand.values import dataclass

_STATIONS = 24  # pieces that a rule is followed in
_LEAST_RULES = 3
_STEEPEST = 0.06
_COVERED = 0.72  # share of a rule that must be seen
_EVEN, _LEAST_EVEN = 0.16, 0.6
_PALEST = 0.015
_UNEVEN = 1.15  # rules are never quite even
_ROWS_AT_ONCE = 256
_INK_OVER_RULE = 1.3


@dataclass(frozen=True, slots=True)
class RuledLines:
    """Rules that run across (``turned`` False) or down.

    Attributes
    ----------
    place : (rules, stations) rows at which the rule lies, in shares of the height; columns and the
        width where turned
    turned : True for rules that run down
    depth : of the rules, 0 paper .. 1 no light
    height : of the reduced copy that they were found on; its width where turned
    even : True where at least three are evenly spaced
    """

    place: Float64Array
    turned: bool
    depth: float
    height: int
    even: bool


def find_ruled_lines(depth: Float32Array) -> list[RuledLines]:
    """The rules of a sheet, those across and those down; empty where it has none.

    One direction must have three even rules at the least; then any line from edge to edge in the
    other, as a margin has one, is a rule too.

    depth : (h, w) float32, 0 paper .. 1 no light, on a reduced copy.
    """
    across, down = _lines(depth, turned=False), _lines(depth.T, turned=True)
    even = [rows for rows in (across, down) if rows is not None and rows.even]
    return [rows for rows in (across, down) if rows is not None] if even else []


def _lines(depth: Float32Array, *, turned: bool) -> RuledLines | None:
    """All thin lines from the left edge to the right."""
    height, width = depth.shape
    if min(height, width) < 4 * _STATIONS:
        return None
    ridge = _ridges(depth)
    seen = ridge > max(_PALEST, 3.0 * median_of(np.abs(ridge[::3, ::3])))
    seen[1:-1] |= seen[:-2] | seen[2:]
    edges = np.linspace(0, width, _STATIONS + 1).astype(int)
    covered = np.stack([seen[:, a:b].mean(axis=1) for a, b in itertools.pairwise(edges)], axis=1)
    sheared = _Sheared.of(covered, round(_STEEPEST * width / 2) + 1)
    slope = _slope(sheared, width)
    middles = (edges[1:] + edges[:-1]) / 2
    offsets = np.round(slope * (middles - width / 2)).astype(int)
    rows = _rows_of_rules(sheared.profile(offsets))
    if not len(rows):
        return None
    even = _evenly_spaced(rows)
    rise = slope * (middles - width / 2)
    level = _depth_of(depth, rows[:, None] + rise, edges)
    if even:
        rows = _with_hidden(rows, float(np.abs(rise).max()), height)
    place = rows[:, None] + rise
    return RuledLines((place + 0.5) / height, turned, level, height, even)


def _ridges(depth: Float32Array) -> Float32Array:
    """How much deeper a row is than the rows four above and below: thin lines across alone."""
    out = np.zeros_like(depth)
    out[4:-4] = depth[4:-4] - np.maximum(depth[:-8], depth[8:])
    return out


@dataclass(frozen=True, slots=True)
class _Sheared:
    """How far each row is covered at each station, at any slope.

    flat : float32, station by station along the rows, with zeros above and below
    first : (rows, stations) int64, where those of no slope stand in it
    """

    flat: Float32Array
    first: Int64Array

    @classmethod
    def of(cls, covered: Float64Array, reach: int) -> _Sheared:
        """From (rows, stations) shares 0..1; no station is moved by more than ``reach`` rows."""
        rows, stations = covered.shape
        flat = np.pad(covered.astype(np.float32), ((reach, reach), (0, 0))).ravel()
        first = np.arange(rows * stations).reshape(rows, stations) + reach * stations
        return cls(flat, first)

    def profile(self, offsets: Int64Array) -> Float32Array:
        """(rows,): how far the line is covered that passes so many rows below at each station."""
        moved = np.take(self.flat, self.first + offsets * len(offsets))
        profile: Float32Array = moved.mean(axis=1)
        return profile


def _slope(sheared: _Sheared, width: int) -> float:
    """The slope at which most of the rows are rules."""
    middles = (np.arange(_STATIONS) + 0.5) * width / _STATIONS - width / 2
    best, found = 0.0, 0.0
    for slope in np.arange(-_STEEPEST, _STEEPEST, 1.5 / width):
        offsets = np.round(slope * middles).astype(int)
        score = float((sheared.profile(offsets) ** 6).sum())
        if score > found * 1.0001:
            best, found = float(slope), score
    return best


def _rows_of_rules(profile: Float32Array) -> Float64Array:
    above = np.pad(profile, 1)
    inked = profile >= _COVERED
    starts = np.flatnonzero(inked & (above[:-2] < _COVERED))
    stops = np.flatnonzero(inked & (above[2:] < _COVERED)) + 1
    thin = [
        float(np.average(np.arange(a, b), weights=profile[a:b]))
        for a, b in zip(starts, stops, strict=True)
        if b - a <= 9
    ]
    return np.array(thin)


def _with_hidden(rows: Float64Array, rise: float, height: int) -> Float64Array:
    """Evenly spaced rows together with those that only a part of the sheet shows."""
    gaps = np.diff(rows)
    pitch = median_of(gaps)
    every = [rows[:1]]
    for row, gap in zip(rows[1:], gaps, strict=True):
        between = max(1, round(gap / pitch))
        every.append(row - gap * (1 - np.arange(1, between + 1) / between))
    before = np.arange(rows[0] - pitch, -rise, -pitch)[::-1]
    after = np.arange(rows[-1] + pitch, height + rise, pitch)
    return np.concatenate([before, *every, after])


def _evenly_spaced(rows: Float64Array) -> bool:
    if len(rows) < _LEAST_RULES:
        return False
    gaps = np.diff(rows)
    pitch = median_of(gaps)
    even = np.abs(gaps / pitch - np.round(gaps / pitch)) < _EVEN
    return bool(pitch > 8 and even.mean() >= _LEAST_EVEN)


def _depth_of(depth: Float32Array, place: Float64Array, edges: Int64Array) -> float:
    """The usual depth on the rules' own pixels."""
    found = []
    for k, (a, b) in enumerate(itertools.pairwise(edges)):
        rows = np.round(place[:, k]).astype(int)
        for row in rows[(rows >= 1) & (rows < len(depth) - 1)]:
            found.append(median_of(depth[row - 1 : row + 2, a:b].max(axis=0)))
    return median_of(found) if found else 1.0


def near_ruled_lines(
    shape: tuple[int, ...], rules: Sequence[RuledLines], *, grown: int = 3
) -> BoolArray:
    """Where a copy of this shape shows rules, ``grown`` pixels to either side: (h, w) bool."""
    out = np.zeros(shape, np.bool_)
    for one in rules:
        view = out.T if one.turned else out
        height, width = view.shape
        columns = _along(one.place, np.arange(width), width) * height
        for rows in columns:
            for by in range(-grown, grown + 1):
                at = np.round(rows - 0.5).astype(int) + by
                inside = (at >= 0) & (at < height)
                view[at[inside], np.flatnonzero(inside)] = True
    return out


def _along(place: Float64Array, columns: Int64Array, width: int) -> Float64Array:
    """(rules, columns) share of the height, straight from station to station and beyond."""
    stations = place.shape[1]
    at = (columns + 0.5) / width * stations - 0.5
    left = np.clip(np.floor(at).astype(int), 0, stations - 2)
    part = at - left
    along: Float64Array = place[:, left] * (1 - part) + place[:, left + 1] * part
    return along


class RuledLineEraser:
    """Takes rules off the depth of any rows of the sheet at full size."""

    def __init__(
        self,
        rules: Sequence[RuledLines],
        read: Callable[[int, int], Float32Array],
        shape: tuple[int, int],
        *,
        reach: int,
    ) -> None:
        """Follow and measure the rules at full size.

        Parameters
        ----------
        rules : as they were found on the reduced copy
        read : gives rows first .. stop-1 of the depth, (stop - first, W) float32
        shape : (H, W) of the sheet
        reach : pixels that a rule may lie away from where it was found
        """
        self._lines: list[_Line] = []
        for one in rules:
            height, width = shape[::-1] if one.turned else shape
            paths = _along(one.place, np.arange(width), width) * height - 0.5
            for path, first, band in _bands(read, shape, paths, one.turned, around=2 * reach + 3):
                self._lines.append(_measured(path, first, band, one.turned, reach=reach))
        peaks = [float(line.across.max()) for line in self._lines]
        rule = median_of(peaks) if peaks else 0.0
        self.ink = _ink_depth(read, shape[0], deeper_than=_INK_OVER_RULE * rule + 0.05)

    def clean(self, depth: Float32Array, top: int) -> Float32Array:
        """The depth of the rows from ``top``, without the rules; changed in place."""
        bottom = top + len(depth)
        for line in self._lines:
            path, around = line.path, line.around
            if line.turned:
                along, path = np.arange(len(depth)), path[top:bottom]
            elif path.max() + around < top or path.min() - around >= bottom:
                continue
            else:
                along, path = np.arange(len(path)), path - top
            view = depth.T if line.turned else depth
            for by in range(-around, around + 1):
                at = np.round(path).astype(int) + by
                inside = (at >= 0) & (at < len(view))
                rows, columns = at[inside], along[inside]
                view[rows, columns] = line.alone(view[rows, columns], (at - path)[inside], self.ink)
        return depth


@dataclass(frozen=True, slots=True)
class _Line:
    """One rule at full size: its row at every column (turned: its column at every row), and its
    depth at -around .. around from there."""

    path: Float64Array
    across: Float64Array
    turned: bool

    @property
    def around(self) -> int:
        return len(self.across) // 2

    def alone(self, depth: Float32Array, away: Float64Array, ink: float) -> Float32Array:
        """The depth of the ink alone, ``away`` from the middle of the rule."""
        rule = np.interp(away, np.arange(-self.around, self.around + 1), self.across)
        rule = np.minimum(_UNEVEN * rule, 0.85 * ink)
        alone = np.where(rule > 0.01 * ink, ink * (depth - rule) / (ink - rule), depth)
        return alone.astype(np.float32)


def _bands(
    read: Callable[[int, int], Float32Array],
    shape: tuple[int, int],
    paths: Float64Array,
    turned: bool,
    *,
    around: int,
) -> Iterator[tuple[Float64Array, int, Float32Array]]:
    """Each path, the first row of the band of the sheet around it, and that band.

    The sheet is read once, strip by strip, for all that run down it.
    """
    whole = shape[1] if turned else shape[0]
    firsts = np.clip(np.floor(paths.min(axis=1)).astype(int) - around, 0, whole)
    stops = np.clip(np.ceil(paths.max(axis=1)).astype(int) + around + 1, 0, whole)
    bands: list[list[Float32Array]] = [[] for _ in paths]
    if turned:
        for top in range(0, shape[0], _ROWS_AT_ONCE):
            strip = read(top, min(shape[0], top + _ROWS_AT_ONCE))
            for band, first, stop in zip(bands, firsts, stops, strict=True):
                band.append(strip[:, first:stop].T.copy())
    else:
        for band, first, stop in zip(bands, firsts, stops, strict=True):
            band.append(read(first, stop))
    for path, parts, first in zip(paths, bands, firsts, strict=True):
        whole_band = np.concatenate(parts, axis=1)
        if len(whole_band) > 2:
            yield path, int(first), whole_band


def _measured(
    path: Float64Array, first: int, band: Float32Array, turned: bool, *, reach: int
) -> _Line:
    around = 2 * reach + 3
    flat = _straightened(band, path - first, around)
    path = path + _followed(flat, reach)
    inside = (path >= first) & (path < first + len(band))  # part of it may lie off the sheet
    if not inside.any():
        return _Line(path, np.zeros(2 * around + 1), turned)
    across = np.median(_straightened(band, path - first, around)[:, inside], axis=1)
    # Beyond the rule is the paper's own.
    across = np.maximum(across - median_of(across[[0, 1, -2, -1]]), 0)
    return _Line(path, across, turned)


def _ink_depth(
    read: Callable[[int, int], Float32Array], height: int, *, deeper_than: float
) -> float:
    """How deep ink is: the upper quartile of what is deeper than the rules."""
    tops = distinct(np.linspace(0, max(0, height - 8), 40).astype(int))
    deep = [rows[rows > deeper_than] for rows in (read(t, min(height, t + 8)) for t in tops)]
    found = np.concatenate(deep)
    return quantile_of(found, 0.75) if found.size else 1.0


def _straightened(band: Float32Array, path: Float64Array, around: int) -> Float64Array:
    """(2 around + 1, W): the band's pixels by their distance from the path, between rows too."""
    rows = path + np.arange(-around, around + 1)[:, None]
    low = np.clip(np.floor(rows).astype(int), 0, len(band) - 2)
    part = np.clip(rows - low, 0, 1)
    columns = np.arange(band.shape[1])
    straight: Float64Array = band[low, columns] * (1 - part) + band[low + 1, columns] * part
    return straight


def _followed(flat: Float64Array, reach: int) -> Float64Array:
    """How far the rule lies from its path, for every pixel along it; smooth."""
    around, width = len(flat) // 2, flat.shape[1]
    edges = np.linspace(0, width, min(width, 4 * _STATIONS) + 1).astype(int)
    off = []
    for a, b in itertools.pairwise(edges):
        across = np.median(flat[:, a:b], axis=1)  # ink that crosses is the smaller part
        window = across[around - reach : around + reach + 1]
        weight = np.maximum(window - median_of(across), 0) ** 2
        where = np.arange(-reach, reach + 1)
        total = float(weight.sum())
        off.append(float((weight * where).sum() / total) if total > 0 else 0.0)
    # Rules bend with their paper, slowly; strokes that run along one would lead astray.
    middles, found = (edges[1:] + edges[:-1]) / 2, np.array(off)
    good = np.ones(len(found), np.bool_)
    for _ in range(5):
        smooth = np.polynomial.Polynomial.fit(middles[good], found[good], 3)(middles)
        away = np.abs(found - smooth)
        good = away <= max(0.4, 2.0 * median_of(away))
    followed: Float64Array = np.interp(np.arange(width), middles, smooth)
    return followed
