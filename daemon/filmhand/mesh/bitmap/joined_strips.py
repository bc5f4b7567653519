"""A counted strip joined to what is open above it, along their seam."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Int32Array, Int64Array
from filmhand.kernels.loops import CompiledLoops, compiled
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.labeling import joined_sets
from filmhand.mesh.bitmap.sealed_strip import SealedStrip, Seam
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class OpenComponents:
    """The components that reach the last row so far.

    Attributes
    ----------
    last : the runs of that row
    ink, cut : (n,) bool, the color of each, and whether a border cuts it
    area : (n,) int64, pixels so far
    runs : the pixels of those that are small yet
    """

    last: Seam
    ink: BoolArray
    area: Int64Array
    cut: BoolArray
    runs: SmallRuns

    @classmethod
    def none(cls) -> OpenComponents:
        """None, as above the first row."""
        empty, truth = np.empty(0, np.int32), np.empty(0, np.bool_)
        runs = SmallRuns.joined([])
        return cls(Seam(empty, empty), truth, np.empty(0, np.int64), truth, runs)


@dataclass(frozen=True, slots=True)
class JoinedStrip:
    """What comes of joining a strip: pairs are by color, bare film first.

    Attributes
    ----------
    cut : components that are closed now and cut by a border
    areas : of the closed components that are not
    small : the runs of the small ones among them
    opened : what is open at the strip's last row
    """

    cut: tuple[int, int]
    areas: tuple[AreaCounts, AreaCounts]
    small: tuple[SmallRuns, SmallRuns]
    opened: OpenComponents


def join_strip(above: OpenComponents, strip: SealedStrip, keep: tuple[int, int]) -> JoinedStrip:
    """Join a strip to what was open above it.

    ``keep`` : of bare film and of ink, components with fewer pixels are small
    """
    loops = compiled()
    if loops is not None:
        return _by_compiled(loops, above, strip, keep)
    return _by_numpy(above, strip, np.array(keep, np.int64))


def _by_compiled(
    loops: CompiledLoops, above: OpenComponents, strip: SealedStrip, keep: tuple[int, int]
) -> JoinedStrip:
    upper = above.last.columns, above.last.owner, above.ink, above.area, above.cut
    lower = strip.first.columns, strip.first.owner, strip.ink, strip.area, strip.cut
    cut, areas, small, opened = loops.join_seam(
        (*upper, np.stack(above.runs, axis=1)),
        (*lower, np.stack(strip.runs, axis=1)),
        strip.last.owner,
        keep,
    )
    owner, ink, area, is_cut, runs = opened
    bare, inked = (AreaCounts.of(np.frombuffer(some, np.int64)) for some in areas)
    return JoinedStrip(
        cut,
        (bare, inked),
        (_runs(small[0]), _runs(small[1])),
        OpenComponents(
            Seam(strip.last.columns, np.frombuffer(owner, np.int32)),
            np.frombuffer(ink, np.bool_),
            np.frombuffer(area, np.int64),
            np.frombuffer(is_cut, np.bool_),
            _runs(runs),
        ),
    )


def _runs(runs: bytes) -> SmallRuns:
    return SmallRuns(*np.frombuffer(runs, np.int64).reshape(-1, 4).T)


def _by_numpy(above: OpenComponents, strip: SealedStrip, keep: Int64Array) -> JoinedStrip:
    # The components that were open come first, then those open in the strip.
    opened = above.area.size
    root = _roots(above, strip)
    is_root = root == np.arange(root.size)
    number = np.cumsum(is_root) - 1
    new = number[root]
    count = int(is_root.sum())
    area = np.bincount(new, np.append(above.area, strip.area), minlength=count)
    area = area.astype(np.int64)
    cut = np.zeros(count, np.bool_)
    cut[new[np.append(above.cut, strip.cut)]] = True
    ink = np.append(above.ink, strip.ink)[is_root]
    is_open = np.zeros(count, np.bool_)
    is_open[new[opened:][strip.last.owner]] = True
    small = (area < keep[ink.astype(np.intp)]) & ~cut
    before, after = new[above.runs.component], new[opened:][strip.runs.component]
    runs = SmallRuns.joined(
        [above.runs.chosen(small[before], before), strip.runs.chosen(small[after], after)]
    )
    bare, inked = (~is_open & (ink == color) for color in (False, True))
    renumber = np.cumsum(is_open, dtype=np.int32) - 1
    return JoinedStrip(
        (int((bare & cut).sum()), int((inked & cut).sum())),
        (AreaCounts.of(area[bare & ~cut]), AreaCounts.of(area[inked & ~cut])),
        (runs.numbered(bare & small), runs.numbered(inked & small)),
        OpenComponents(
            Seam(strip.last.columns, renumber[new[opened:][strip.last.owner]]),
            ink[is_open],
            area[is_open],
            cut[is_open],
            runs.numbered(is_open & small, renumber),
        ),
    )


def _roots(above: OpenComponents, strip: SealedStrip) -> Int32Array:
    """First component of each joined set, over the open components and the strip's."""
    opened = above.area.size
    count = opened + strip.area.size
    if not opened:
        return np.arange(count, dtype=np.int32)
    upper, lower = above.last, strip.first
    # Every pair of an upper and a lower run that share a column does so where the later of the
    # two begins.
    columns = np.concatenate([upper.columns, lower.columns])
    over = np.searchsorted(upper.columns, columns, side="right") - 1
    below = np.searchsorted(lower.columns, columns, side="right") - 1
    one, other = upper.owner[over], lower.owner[below]
    same = above.ink[one] == strip.ink[other]
    return joined_sets(count, one[same], other[same] + np.int32(opened))
