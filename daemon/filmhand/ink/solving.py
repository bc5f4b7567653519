"""How much of each ink prints a color, by the model of the print.

The model is turned round by damped least squares (D. W. Marquardt, An algorithm for least-squares
estimation of nonlinear parameters, J. SIAM 11(2), 1963) over all colors at once, each beginning at
the nearest of a few combinations of inks. Differences of lightness, chroma and hue are weighted as
CIEDE2000 weights them at the color, but hue twice as much: what cannot be printed goes to the
nearest that can of about its hue, halfway to the clipping that keeps hue altogether (HPMINDE of CIE
156:2004). Where several combinations print the same, the one with less ink is taken, and black may
be given its part of what all can do.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.ink.cielab import lab_to_xyz, srgb_to_lab, with_black_at
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_table import GRID, ColorTable, grid_codes
from filmhand.ink.mixing import PrintModel
from filmhand.values import dataclass

_ROUNDS = 40
_HUE = 2.0  # what hue counts beside lightness and chroma
_LEAST_INK = 0.15  # of weighted L*, a*, b*, what a solid of ink is held back by
_HELD_BACK = 0.7  # the same of the ink that is to be least
_OVER_LIMIT = 300.0  # the same of a whole ink above the limit of the sum
_SWEEPS = 24  # of a table, in each of which an ink comes nearer to that of its neighbors
_SWEEP_ROUNDS = 6
_DRAWN_NEAR = 1.0  # of weighted L*, a*, b*, what a solid of ink is drawn to them by
_KEPT_NEAR = 10.0  # the same where what is given is to change by no more than it must
_AT_ONCE = 2**22  # parts of areas looked at
_SHADOWS = 4.0  # times the darkest Y, up to which colors are made lighter; 2 would leave no slope
_SETTLED = 1e-5  # of coverage: what steps by less is as it stays


@dataclass(frozen=True, slots=True)
class InkRules:
    """What may be printed.

    Attributes
    ----------
    total_ink : the most that the coverages of a place add up to; 3 is 300 %
    black : which ink is black, by its place in print order; None where none is
    black_generation : 0 for as little black as the color allows, 1 for as much
    black_alone : whether what is wholly black is to be of black ink alone, as in drawings; in
        photographs other inks deepen it
    """

    total_ink: float = np.inf
    black: int | None = None
    black_generation: float = 0.5
    black_alone: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class SolvedInks:
    """What prints colors.

    Attributes
    ----------
    coverages : (m, n) float64, the printed area of each ink, 0..1
    differences : (m,) float64, CIEDE2000 from the print to what was asked
    """

    coverages: Float64Array
    differences: Float64Array


def solve_inks(colors: Float64Array, model: PrintModel, rules: InkRules) -> SolvedInks:
    """The coverages that print each color, or come nearest to it.

    Parameters
    ----------
    colors : (m, 3) float64, L*, a*, b*
    model : the inks on their cloth
    rules : what may be printed

    Raises
    ------
    ValueError
        For a black that there is not, and a total or part that is out of range.
    """
    _judge(model, rules)
    n, black = model.ink_count, rules.black
    held = np.full(n, _LEAST_INK)
    fixed: Float64Array | None = None
    if black is not None:
        others = np.arange(n) != black
        least = _solved(colors, model, rules, np.where(others, held, _HELD_BACK))[:, black]
        most = _solved(colors, model, rules, np.where(others, _HELD_BACK, held))[:, black]
        fixed = least + rules.black_generation * np.maximum(most - least, 0)
    coverages = _solved(colors, model, rules, held, black=fixed)
    return SolvedInks(coverages, color_difference(model.screened(coverages), colors))


def separation_table(
    model: PrintModel, rules: InkRules, *, size: int = GRID, compensate_black: bool = True
) -> ColorTable:
    """The table from sRGB codes to coverages.

    Colors that several combinations print may get one here and quite another beside it, and what
    lies between in the table would print neither. So all are solved again a few times, each drawn
    to the mean of its neighbors. Of inks that print few of the colors, as some dark ones do, the
    table still is coarse; :func:`solve_inks` of the colors themselves is not.

    Parameters
    ----------
    model : the inks on their cloth
    rules : what may be printed
    size : colors to each side of the table
    compensate_black : whether shadows are drawn nearer to white, so that the darkest that is to be
        printed is black and they stay apart (after ISO 18619:2015, black point compensation)
    """
    _judge(model, rules)
    colors = srgb_to_lab(grid_codes(size))
    if compensate_black:
        colors = _lightened(colors, _darkest(model, rules))
    coverages = solve_inks(colors, model, rules).coverages
    black = None if rules.black is None else coverages[:, rules.black]
    for _ in range(_SWEEPS):
        near = _among_neighbors(coverages, size)
        coverages = _solved(colors, model, rules, _DRAWN_NEAR, black=black, near=near)
    return ColorTable.of(coverages)


def mended_coverages(
    coverages: Float64Array, colors: Float64Array, model: PrintModel, rules: InkRules
) -> Float64Array:
    """(m, n) coverages near to those given that print the colors, or come nearer to them.

    That of black stays.

    Parameters
    ----------
    coverages : (m, n) float64, 0..1
    colors : (m, 3) float64, L*, a*, b*
    model : the inks on their cloth
    rules : what may be printed
    """
    mended = np.empty_like(coverages)
    for part in _parts(len(colors), model):
        near = coverages[part]
        black = None if rules.black is None else near[:, rules.black]
        mended[part] = _solved(colors[part], model, rules, _KEPT_NEAR, black=black, near=near)
    return mended


def printed_colors(coverages: Float64Array, model: PrintModel) -> Float64Array:
    """(m, 3) as ``model.screened``, in less memory where colors or inks are many."""
    printed = np.empty((len(coverages), 3))
    for part in _parts(len(coverages), model):
        printed[part] = model.screened(coverages[part])
    return printed


def _parts(count: int, model: PrintModel) -> Iterator[slice]:
    step = max(1, _AT_ONCE // len(model.primaries))
    return (slice(first, first + step) for first in range(0, count, step))


def _among_neighbors(values: Float64Array, size: int) -> Float64Array:
    """(size ** 3, k) the mean of the values next to each on its grid, along all three axes."""
    grid = values.reshape(size, size, size, -1)
    total, count = np.zeros_like(grid), np.zeros((size, size, size, 1))
    for axis in range(3):
        sums, counts, along = (np.moveaxis(part, axis, 0) for part in (total, count, grid))
        sums[1:] += along[:-1]
        sums[:-1] += along[1:]
        counts[1:] += 1
        counts[:-1] += 1
    return (total / count).reshape(values.shape)


def _judge(model: PrintModel, rules: InkRules) -> None:
    if rules.black is not None and not 0 <= rules.black < model.ink_count:
        raise ValueError(f"there is no ink {rules.black} of {model.ink_count}")
    if not rules.total_ink > 0:
        raise ValueError(f"a total of {rules.total_ink} leaves no ink")
    if not 0 <= rules.black_generation <= 1:
        raise ValueError(f"a black generation of {rules.black_generation} is not from 0 to 1")


def _combinations(model: PrintModel, rules: InkRules) -> Float64Array:
    """(k, n) a few coverages all over what may be printed: in halves, where inks are not many."""
    levels = (0.0, 0.5, 1.0) if model.ink_count <= 6 else (0.0, 1.0)
    every = np.array(list(product(levels, repeat=model.ink_count)))
    return _within(every, rules.total_ink)


def _darkest(model: PrintModel, rules: InkRules) -> float:
    """The lowest Y that is to be printed, 0..1."""
    if rules.black is None or not rules.black_alone:
        coverages = _combinations(model, rules)
    else:
        coverages = np.zeros((2, model.ink_count))
        coverages[1, rules.black] = 1
    printed = model.screened(coverages)
    return float(lab_to_xyz(printed[printed[:, 0].argmin()])[1])


def _lightened(colors: Float64Array, darkest: float) -> Float64Array:
    """Shadows drawn nearer to white in XYZ, so that black has the Y given.

    Black point compensation (ISO 18619:2015) does so with all colors; here those that are more than
    a few times as light as the darkest stay, which the inks print as they are.
    """
    shadow = np.clip(1 - lab_to_xyz(colors)[:, 1:2] / max(_SHADOWS * darkest, 1e-9), 0, 1)
    return with_black_at(colors, darkest * shadow**2)


def _within(coverages: Float64Array, total: float) -> Float64Array:
    """Coverages that add up to the total at most, all cut by the same factor."""
    if np.isinf(total):
        return coverages
    cut: Float64Array = coverages * total / np.maximum(coverages.sum(axis=1, keepdims=True), total)
    return cut


def color_metric(colors: Float64Array, *, hue: float = _HUE) -> Float64Array:
    """(m, 3, 3) from differences of L*, a*, b* to those of weighted lightness, chroma and hue.

    The weights are those of ISO/CIE 11664-6:2014, without what turns blues.

    Parameters
    ----------
    colors : (m, 3) float64, L*, a*, b*, what is differed from
    hue : how often hue counts
    """
    lightness, a, b = colors.T
    chroma = np.hypot(a, b)
    safe = np.where(chroma > 1e-9, chroma, 1)
    across, along = np.where(chroma > 1e-9, a / safe, 1), np.where(chroma > 1e-9, b / safe, 0)
    square = (lightness - 50) ** 2
    metric = np.zeros((len(colors), 3, 3))
    metric[:, 0, 0] = 1 / (1 + 0.015 * square / np.sqrt(20 + square))
    metric[:, 1, 1:] = np.stack([across, along], axis=1) / (1 + 0.045 * chroma)[:, None]
    metric[:, 2, 1:] = hue * np.stack([-along, across], axis=1) / (1 + 0.015 * chroma)[:, None]
    return metric


def _solved(
    colors: Float64Array,
    model: PrintModel,
    rules: InkRules,
    held: Float64Array | float,
    *,
    black: Float64Array | None = None,
    near: Float64Array | None = None,
) -> Float64Array:
    """(m, n) coverages, each ink drawn by ``held`` to (m, n) ``near``, or to none.

    That of black is fixed, where (m,) ``black`` is given.
    """
    free = np.ones(model.ink_count, bool)
    if black is not None:
        free[rules.black] = False
    metric = color_metric(colors)
    start = _start(colors, metric, model, rules, black) if near is None else near
    coverages = np.clip(start, 0, 1)
    if black is not None:
        coverages[:, rules.black] = black
    wanted = np.zeros_like(coverages) if near is None else near
    asked = _Asked(model, rules, np.broadcast_to(held, free.shape) ** 2, metric, colors, wanted)
    left = np.arange(len(colors))  # those that still change
    now, damping = asked.looked_at(coverages), np.full(len(colors), 1e-2)
    for _ in range(_ROUNDS if near is None else _SWEEP_ROUNDS):
        steps = _steps(now, damping, coverages[left], free)
        tried = np.clip(coverages[left] + steps, 0, 1)
        then = asked.looked_at(tried)
        better = then.off < now.off
        moves = np.abs(tried - coverages[left]).max(axis=1, initial=0) > _SETTLED
        coverages[left[better]] = tried[better]
        damping = np.clip(np.where(better, damping / 3, damping * 4), 1e-6, 1e6)[moves]
        now = then.where(better, now).part(moves)
        left, asked = left[moves], asked.part(moves)
        if not len(left):
            break
    return _within(coverages, rules.total_ink)


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """How far off some coverages are: the sum of squares, and what steps are taken by.

    Attributes
    ----------
    off : (m,) the sum of squares
    down : (m, n) half of how it falls with each ink
    square : (m, n, n) the slopes of all that is squared, by themselves
    """

    off: Float64Array
    down: Float64Array
    square: Float64Array

    def part(self, kept: BoolArray) -> _Look:
        """That of some of them."""
        return _Look(self.off[kept], self.down[kept], self.square[kept])

    def where(self, better: BoolArray, other: _Look) -> _Look:
        """This where it is better, and the other elsewhere."""
        return _Look(
            np.where(better, self.off, other.off),
            np.where(better[:, None], self.down, other.down),
            np.where(better[:, None, None], self.square, other.square),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is to become small.

    That is the weighted difference of color, what inks differ from what they are drawn to, and what
    is above the limit of their sum.
    """

    model: PrintModel
    rules: InkRules
    held: Float64Array  # (n,), squares
    metric: Float64Array
    colors: Float64Array
    wanted: Float64Array

    def part(self, kept: BoolArray) -> _Asked:
        """Of some of the colors."""
        parts = self.metric[kept], self.colors[kept], self.wanted[kept]
        return _Asked(self.model, self.rules, self.held, *parts)

    def looked_at(self, coverages: Float64Array) -> _Look:
        """How far off (m, n) coverages are."""
        printed, slopes = self.model.screened_with_slopes(coverages)
        seen = np.einsum("mij,mj->im", self.metric, printed - self.colors)
        slopes = np.einsum("mij,jkm->ikm", self.metric, slopes)
        drawn = coverages - self.wanted
        over = np.maximum(coverages.sum(axis=1) - self.rules.total_ink, 0)
        off = (seen**2).sum(axis=0) + (self.held * drawn**2).sum(axis=1) + (_OVER_LIMIT * over) ** 2
        down = -(slopes * seen[:, None]).sum(axis=0).T - self.held * drawn
        down -= _OVER_LIMIT**2 * over[:, None]
        square = np.einsum("cim,cjm->mij", slopes, slopes) + np.diag(self.held)
        square += (_OVER_LIMIT**2 * (over > 0))[:, None, None]
        return _Look(off, down, square)


def _start(
    colors: Float64Array,
    metric: Float64Array,
    model: PrintModel,
    rules: InkRules,
    black: Float64Array | None,
) -> Float64Array:
    """(m, n) the combination that prints nearest to each color, and with a black near to its."""
    combinations = _combinations(model, rules)
    printed = model.screened(combinations)
    nearest = np.zeros(len(colors), np.int64)
    least = np.full(len(colors), np.inf)
    for place, (lab, inks) in enumerate(zip(printed, combinations, strict=True)):
        seen = np.einsum("mij,mj->mi", metric, lab - colors)
        distance = (seen**2).sum(axis=1)
        if black is not None:
            distance += (30 * (inks[rules.black] - black)) ** 2
        nearer = distance < least
        nearest[nearer], least[nearer] = place, distance[nearer]
    return combinations[nearest]


def _steps(
    now: _Look, damping: Float64Array, coverages: Float64Array, free: BoolArray
) -> Float64Array:
    """(m, n) the steps of damped least squares, of inks that are free and not pressed to an end."""
    down, square = now.down, now.square.copy()
    pressed = ((coverages <= 0) & (down < 0)) | ((coverages >= 1) & (down > 0)) | ~free
    diagonal = np.arange(len(free))
    square[:, diagonal, diagonal] *= 1 + damping[:, None]
    square[:, diagonal, diagonal] += 1e-9
    loose = ~pressed
    square = np.where(loose[:, :, None] & loose[:, None], square, np.eye(len(free)))
    return np.asarray(np.linalg.solve(square, np.where(loose, down, 0)[..., None])[..., 0], float)
