"""Refusals of the mesh and of the resolution: what was measured, what it takes, what would help."""

from __future__ import annotations

from math import floor

from filmhand.errors import Quantity, Reason, Refused
from filmhand.job.screen_plan import angles_that_beat_less
from filmhand.mesh.beat import LONGEST_MM
from filmhand.mesh.checks import Check, Verdict
from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.table import MESHES, Mesh, woven
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Layout


def refuse_on(checks: list[Check], profile: Profile, layout: Layout) -> None:
    """Raise the refusal of the first check that fails."""
    for check in checks:
        if check.verdict is not Verdict.FAIL:
            continue
        if check.name == "smallest dot":
            raise _too_fine(check, profile, Reason.DOTS_TOO_FINE)
        if check.name == "smallest hole":
            raise _too_fine(check, profile, Reason.HOLES_TOO_FINE)
        if check.name in ("narrowest stroke", "narrowest gap"):
            raise _lines_too_fine(check, layout)
        if check.name == "art resolution":
            raise _too_few_pixels(check, profile, layout)
        raise _beats(check, profile, angles_that_beat_less(profile))


def _too_fine(check: Check, profile: Profile, reason: Reason) -> Refused:
    assert check.measured is not None and check.fail_limit is not None
    assert profile.mesh is not None and profile.lpi is not None
    dots = reason is Reason.DOTS_TOO_FINE
    thing = "dots" if dots else "open spots in the shadows"
    lost = "can lie on threads alone and not print" if dots else "may have no thread to hold it"
    ways = []
    if profile.tone.hold == "auto":
        # The screen itself leaves out what is too small; only the art can have cut it up.
        ways.append("smooth the grain and the finest detail of the picture")
    else:
        ways.append("set tone: {hold: auto}, which leaves out dots that are too small")
        even = MeshLimits.of(profile.mesh).dot_warn_um
        coarser = floor(profile.lpi * check.measured / even)
        if coarser >= 5:
            ways.append(f"screen at {coarser} lpi or coarser")
    mesh = _mesh_that_holds(check.measured, dots=dots)
    if mesh is not None:
        ways.append(f"use mesh {mesh.label} or finer")
    return Refused(
        reason,
        f"The smallest {thing} on this film measure {check.measured:.0f} um; on mesh "
        f"{profile.mesh.label} anything of {check.fail_limit:.0f} um or less {lost}.",
        _either(ways),
        found=Quantity(round(check.measured, 1), "um"),
        needed=Quantity(round(check.fail_limit, 1), "um"),
    )


def _mesh_that_holds(size_um: float, *, dots: bool) -> Mesh | None:
    """The coarsest usual mesh of the table that holds dots, or holes, of this size evenly."""
    for row in sorted(MESHES, key=lambda row: row.threads_per_cm):
        mesh = woven(row.threads_per_cm, row.thread_um)
        limits = MeshLimits.of(mesh)
        # With a tenth to spare, so that a size measured in whole pixels passes as well.
        fail = limits.dot_fail_um if dots else limits.hole_fail_um
        if row.usual and size_um > 1.1 * fail:
            return mesh
    return None


def _lines_too_fine(check: Check, layout: Layout) -> Refused:
    assert check.measured is not None and check.fail_limit is not None
    thing = "strokes" if check.name == "narrowest stroke" else "gaps"
    lost = "would not print" if thing == "strokes" else "would not hold in the stencil"
    times = check.fail_limit / max(check.measured, check.fail_limit / 20) * 1.15
    ways = [
        f"print it {times:.1f} times larger, about {layout.art_mm[0] * times:.0f} x "
        f"{layout.art_mm[1] * times:.0f} mm"
    ]
    mesh = _mesh_that_holds(check.measured, dots=thing == "strokes")
    if mesh is not None:
        ways.append(f"use mesh {mesh.label} or finer")
    ways.append(f"draw its finest {thing} wider than {check.fail_limit / 1000:.2f} mm")
    return Refused(
        Reason.LINES_TOO_FINE,
        f"The narrowest {thing} of this drawing measure {check.measured / 1000:.2f} mm on the "
        f"film; on this mesh {thing} of {check.fail_limit / 1000:.2f} mm or less {lost}.",
        _either(ways),
        found=Quantity(round(check.measured, 1), "um"),
        needed=Quantity(round(check.fail_limit, 1), "um"),
    )


def _too_few_pixels(check: Check, profile: Profile, layout: Layout) -> Refused:
    assert check.measured is not None and check.fail_limit is not None
    smaller = check.measured / check.fail_limit
    width, height = (floor(side * smaller) for side in layout.art_mm)
    ways = []
    if min(width, height) >= 10:
        ways.append(f"print it no larger than {width} x {height} mm")
    if check.measured >= 10:
        ways.append(f"screen it at {floor(check.measured)} lpi or coarser")
    pixels = [round(side / 25.4 * check.fail_limit * 1.5 / 10) * 10 for side in layout.art_mm]
    ways.append(f"bring the picture with about {pixels[0]} x {pixels[1]} pixels")
    return Refused(
        Reason.TOO_SMALL,
        f"At {layout.art_mm[0]:.0f} x {layout.art_mm[1]:.0f} mm this picture has "
        f"{check.measured:.0f} pixels to the inch, and a screen of {profile.lpi:g} lpi needs at "
        f"least {check.fail_limit:.0f}.",
        _either(ways),
        found=Quantity(round(check.measured, 1), "ppi"),
        needed=Quantity(round(check.fail_limit, 1), "ppi"),
    )


def _beats(check: Check, profile: Profile, angles: list[float]) -> Refused:
    assert check.measured is not None and check.fail_limit is not None
    assert profile.mesh is not None
    ways = []
    if angles:
        ways.append(
            "turn the screen to " + " or ".join(f"{angle:g}" for angle in angles[:2]) + " degrees"
        )
    ways.append("use another lpi or a finer mesh")
    endless = check.measured >= LONGEST_MM
    longest = f"over {LONGEST_MM:.0f}" if endless else f"up to {check.measured:.1f}"
    return Refused(
        Reason.MOIRE,
        f"The dots would beat with the threads of mesh {profile.mesh.label}: bands of {longest} "
        f"mm, and this profile allows {check.fail_limit:.1f} mm.",
        _either(ways),
        found=Quantity(round(check.measured, 2), "mm"),
        needed=Quantity(round(check.fail_limit, 2), "mm"),
    )


def _either(ways: list[str]) -> str:
    """The ways as one sentence."""
    text = ", or ".join([", ".join(ways[:-1]), ways[-1]] if len(ways) > 1 else ways)
    return text[0].upper() + text[1:] + "."
