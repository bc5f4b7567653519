"""The words on the film."""

from __future__ import annotations

from filmhand import __version__
from filmhand.job.screen_plan import ScreenPlan
from filmhand.job.verdict import warnings
from filmhand.job.work import Work
from filmhand.mesh.checks import Verdict
from filmhand.profile.terms import Dot, Treat

_SHORT = 8


def label_lines(
    work: Work, *, screen: ScreenPlan | None, art_sha256: str, suffix: str
) -> list[str]:
    """Three lines: whose and what, how it was made, and what to mind."""
    profile = work.profile
    first = work.request.name + (f" page {int(suffix[2:])}" if suffix else "")
    if work.ticket.for_whom:
        first = f"for {work.ticket.for_whom}: {first}"
    width, height = work.layout.art_mm
    if screen is None:
        how = f"line art, threshold {profile.threshold:g} %"
    else:
        angle = screen.angle_made()
        turned = "" if angle is None else f" {angle:.2f} deg"
        dot = "own spot" if screen.dot.kind is Dot.SPOT else str(screen.dot)
        how = f"{screen.grid.lpi:.2f} lpi{turned} {dot}"
        if work.treated is Treat.MIXED:
            how += f", strokes cut at {profile.threshold:g} %"
    mesh = "no mesh: not judged" if profile.mesh is None else f"mesh {profile.mesh.label}"
    if profile.mesh is not None and profile.mesh.assumed:
        mesh += " (thread assumed)"
    second = (
        f"{profile.name} | {how} | {mesh} | art {width:.1f} x {height:.1f} mm | "
        f"{profile.dpi} dpi | art {art_sha256[:_SHORT]} profile {profile.sha256[:_SHORT]} | "
        f"filmhand {__version__}"
    )
    side = (
        "MIRRORED: printed side down when you can read this"
        if profile.film.mirror
        else "printed side up when you can read this"
    )
    if profile.film.negative:
        side += " | NEGATIVE"
    found = warnings(work)
    told = "; ".join(found) if found else "no warnings"
    if any(check.verdict is Verdict.FAIL for check in work.checks):
        told = "MADE ANYWAY. " + told
    return [first, second, f"{side} | {told}"]
