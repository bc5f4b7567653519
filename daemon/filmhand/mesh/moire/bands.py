"""The slow beat between the dots and the threads: moire, from frequency vectors.

A mesh order and a dot order that nearly coincide leave a low difference frequency, which the eye
sees as bands (I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009,
ch. 2). A tensioned mesh is stretched by an amount that few people measure, so the worst period over
a whole interval counts.

How much a beat changes the mean ink is the product of the two orders' Fourier coefficients. The
four lowest mesh orders are always looked at, because a beat that is weak on an ideal mesh may be
strong on a real one; higher ones only where theory says that they show.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.mesh.moire.fourier_orders import dot_strength, mesh_strength
from filmhand.units import MM_PER_INCH

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh


LARGEST_STRETCH = 0.05
# A stretch that somebody measured is right to about this.
STRETCH_MEASURED_WITHIN = 0.01
# A lock is an endless period; what is longer than any film is reported as this.
LONGEST_MM = 1000.0
# Change of the mean ink from which a beat of higher mesh orders is worth a word.
LEAST_MODULATION = 0.01
LARGEST_ORDER = 3
_LOW_ORDERS = np.array([(1, 0), (0, 1), (1, 1), (1, -1)])
_HIGHER_ORDERS = np.array(
    [
        (m, n)
        for m in range(LARGEST_ORDER + 1)
        for n in range(-LARGEST_ORDER, LARGEST_ORDER + 1)
        if (m, n) > (0, 0) and max(m, abs(n)) > 1
    ]
)
# Along its way an order is looked at in steps of at most this much of the screen's frequency, so
# that the nearest dot order is always a corner of the cell that one of the steps lies in.
_STEP = 0.25


@dataclass(frozen=True, slots=True)
class MeshThreads:
    """A square mesh as a grating.

    Attributes
    ----------
    threads_per_inch : of the slack mesh
    open_width : opening over pitch, for the strength of beats only
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
    """One beat: its period at the worst stretch, how strong it is, and which orders make it.

    ``modulation`` is the change of the mean ink, up and down, as a share of it, for ideal dots at
    the worst of 30, 50 and 70 % tone. ``dot_order`` has one number for a line screen.
    """

    worst_period_mm: float
    modulation: float
    mesh_order: tuple[int, ...]
    dot_order: tuple[int, ...]

    def record(self) -> dict[str, Any]:
        """The beat as records and reports show it."""
        return {
            "worst_period_mm": round(self.worst_period_mm, 2),
            "modulation_pct": round(self.modulation * 100, 2),
            "mesh_order": list(self.mesh_order),
            "dot_order": list(self.dot_order),
        }


@dataclass(frozen=True, slots=True)
class Moire:
    """The slowest beat of a screen with a mesh.

    Attributes
    ----------
    period_mm : on the slack mesh, over the mesh orders (1,0), (0,1), (1,1) and (1,-1)
    worst : the slowest of the same orders while the mesh is stretched
    higher : the slowest of the other mesh orders up to 3 that change the mean ink by 1 % or more,
        where it is slower than ``worst``; else None
    """

    period_mm: float
    worst: Bands
    higher: Bands | None

    @property
    def worst_period_mm(self) -> float:
        """The longest period of the low orders while the mesh is stretched."""
        return self.worst.worst_period_mm

    def record(self) -> dict[str, Any]:
        """The beat as records and reports show it."""
        return {
            "period_mm": round(self.period_mm, 2),
            **self.worst.record(),
            "higher": None if self.higher is None else self.higher.record(),
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


def moire_with_mesh(vectors: Float64Array, weave: MeshThreads) -> Moire:
    """The slowest beat between a screen and a square mesh.

    Parameters
    ----------
    vectors : (1 or 2, 2) float64, the screen's frequency vectors, per inch; two are of one length
        and at right angles
    """
    slack = _differences(vectors, weave, _LOW_ORDERS, stretch=(0.0, 0.0))
    worst = slowest_of_low_orders(vectors, weave)
    higher = _slowest(
        _differences(vectors, weave, _HIGHER_ORDERS, stretch=weave.stretch), least=LEAST_MODULATION
    )
    if higher is not None and higher.worst_period_mm <= worst.worst_period_mm:
        higher = None
    return Moire(_period(float(slack.frequency.min())), worst, higher)


def slowest_of_low_orders(vectors: Float64Array, weave: MeshThreads) -> Bands:
    """The slowest beat of the four lowest mesh orders while the mesh is stretched."""
    worst = _slowest(_differences(vectors, weave, _LOW_ORDERS, stretch=weave.stretch))
    assert worst is not None
    return worst


@dataclass(frozen=True, slots=True)
class _Differences:
    """Pairs of a mesh order and a dot order that come near each other.

    ``frequency`` is the lowest of their difference over the stretch, per inch; (k,), like
    ``modulation``. ``mesh`` and ``dots`` are the orders: (k, 2) and (k, 1 or 2).
    """

    frequency: Float64Array
    modulation: Float64Array
    mesh: Int64Array
    dots: Int64Array


def _differences(
    vectors: Float64Array,
    weave: MeshThreads,
    mesh_orders: Int64Array,
    *,
    stretch: tuple[float, float],
) -> _Differences:
    turn = np.radians(weave.angle)
    threads = weave.threads_per_inch * np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    slack = mesh_orders @ threads
    start, way = slack * (1 - stretch[0]), slack * (stretch[0] - stretch[1])
    lpi = float(np.hypot(*vectors[0]))
    steps = int(np.ceil(float(np.hypot(*way.T).max()) / (_STEP * lpi))) + 1
    shares = np.linspace(0, 1, steps)[:, None, None]
    # In the screen's own coordinates the nearest dot orders are the whole numbers round about.
    places = (start + shares * way) @ vectors.T / lpi**2
    corners = np.stack([np.floor(places) + corner for corner in np.ndindex(*(2,) * len(vectors))])
    dots = corners.reshape(-1, len(mesh_orders), len(vectors))
    apart = dots @ vectors - start
    length = np.maximum((way * way).sum(-1), 1e-300)
    along = np.clip((apart * way).sum(-1) / length, 0, 1)
    nearest = apart - along[..., None] * way
    whole = dots.astype(np.int64)
    strength = dot_strength(whole, lines=len(vectors) == 1)
    modulation = 2 * strength * mesh_strength(mesh_orders, weave.open_width)
    return _Differences(
        np.hypot(nearest[..., 0], nearest[..., 1]).ravel(),
        modulation.ravel(),
        np.broadcast_to(mesh_orders, (len(dots), *mesh_orders.shape)).reshape(-1, 2),
        whole.reshape(-1, len(vectors)),
    )


def _slowest(found: _Differences, *, least: float = 0.0) -> Bands | None:
    """The slowest of those with at least this modulation; of equally slow ones the strongest."""
    strong = found.modulation >= least
    if not strong.any():
        return None
    lowest = float(found.frequency[strong].min())
    # All that lie in step with the mesh are equally slow, whatever rounding makes of zero.
    slow = strong & (found.frequency <= max(lowest * (1 + 1e-9), MM_PER_INCH / LONGEST_MM))
    best = int(np.argmax(np.where(slow, found.modulation, -1.0)))
    return Bands(
        _period(lowest),
        float(found.modulation[best]),
        tuple(int(n) for n in found.mesh[best]),
        tuple(int(n) for n in found.dots[best]),
    )


def _period(frequency: float) -> float:
    return min(LONGEST_MM, MM_PER_INCH / frequency) if frequency > 0 else LONGEST_MM
