"""The tones of inks to the bits of their films, all films of a set at once.

What each pixel is of every ink follows from one look at the art, so a strip is laid down on all
films before the next one is begun.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.pipeline.render.strips import STRIP, AreaOfSheet
from filmhand.screen.screener import Screener
from filmhand.speaking_pool import SpeakingPool
from filmhand.tone import FULL
from filmhand.values import dataclass


class ToneSource(Protocol):
    """Where the tones of all films come from; several threads may ask at once."""

    def tones(self, first: int, count: int) -> UInt16Array:
        """(n, count, width) uint16 of some rows, 0 for none of an ink and 65535 for a solid."""


@dataclass(frozen=True, slots=True)
class FilmToFill:
    """One film of a set.

    Attributes
    ----------
    area : where the art lies on it
    screener : for the columns of the area; None for an ink that is cut at half its tone
    curve : (65536,) uint16, from the tone that is wanted to that of the film; None for the same
    beside_tints : where it is kept which pixels are solid or bare, and no tint; None to keep none
    """

    area: AreaOfSheet
    screener: Screener | None = None
    curve: UInt16Array | None = None
    beside_tints: AreaOfSheet | None = None

    def ink(self, tones: UInt16Array, first: int) -> BoolArray:
        """(count, width) bool, where rows of these tones have ink, the first ``first`` of the art.

        Nothing stays nothing and a solid stays solid, whatever the curve makes of tones.
        """
        if self.screener is None:
            return tones > FULL // 2
        wanted = tones if self.curve is None else self.curve[tones]
        ink = self.screener.cut(wanted, row=self.area.area.top + first)
        ink &= tones > 0
        ink |= tones == FULL
        return ink


def fill_films(films: Sequence[FilmToFill], source: ToneSource, *, threads: int = 1) -> None:
    """Write the bits of all films.

    Parameters
    ----------
    films : in print order; the art has one size on all
    source : of as many inks, at that size

    Raises
    ------
    ValueError
        Where films are not of one size.
    """
    sizes = {(film.area.area.width, film.area.area.height) for film in films}
    if len(sizes) != 1:
        raise ValueError(f"the art has one size on all films, found {sorted(sizes)}")
    ((_, height),) = sizes

    def one(first: int) -> None:
        tones = source.tones(first, min(STRIP, height - first))
        for film, own in zip(films, tones, strict=True):
            film.area.write(first, film.ink(own, first))
            if film.beside_tints is not None:
                film.beside_tints.write(first, (own == 0) | (own == FULL))

    with SpeakingPool(threads) as pool:
        list(pool.map(one, range(0, height, STRIP)))
