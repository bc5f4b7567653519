"""What ``filmhand check`` tells of a profile: its screen as made, and what its mesh holds."""

from __future__ import annotations

from typing import Any

from filmhand.job.screen_plan import (
    ScreenPlan,
    angles_that_beat_less,
    plan_screen,
    screen_checks,
)
from filmhand.job.verdict import sentence
from filmhand.mesh.checks import Verdict
from filmhand.mesh.limits import MeshLimits, best_lpi, diameter_um, smallest_tone
from filmhand.profile.model import Profile
from filmhand.profile.terms import GainCurve


def describe_profile(profile: Profile) -> dict[str, Any]:
    """The profile's entry of ``filmhand check --json``."""
    screen = plan_screen(profile) if profile.lpi is not None and profile.dot is not None else None
    return {
        "name": profile.name,
        "sheet_mm": list(profile.sheet.mm),
        "sheet_px": list(profile.sheet.pixels(profile.dpi)),
        "dpi": [profile.dpi.x, profile.dpi.y],
        "treat": str(profile.art.treat),
        "mesh": _mesh(profile),
        "screen": None if screen is None else screen.record(),
        "holds": _holds(profile, screen),
        "beat": _beat(profile, screen),
        "tone": _tone_rule(profile),
        "warnings": _warnings(profile, screen),
    }


def _mesh(profile: Profile) -> dict[str, Any] | None:
    mesh = profile.mesh
    if mesh is None:
        return None
    return {
        "label": mesh.label,
        "threads_per_cm": mesh.threads_per_cm,
        "thread_um": mesh.thread_um,
        "opening_um": round(mesh.opening_um, 1),
        "open_area_pct": round(mesh.open_area * 100, 1),
        "assumed": mesh.assumed,
    }


def _holds(profile: Profile, screen: ScreenPlan | None) -> dict[str, Any] | None:
    if profile.mesh is None:
        return None
    limits = MeshLimits.of(profile.mesh)
    low = high = None
    if screen is not None:
        low = min(100.0, smallest_tone(limits.dot_warn_um, screen.grid.lpi) * 100)
        high = max(0.0, 100 - smallest_tone(limits.hole_warn_um, screen.grid.lpi) * 100)
    return {
        "smallest_dot_um": round(limits.dot_warn_um, 1),
        "smallest_hole_um": round(limits.hole_warn_um, 1),
        "tone_min_pct": None if low is None else round(low, 2),
        "tone_max_pct": None if high is None else round(high, 2),
        "best_lpi": round(best_lpi(profile.mesh), 1),
    }


def _beat(profile: Profile, screen: ScreenPlan | None) -> dict[str, Any] | None:
    if screen is None or screen.beat is None:
        return None
    return {
        "period_mm": round(screen.beat.period_mm, 2),
        "worst_period_mm": round(screen.beat.worst_period_mm, 2),
        "better_angles": angles_that_beat_less(profile),
    }


def _tone_rule(profile: Profile) -> str:
    gain = profile.tone.gain
    if isinstance(gain, GainCurve):
        return f"by the measured press curve {gain.name}: the print reflects the art's luminance"
    if gain:
        return f"by the art's code values, less {gain:g} points of dot gain at 50 %"
    return "by the art's code values, the trade's practice for a press that nobody has measured"


def _warnings(profile: Profile, screen: ScreenPlan | None) -> list[str]:
    mesh = profile.mesh
    found = []
    if mesh is None:
        return ["No mesh is named, so films are not judged against one."]
    if mesh.assumed:
        found.append(
            f"Only the inch count was given; a thread of {mesh.thread_um:g} um is assumed. Give "
            f"threads per cm and thread, such as {mesh.label}, from the mesh's data sheet."
        )
    if screen is None:
        return found
    found += [
        sentence(check)
        for check in screen_checks(profile, screen)
        if check.verdict is not Verdict.PASS
    ]
    even = MeshLimits.of(mesh).dot_warn_um
    made = diameter_um(screen.smallest_dot, profile.dpi)
    if profile.tone.hold == "auto" and made < even * (1 - 1e-9):
        found.append(
            f"At {screen.lpi_asked:g} lpi a cell has no room for dots of {even:.0f} um, which this "
            f"mesh prints evenly; the smallest will be {made:.0f} um. The finest advisable ruling "
            f"is {best_lpi(mesh):.0f} lpi."
        )
    return found
