"""The slow beat between the dots and the threads: moire, from frequency vectors.

A mesh order and a dot order that nearly coincide leave a low difference frequency, which the eye
sees as bands (I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009,
ch. 2). How much they change the mean ink is the product of the two orders' Fourier coefficients;
how much of that is seen goes by their period. A tensioned mesh is stretched by an amount that few
people measure, so each pair of orders counts as it is seen most over a whole interval.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from filmhand.arrays import Float64Array, Int64Array, distinct_rows
from filmhand.mesh.moire.fourier_orders import mesh_strength
from filmhand.mesh.moire.visibility import Sight
from filmhand.units import MM_PER_INCH
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh


# 5 % has no source: 100 a cm count 96 once stretched (mediotono.es, fichas 3578), which is 4 %, and
# a little more may be. That tension moves the count at all: SPTF, Physical Changes in Polyester
# Mesh During Tensioning, printing.org, whose figures could not be read.
LARGEST_STRETCH = 0.05
# A stretch that somebody measured is right to about this.
STRETCH_MEASURED_WITHIN = 0.01
# A lock is an endless period; what is longer than any film is reported as this.
LONGEST_MM = 1000.0
_LARGEST_ORDER = 3
_LOW_ORDERS = np.array([(1, 0), (0, 1), (1, 1), (1, -1)])
_ORDERS = np.array(
    [
        (m, n)
        for m in range(_LARGEST_ORDER + 1)
        for n in range(-_LARGEST_ORDER, _LARGEST_ORDER + 1)
        if (m, n) > (0, 0)
    ]
)
# Along its way an order is looked at in steps of at most this much of the screen's frequency, so
# that the nearest dot order is always a corner of the cell that one of the steps lies in.
_STEP = 0.25
# Of so many bands the strength is worth a closer look; an order that ideal dots lack counts with
# this strength among them, since real ones may have it.
_CANDIDATES, _UNSURE = 24, 0.003
# Pixels make waves of their own, each dot order moved by whole multiples of the pixels per inch.
_LARGEST_PIXEL_ORDER = 2
_TOLD = 4
_NO_BANDS = ("period_mm", "strength_pct", "visibility")

FilmStrength = Callable[[Int64Array], Float64Array]
"""(k, 4) whole orders i, j of the dots and of the pixels across and up to their strengths (k,),
relative to the mean ink."""


@dataclass(frozen=True, slots=True)
class MeshThreads:
    """A square mesh as a grating.

    Attributes
    ----------
    threads_per_inch : of the slack mesh
    open_width : opening over pitch, for the strength of bands only
    angle : of the threads against the sheet, degrees
    stretch : least and largest share by which tension opens the weave
    """

    threads_per_inch: float
    open_width: float = 0.6
    angle: float = 0.0
    stretch: tuple[float, float] = (0.0, LARGEST_STRETCH)

    @classmethod
    def of(cls, mesh: Mesh, *, angle: float = 0.0) -> MeshThreads:
        """The weave of a mesh; a stretch that was measured is taken to within a point."""
        stretch = (0.0, LARGEST_STRETCH)
        if mesh.stretch_percent is not None:
            measured = mesh.stretch_percent / 100
            stretch = (
                max(0.0, measured - STRETCH_MEASURED_WITHIN),
                measured + STRETCH_MEASURED_WITHIN,
            )
        return cls(mesh.threads_per_inch, mesh.opening_um / mesh.pitch_um, angle, stretch)


@dataclass(frozen=True, slots=True)
class Bands:
    """The bands of one pair of orders, at the stretch at which they are seen most.

    Attributes
    ----------
    period_mm : from band to band, no longer than the art has room for
    direction : of the bands, degrees counter-clockwise as seen, 0 <= direction < 180
    stretch : of the mesh, as a share
    mesh_order, dot_order : the pair; a line screen has the dot orders (0, j)
    pixel_order : (0, 0), or by how many times the pixels per inch across and up the wave of the
        dots is moved, where it is their pixels that make the bands
    of_mesh, of_film : strengths of the two orders, relative to their means
    share : how well the eye sees the period, 0..1
    """

    period_mm: float
    direction: float
    stretch: float
    mesh_order: tuple[int, int]
    dot_order: tuple[int, int]
    pixel_order: tuple[int, int]
    of_mesh: float
    of_film: float
    share: float

    @property
    def strength(self) -> float:
        """Change of the mean ink, up and down, as a share of it."""
        return 2 * self.of_mesh * self.of_film

    @property
    def visibility(self) -> float:
        """The strength times how well the eye sees it."""
        return self.strength * self.share

    def record(self) -> dict[str, Any]:
        """The bands as records and reports show them."""
        return {
            "period_mm": round(self.period_mm, 2),
            "direction": round(self.direction, 1) % 180,
            "strength_pct": round(self.strength * 100, 2),
            "visibility": round(self.visibility, 4),
            "stretch_pct": round(self.stretch * 100, 2),
            "mesh_order": list(self.mesh_order),
            "dot_order": list(self.dot_order),
            "pixel_order": list(self.pixel_order),
        }


@dataclass(frozen=True, slots=True)
class Moire:
    """The bands of a screen with a mesh.

    Attributes
    ----------
    period_mm : the longest on the slack mesh, of its orders (1,0), (0,1), (1,1) and (1,-1), visible
        or not
    bands : those seen most, the first of all first; none where all are longer than the art
    """

    period_mm: float
    bands: tuple[Bands, ...]

    @property
    def visibility(self) -> float:
        """That of the bands that are seen most."""
        return self.bands[0].visibility if self.bands else 0.0

    def of_film(self, strength: FilmStrength) -> Moire:
        """The bands of a film of other strengths on the same lattice."""
        if not self.bands:
            return self
        orders = np.array([(*one.dot_order, *one.pixel_order) for one in self.bands])
        found = strength(orders).tolist()
        bands = [replace(one, of_film=film) for one, film in zip(self.bands, found, strict=True)]
        return replace(self, bands=_seen_most_first(bands))

    def record(self) -> dict[str, Any]:
        """The bands that are seen most, and some others, as records show them."""
        told = [bands.record() for bands in self.bands[:_TOLD]]
        return {**self.summary(), "bands": told}

    def summary(self) -> dict[str, Any]:
        """The longest period, and the bands that are seen most."""
        most = self.bands[0].record() if self.bands else dict.fromkeys(_NO_BANDS)
        return {
            "period_mm": round(self.period_mm, 2),
            "worst_period_mm": most["period_mm"],
            "strength_pct": most["strength_pct"],
            "visibility": most["visibility"],
        }


def screen_vectors(lpi: float, angle: float, *, lines: bool = False) -> Float64Array:
    """(k, 2) float64: the frequency vectors of a screen, lines per inch, y up.

    Two for dots; one for lines, at right angles to their direction ``angle``.
    """
    direction = np.radians(angle)
    across = [-np.sin(direction), np.cos(direction)]
    if lines:
        return lpi * np.array([across])
    return lpi * np.array([[np.cos(direction), np.sin(direction)], across])


def moire_with_mesh(
    vectors: Float64Array,
    weave: MeshThreads,
    strength: FilmStrength,
    sight: Sight,
    *,
    pixels: tuple[float, float] | None = None,
) -> Moire:
    """The bands that a screen makes with a square mesh.

    Parameters
    ----------
    vectors : (1 or 2, 2) float64, the screen's frequency vectors, per inch; two are of one length
        and at right angles
    strength : of the screen's orders
    sight : from where bands are looked at, and how long they may be
    pixels : of the film, per inch across and up; None for dots without pixels
    """
    pairs = _pairs(vectors, weave, _ORDERS, pixels)
    bands = _bands(pairs, weave, strength, sight)
    return Moire(slack_period_mm(vectors, weave), _seen_most_first(bands))


def slack_period_mm(vectors: Float64Array, weave: MeshThreads) -> float:
    """The longest period with the lowest orders of the slack mesh, at most ``LONGEST_MM``."""
    slack = _pairs(vectors, replace(weave, stretch=(0.0, 0.0)), _LOW_ORDERS)
    lowest = float(slack.frequency(np.zeros(1)).min())
    return LONGEST_MM if lowest <= MM_PER_INCH / LONGEST_MM else MM_PER_INCH / lowest


@dataclass(frozen=True, slots=True)
class _Pairs:
    """Pairs of a mesh order and an order of the film that come near each other.

    ``mesh``, (k, 2), and ``film``, (k, 4), are the orders; their difference, per inch, is ``apart``
    at the least stretch, and less by ``way`` at the largest, both (k, 2).
    """

    mesh: Int64Array
    film: Int64Array
    apart: Float64Array
    way: Float64Array

    def frequency(self, shares: Float64Array) -> Float64Array:
        """(k,): that of the bands at these shares of the way."""
        found: Float64Array = np.hypot(*(self.apart - shares[:, None] * self.way).T)
        return found


def _pairs(
    vectors: Float64Array,
    weave: MeshThreads,
    mesh_orders: Int64Array,
    pixels: tuple[float, float] | None = None,
) -> _Pairs:
    turn = np.radians(weave.angle)
    threads = weave.threads_per_inch * np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    slack = mesh_orders @ threads
    least, largest = weave.stretch
    start, way = slack * (1 - least), slack * (least - largest)
    lpi = float(np.hypot(*vectors[0]))
    steps = int(np.ceil(float(np.hypot(*way.T).max()) / (_STEP * lpi))) + 1
    shares = np.linspace(0, 1, steps)[:, None, None, None]
    reach = np.arange(-_LARGEST_PIXEL_ORDER, _LARGEST_PIXEL_ORDER + 1) if pixels else np.zeros(1)
    moved = np.stack(np.meshgrid(reach, reach), -1).reshape(-1, 1, 2).astype(np.int64)
    # In the screen's own coordinates the nearest dot orders are the whole numbers round about.
    per_inch = np.array(pixels or (0.0, 0.0))
    places = (start + shares * way - moved * per_inch) @ vectors.T / lpi**2
    corners = np.stack([np.floor(places) + corner for corner in np.ndindex(*(2,) * len(vectors))])
    count = len(mesh_orders)
    orders = corners.reshape(-1, len(moved), count, len(vectors)).astype(np.int64)
    if len(vectors) == 1:
        orders = np.concatenate([np.zeros_like(orders), orders], axis=-1)
        vectors = np.concatenate([np.zeros_like(vectors), vectors])
    whole = (len(orders), len(moved), count)
    mesh = np.broadcast_to(np.arange(count), whole)
    parts = [mesh[..., None], orders, np.broadcast_to(moved, (*whole, 2))]
    both = np.concatenate(parts, axis=-1).reshape(-1, 5)
    pairs = distinct_rows(both[both[:, 1:3].any(axis=1)])
    mesh, film = pairs[:, 0], pairs[:, 1:]
    apart = film[:, :2] @ vectors + film[:, 2:] * per_inch - start[mesh]
    return _Pairs(mesh_orders[mesh], film, apart, way[mesh])


def _bands(pairs: _Pairs, weave: MeshThreads, strength: FilmStrength, sight: Sight) -> list[Bands]:
    """The bands that may be seen most, each pair of orders where it is."""
    length = np.maximum((pairs.way * pairs.way).sum(-1), 1e-300)
    middle = (pairs.apart * pairs.way).sum(-1) / length
    # The longer the better seen, as long as the art has room.
    shares = np.clip(middle, 0, 1)
    least = MM_PER_INCH / sight.longest_mm
    nearest = np.hypot(*(pairs.apart - middle[:, None] * pairs.way).T)
    off = np.sqrt(np.maximum(least**2 - nearest**2, 0) / length)
    too_long = pairs.frequency(shares) < least
    shares = np.where(too_long, _within(middle - off, middle + off), shares)
    fits = (shares >= 0) & (shares <= 1)
    periods = MM_PER_INCH / np.maximum(pairs.frequency(shares), least)
    seen = sight.visible_share(periods)
    of_mesh = mesh_strength(pairs.mesh, weave.open_width)
    of_film = strength(pairs.film)
    unsure = np.where(pairs.film[:, 2:].any(axis=1), 0.0, _UNSURE)
    rank = np.where(fits, of_mesh * seen * (of_film + unsure), -1.0)
    chosen = [k for k in np.argsort(-rank, kind="stable")[:_CANDIDATES].tolist() if fits[k]]
    across = pairs.apart - shares[:, None] * pairs.way
    first, last = weave.stretch
    return [
        Bands(
            float(periods[k]),
            float(np.degrees(np.arctan2(across[k, 1], across[k, 0])) + 90) % 180,
            first + float(shares[k]) * (last - first),
            (int(pairs.mesh[k, 0]), int(pairs.mesh[k, 1])),
            (int(pairs.film[k, 0]), int(pairs.film[k, 1])),
            (int(pairs.film[k, 2]), int(pairs.film[k, 3])),
            float(of_mesh[k]),
            float(of_film[k]),
            float(seen[k]),
        )
        for k in chosen
    ]


def _within(one: Float64Array, other: Float64Array) -> Float64Array:
    """That of two shares of a way which lies on it; -1 where neither does."""
    on = [np.where((share >= 0) & (share <= 1), share, -1.0) for share in (one, other)]
    return np.maximum(*on)


def _seen_most_first(bands: list[Bands]) -> tuple[Bands, ...]:
    return tuple(sorted(bands, key=lambda one: -round(one.visibility, 9)))
