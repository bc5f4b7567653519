"""Every dot and every shadow dot of a bitmap, counted and measured strip by strip.

A component is a set of pixels of one color joined edge to edge (4-connected). That is the
stricter choice for both colors: pixels that touch at a corner only are two dots, as they are for
the stencil.

Strips are counted on their own (:mod:`filmhand.mesh.bitmap.sealed_strip`), in any thread, and then
joined in order along their seams. Of every strip no more is kept than that takes, and of sizes how
many components have each, so memory follows the sheet's width and the number of small components;
of its height it takes two rows a strip.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from filmhand.arrays import BoolArray, UInt8Array
from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.joined_strips import OpenComponents, join_strip
from filmhand.mesh.bitmap.labeling import with_neighbors
from filmhand.mesh.bitmap.sealed_strip import SealedStrip, seal_strip
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.speaking_pool import SpeakingPool
from filmhand.values import dataclass

# Rows of a strip: two of each are kept, and while it is counted, some bytes for each of its runs;
# NumPy's way takes more for each pixel.
_STRIP, _PLAIN_STRIP = 256, 128


@dataclass(frozen=True, slots=True)
class Components:
    """What one color of a bitmap consists of.

    Attributes
    ----------
    areas : sizes of the components that no border cuts
    cut : number of components that the border of the area, or what lies outside it, cuts
    pixels : pixels of this color
    small : the pixels of the uncut components below the size asked for
    """

    areas: AreaCounts
    cut: int
    pixels: int
    small: SmallRuns


def count_components(
    read: Callable[[int, int], UInt8Array],
    size: tuple[int, int],
    *,
    skip: int = 0,
    small_dot: int = 0,
    small_shadow_dot: int = 0,
    threads: int = 1,
) -> tuple[Components, Components]:
    """All dots and all shadow dots of an area; see :class:`Census` for the parameters.

    Parameters
    ----------
    read : rows a .. b of the area, packed
    threads : how many strips are counted at once

    Returns
    -------
    (dots, shadow dots)
    """
    census = Census(size, skip=skip, small_dot=small_dot, small_shadow_dot=small_shadow_dot)
    return census.take(read, census.strips, threads=threads)


class Census:
    """The components of an area, strip by strip, in any order; changed strips are taken again.

    Parameters
    ----------
    size : (width, height)
    skip : pixels (0 .. 7) before the area in the first byte of every row
    small_dot, small_shadow_dot : components with fewer pixels are kept as runs
    outside : rows a .. b as bool; components that lie on such a pixel, or touch one edge to edge,
        count as cut by a border
    strip : rows of a strip; the result does not depend on it
    """

    def __init__(
        self,
        size: tuple[int, int],
        *,
        skip: int = 0,
        small_dot: int = 0,
        small_shadow_dot: int = 0,
        outside: Callable[[int, int], BoolArray] | None = None,
        strip: int | None = None,
    ) -> None:
        self._width, self._height = size
        self._skip = skip
        self._keep = (small_shadow_dot, small_dot)
        self._outside = outside
        self._strip = strip or (_PLAIN_STRIP if compiled() is None else _STRIP)
        self._sealed: dict[int, SealedStrip] = {}
        self.strips = range(0, self._height, self._strip)

    def rows_of(self, top: int) -> tuple[int, int]:
        """First row and the row past the last of the strip that begins at ``top``."""
        return top, min(self._height, top + self._strip)

    def holding(self, rows: Iterable[int]) -> list[int]:
        """The strips that hold these rows."""
        return sorted({row // self._strip * self._strip for row in rows})

    def count(self, top: int, rows: UInt8Array) -> None:
        """Count the strip that begins at ``top``; strips may be counted in several threads.

        ``rows`` are (h, n) uint8, packed most significant bit first, 1 = ink.
        """
        first, stop = self.rows_of(top)
        beyond = None
        if self._outside is not None:
            above, below = max(0, first - 1), min(self._height, stop + 1)
            beyond = with_neighbors(self._outside(above, below))[first - above : stop - above]
        self._sealed[top] = seal_strip(
            rows, skip=self._skip, width=self._width, top=top, beyond=beyond, keep=self._keep
        )

    def take(
        self, read: Callable[[int, int], UInt8Array], tops: Iterable[int], *, threads: int = 1
    ) -> tuple[Components, Components]:
        """Count strips anew from the packed rows that ``read`` gives; (dots, shadow dots) of all.

        Each strip must be among them, or have been counted before. They are joined in their order
        while later ones are still being counted.
        """
        with SpeakingPool(threads) as pool:
            counted = {
                top: pool.submit(lambda top: self.count(top, read(*self.rows_of(top))), top)
                for top in tops
            }

            def wait_for(top: int) -> None:
                if top in counted:
                    counted[top].result()

            return self._joined(wait_for)

    def result(self) -> tuple[Components, Components]:
        """(dots, shadow dots) of the whole area, once every strip has been counted."""
        return self._joined(lambda top: None)

    def _joined(self, wait_for: Callable[[int], None]) -> tuple[Components, Components]:
        joiner = _Joiner(self._keep)
        for top in self.strips:
            wait_for(top)
            joiner.add(self._sealed[top])
        return joiner.finish()


class _Joiner:
    """Joins sealed strips along their seams, in order."""

    def __init__(self, keep: tuple[int, int]) -> None:
        self._keep = keep
        self._pixels = [0, 0]
        self._cut = [0, 0]
        self._areas: tuple[list[AreaCounts], list[AreaCounts]] = ([], [])
        self._small: tuple[list[SmallRuns], list[SmallRuns]] = ([], [])
        self._small_count = [0, 0]
        self._opened = OpenComponents.none()

    def add(self, strip: SealedStrip) -> None:
        """Take the next strip."""
        joined = join_strip(self._opened, strip, self._keep)
        self._opened = joined.opened
        for color in (0, 1):
            self._pixels[color] += strip.pixels[color]
            self._cut[color] += strip.cut_inside[color] + joined.cut[color]
            self._areas[color].extend([strip.areas[color], joined.areas[color]])
            self._add_small(color, strip.small[color])
            self._add_small(color, joined.small[color])

    def finish(self) -> tuple[Components, Components]:
        """(dots, shadow dots); components that touch the last row are cut by the border."""
        for color in (0, 1):
            self._cut[color] += int((self._opened.ink == color).sum())
        shadow_dots, dots = (
            Components(
                AreaCounts.joined(self._areas[color]),
                self._cut[color],
                self._pixels[color],
                SmallRuns.joined(self._small[color]).in_order(),
            )
            for color in (0, 1)
        )
        return dots, shadow_dots

    def _add_small(self, color: int, runs: SmallRuns) -> None:
        if not runs.row.size:
            return
        number = runs.component + self._small_count[color]
        self._small_count[color] = int(number.max()) + 1
        self._small[color].append(runs._replace(component=number))
