"""The screen of a profile: lattice, smallest dots, and what the mesh makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Any

from filmhand.mesh.beat import Beat, beat_with_mesh, better_angles, screen_vectors
from filmhand.mesh.checks import Check, check_beat, check_levels, check_ratio
from filmhand.mesh.limits import MeshLimits, pixels_of_circle
from filmhand.profile.model import Profile
from filmhand.profile.terms import Dot
from filmhand.screen.lattice import Lattice, find_lattice
from filmhand.screen.tile import Tile, build_tile

# Dots that appear whole must leave room to grow before they meet.
_LARGEST_SHARE = 0.45


@dataclass(frozen=True, slots=True)
class ScreenPlan:
    """One profile's screen.

    Attributes
    ----------
    lattice : where the dots sit
    dot : their shape
    smallest_dot, smallest_hole : pixels below which dots and holes are left out, not shrunk
    beat : with the mesh; None without a mesh
    """

    lattice: Lattice
    dot: Dot
    lpi_asked: float
    angle_asked: float
    smallest_dot: int
    smallest_hole: int
    beat: Beat | None

    @property
    def levels(self) -> int:
        """The sizes that one dot can take: dpi / lpi squared, plus 1."""
        dpi = self.lattice.resolution
        return int(dpi.x * dpi.y / self.lpi_asked**2) + 1

    def tile(self) -> Tile:
        """The threshold tile."""
        return build_tile(
            self.lattice,
            str(self.dot),
            smallest_dot=self.smallest_dot,
            smallest_hole=self.smallest_hole,
        )

    def record(self) -> dict[str, Any]:
        """The screen as the record shows it."""
        return {
            "dot": str(self.dot),
            "lpi_asked": self.lpi_asked,
            "lpi_made": round(self.lattice.lpi, 4),
            "angle_asked": self.angle_asked,
            # Named like the angle asked: 180 degrees and 0 are one angle.
            "angle_made": round(
                self.angle_asked + (self.lattice.angle - self.angle_asked + 90) % 180 - 90, 4
            ),
            "levels": self.levels,
        }


def plan_screen(profile: Profile) -> ScreenPlan:
    """The screen that the profile asks for."""
    assert profile.lpi is not None and profile.dot is not None
    lattice = find_lattice(profile.lpi, profile.angle, profile.dpi)
    dot, hole = smallest_pixels(profile)
    beat = None
    if profile.mesh is not None:
        lines = profile.dot is Dot.LINE
        vectors = screen_vectors(lattice.lpi, lattice.angle, lines=lines)
        beat = beat_with_mesh(vectors, profile.mesh.threads_per_inch)
    return ScreenPlan(lattice, profile.dot, profile.lpi, profile.angle, dot, hole, beat)


def smallest_pixels(profile: Profile) -> tuple[int, int]:
    """Pixels of the smallest dot and hole that the screen makes, by ``hold``."""
    if profile.tone.hold != "auto" or profile.mesh is None:
        return 1, 1
    assert profile.lpi is not None
    limits = MeshLimits.of(profile.mesh)
    cell = profile.dpi.x * profile.dpi.y / profile.lpi**2
    sizes = []
    for even, least in (
        (limits.dot_warn_um, limits.dot_fail_um),
        (limits.hole_warn_um, limits.hole_fail_um),
    ):
        size = pixels_of_circle(even, profile.dpi)
        if profile.dot is Dot.LINE:
            # A piece of a line is a cell long; it must also be wide enough as a stroke.
            width, height = profile.dpi.pixel_um()
            size = max(size, ceil(1.1 * least * 25400 / profile.lpi / (width * height)))
        sizes.append(max(1, min(size, int(_LARGEST_SHARE * cell))))
    return sizes[0], sizes[1]


def screen_checks(profile: Profile, plan: ScreenPlan) -> list[Check]:
    """The checks that need no film: ratio, levels and beat."""
    checks = [check_levels(plan.levels)]
    if profile.mesh is not None and plan.beat is not None:
        checks.insert(0, check_ratio(profile.mesh.threads_per_inch, plan.lpi_asked))
        checks.append(
            check_beat(
                plan.beat.worst_period_mm,
                plan.lpi_asked,
                refuse=str(profile.limits.beat) == "refuse",
            )
        )
    return checks


def angles_that_beat_less(profile: Profile) -> list[float]:
    """Up to three angles near the profile's own whose beat is clearly shorter."""
    if profile.mesh is None or profile.lpi is None:
        return []
    return better_angles(
        profile.lpi,
        profile.angle,
        profile.mesh.threads_per_inch,
        lines=profile.dot is Dot.LINE,
    )
