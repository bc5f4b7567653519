"""What a mesh holds: the smallest dots, shadow dots, strokes and gaps, and the tones they allow.

Black on the film is an opening in the stencil, through which ink passes; clear film is a post of
emulsion that must stand on threads. Hence two limits.

A dot no wider than the diagonal of a thread crossing can lie wholly on threads and print nothing.
A post no wider than one opening can stand on no thread at all. From one opening and two threads
upward both print evenly wherever they fall: that a dot then sees nearly the same open area at
every place follows from the geometry of a disc on a square weave, which the tests repeat by Monte
Carlo. The phrase itself is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum
from math import ceil, inf, pi, sqrt
from typing import TYPE_CHECKING, NamedTuple

from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh

# The tone that the finest advisable ruling must still hold; that it is this one of the published is
# our choice. 10 %: experts123.com, What is a screen tint or halftone (less will not print), and M.
# Zapone, Retículas na serigrafia, moacirzapone.com.br (not under 10 %, often 15). 15 %:
# mediotono.es, fichas 415, and the specifications of printed discs (precisemedia.com, presto CD
# artwork; duplication.com, CD label film spec; solutiontech24.blogspot.com, Screen Printing Film
# Specifications; mediasys-bg.com, Label Artwork). At 10 % the rule agrees with a mesh-to-line ratio
# of 4, which M. Coudray repeats (All Things Are Not as They Appear, Screen Printing, April 2003).
_BEST_LPI_TONE = 0.10


Pair = tuple[float, float]

# What emulsion and film practice hold whatever the mesh: the smallest stroke and gap that are asked
# of supplied art (mediasys-bg.com, Label Artwork: 0.10 mm and 0.15 mm; other specifications ask for
# more: duplication.com, 0.3 and 0.5 pt; solutiontech24.blogspot.com, 0.5 and 0.75 pt).
STENCIL_STROKE_UM, STENCIL_GAP_UM = 100.0, 150.0


class Feature(StrEnum):
    """What on a film a mesh can lose; a shadow dot is an open spot in the ink."""

    DOT = "dot"
    SHADOW_DOT = "shadow dot"
    STROKE = "stroke"
    GAP = "gap"

    @property
    def is_ink(self) -> bool:
        """Whether it is black on the film."""
        return self in {Feature.DOT, Feature.STROKE}


class SizeLimits(NamedTuple):
    """Sizes in micrometers: at or under ``fail_um`` the mesh loses it, under ``warn_um`` it may."""

    fail_um: float
    warn_um: float

    def moved_to(self, held_um: float | None) -> SizeLimits:
        """The limits of a print that was seen to hold this size, and smaller ones no more.

        What is lost altogether is taken to move in the same proportion. The same without a size.
        """
        if held_um is None or not self.warn_um:
            return self
        return SizeLimits(self.fail_um * held_um / self.warn_um, held_um)


@dataclass(frozen=True, slots=True)
class MeshLimits:
    """What a mesh holds of each feature.

    Dots and shadow dots are measured as circles of their area, strokes and gaps by their width.
    """

    dot: SizeLimits
    shadow_dot: SizeLimits
    stroke: SizeLimits
    gap: SizeLimits

    @classmethod
    def of(
        cls,
        mesh: Mesh,
        *,
        dot: Pair | None = None,
        shadow_dot: Pair | None = None,
        stroke: Pair | None = None,
        gap: Pair | None = None,
    ) -> MeshLimits:
        """The limits of a mesh, from its thread and opening, or as (fail, warn) say instead.

        Strokes are held like dots and gaps like shadow dots where nothing else is said.
        """
        even = mesh.opening_um + 2 * mesh.thread_um
        dot = dot or (sqrt(2) * mesh.thread_um, even)
        shadow_dot = shadow_dot or (mesh.opening_um, even)
        pairs = (dot, shadow_dot, stroke or dot, gap or shadow_dot)
        return cls(*(SizeLimits(*pair) for pair in pairs))

    def of_feature(self, feature: Feature) -> SizeLimits:
        """The sizes of one feature."""
        sizes = (self.dot, self.shadow_dot, self.stroke, self.gap)
        return dict(zip(Feature, sizes, strict=True))[feature]


def pixels_of_circle(diameter_um: float, resolution: PixelsPerInch) -> int:
    """The fewest device pixels whose area is at least that of a circle of this diameter."""
    width, height = resolution.pixel_um()
    return max(1, ceil(pi / 4 * diameter_um**2 / (width * height) - 1e-9))


def diameter_um(pixels: float, resolution: PixelsPerInch) -> float:
    """Diameter of the circle with the area of this many device pixels."""
    width, height = resolution.pixel_um()
    return sqrt(4 / pi * pixels * width * height)


def smallest_tone(size_um: float, lpi: float) -> float:
    """Tone (0..1) at which a round dot of this diameter stands in each cell of the screen.

    Above pi / 4 neighboring dots would have met; nothing of that size is held.
    """
    return pi / 4 * (size_um * lpi / 25400) ** 2


def best_lpi(limits: MeshLimits) -> float:
    """The finest ruling that prints 10 % and 90 % evenly; infinite where any size does."""
    size = max(limits.dot.warn_um, limits.shadow_dot.warn_um)
    return 25400 / size * sqrt(4 * _BEST_LPI_TONE / pi) if size else inf
