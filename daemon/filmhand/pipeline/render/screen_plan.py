"""The screen of a profile: where dots sit, their smallest size, and what the mesh holds of them."""

from __future__ import annotations

from math import ceil
from typing import Any

from filmhand.expression import read_expression
from filmhand.mesh.checks import Check, check_gray_levels, check_ratio
from filmhand.mesh.limits import MeshLimits, pixels_of_circle
from filmhand.pipeline.readings.measured_press import held_sizes
from filmhand.profile.model import Profile
from filmhand.screen.dot_function import SPOT_FUNCTIONS, dot_function_of
from filmhand.screen.dot_shapes import DotFunction, DotShape
from filmhand.screen.grain import Grain, build_grain, find_grain
from filmhand.screen.lattice import Lattice, find_lattice
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.values import dataclass

# Dots that appear whole must leave room to grow before they meet; scattered dots have a room of
# their own that is at its smallest a quarter of the mean cell.
_LARGEST_SHARE, _LARGEST_SHARE_OF_GRAIN = 0.45, 0.25


@dataclass(frozen=True, slots=True)
class ScreenPlan:
    """One profile's screen.

    Attributes
    ----------
    grid : where the dots sit
    dot : their shape
    smallest_dot, smallest_shadow_dot : pixels below which dots and shadow dots are left out, not
        shrunk
    """

    grid: Lattice | Grain
    dot: DotShape
    lpi_asked: float
    angle_asked: float
    smallest_dot: int
    smallest_shadow_dot: int

    @property
    def levels(self) -> int:
        """The sizes that one dot can take: dpi / lpi squared, plus 1."""
        dpi = self.grid.resolution
        return int(dpi.x * dpi.y / self.lpi_asked**2) + 1

    def tile(self) -> ThresholdTile:
        """The threshold tile."""
        dot, shadow_dot = self.smallest_dot, self.smallest_shadow_dot
        if isinstance(self.grid, Grain):
            return build_grain(self.grid, smallest_dot=dot, smallest_shadow_dot=shadow_dot)
        return build_tile(
            self.grid, spot_of(self.dot), smallest_dot=dot, smallest_shadow_dot=shadow_dot
        )

    def angle_made(self) -> float | None:
        """The angle as made, named like the one asked: 180 degrees and 0 are one angle."""
        if isinstance(self.grid, Grain):
            return None
        return self.angle_asked + (self.grid.angle - self.angle_asked + 90) % 180 - 90

    def record(self) -> dict[str, Any]:
        """The screen as the record shows it."""
        angle = self.angle_made()
        return {
            "dot": str(self.dot),
            "lpi_asked": self.lpi_asked,
            "lpi_made": round(self.grid.lpi, 4),
            "angle_asked": self.angle_asked,
            "angle_made": None if angle is None else round(angle, 4),
            "levels": self.levels,
        }


def spot_of(shape: DotShape) -> DotFunction:
    """How the dots of a profile grow, but for scattered ones."""
    row = shape.kind.row
    if shape.spot is not None:
        expression = read_expression(shape.spot)
        return dot_function_of(lambda x, y: expression.value(x, y, SPOT_FUNCTIONS))
    if shape.ratio is not None:
        assert row.with_ratio is not None
        return row.with_ratio(shape.ratio)
    assert row.function is not None
    return row.function


def plan_screen(profile: Profile) -> ScreenPlan:
    """The screen that the profile asks for."""
    assert profile.lpi is not None and profile.dot is not None
    dot, shadow_dot = smallest_pixels(profile)
    grid: Lattice | Grain
    if profile.dot.kind.row.scattered:
        grid = find_grain(profile.lpi, profile.acetate_dpi)
    else:
        grid = find_lattice(profile.lpi, profile.angle, profile.acetate_dpi)
    return ScreenPlan(grid, profile.dot, profile.lpi, profile.angle, dot, shadow_dot)


def limits_of(profile: Profile) -> MeshLimits | None:
    """What the profile's mesh holds: as ``verdict`` says, as a print of its wedge held, or by rule.

    The rule goes by thread and opening. None without a mesh: nothing is judged against one then.
    """
    if profile.mesh is None:
        return None
    own, held = profile.verdict, held_sizes(profile)
    dot, shadow_dot, stroke, gap = (
        None if limits is None else (limits.fail, limits.warn)
        for limits in (own.dot, own.shadow_dot, own.stroke, own.gap)
    )
    ruled = MeshLimits.of(profile.mesh, dot=dot, shadow_dot=shadow_dot, stroke=stroke, gap=gap)
    return MeshLimits(
        ruled.dot if dot else ruled.dot.moved_to(held.dot),
        ruled.shadow_dot if shadow_dot else ruled.shadow_dot.moved_to(held.shadow_dot),
        ruled.stroke if stroke else ruled.stroke.moved_to(held.stroke),
        ruled.gap if gap else ruled.gap.moved_to(held.gap),
    )


def smallest_pixels(profile: Profile) -> tuple[int, int]:
    """Pixels of the smallest dot and shadow dot that the screen makes, by ``hold``."""
    if profile.tone.hold != "auto" or profile.mesh is None:
        return 1, 1
    assert profile.lpi is not None and profile.dot is not None
    limits = limits_of(profile)
    assert limits is not None
    cell = profile.acetate_dpi.x * profile.acetate_dpi.y / profile.lpi**2
    sizes = []
    for least, even in (limits.dot, limits.shadow_dot):
        size = pixels_of_circle(even, profile.acetate_dpi)
        if profile.dot.kind.row.lines:
            # A piece of a line is a cell long; it must also be wide enough as a stroke.
            width, height = profile.acetate_dpi.pixel_um()
            size = max(size, ceil(1.1 * least * 25400 / profile.lpi / (width * height)))
        scattered = profile.dot.kind.row.scattered
        share = _LARGEST_SHARE_OF_GRAIN if scattered else _LARGEST_SHARE
        sizes.append(max(1, min(size, int(share * cell))))
    return sizes[0], sizes[1]


def screen_checks(profile: Profile, plan: ScreenPlan) -> list[Check]:
    """The checks that need neither film nor tile: ratio and gray levels."""
    own = profile.verdict
    checks = [check_gray_levels(plan.levels, least=own.levels)]
    if profile.mesh is not None:
        ratio = check_ratio(profile.mesh.threads_per_inch, plan.lpi_asked, least=own.ratio)
        checks.insert(0, ratio)
    return checks
