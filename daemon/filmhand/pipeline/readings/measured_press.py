"""What a profile knows of its press by a reading of its own wedge, and whether that still holds."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from filmhand.language import and_list
from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.pipeline.profile_notes import ReadingWord
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import CURVES
from filmhand.profile.terms import CurveHead, GainCurve, HeldSizes

_HELD = {
    "dot": ReadingWord.HELD_DOT,
    "shadow_dot": ReadingWord.HELD_SHADOW_DOT,
    "stroke": ReadingWord.HELD_STROKE,
    "gap": ReadingWord.HELD_GAP,
}


def head_of(profile: Profile) -> CurveHead:
    """What the curve in force tells of itself; empty where there is none."""
    gain = profile.tone.gain
    return gain.head if isinstance(gain, GainCurve) else CurveHead()


def held_sizes(profile: Profile) -> HeldSizes:
    """The smallest sizes that a print of this profile's mesh held; none on another mesh."""
    head = head_of(profile)
    same = profile.mesh is not None and _same_mesh(head.mesh, profile.mesh)
    return head.held if same else HeldSizes()


def screen_text(profile: Profile) -> str:
    """The screen of a profile as a curve file names it, such as ``25 lpi, round, 45 degrees``."""
    if profile.dot is None or profile.lpi is None:
        return ""
    said = f"{profile.lpi:g} lpi, {profile.dot}"
    return said if profile.dot.kind.row.scattered else f"{said}, {profile.angle:g} degrees"


def resolution_text(profile: Profile) -> str:
    """The resolution of a profile as a curve file names it."""
    dpi = profile.dpi
    return f"{dpi.x}" if dpi.x == dpi.y else f"{dpi.x} x {dpi.y}"


def reading_warnings(profile: Profile) -> list[str]:
    """What is wrong with the reading that a profile goes by: it is missing, or of another press."""
    if profile.waits_for_reading:
        return [ReadingWord.NO_READING.say(folder=f"{CURVES}/")]
    if not isinstance(profile.tone.gain, GainCurve):
        return []
    passed = list(profile.passed_over)
    head, found = head_of(profile), []
    if head.screen and head.screen != screen_text(profile):
        found.append(ReadingWord.OTHER_SCREEN.say(was=head.screen, now=screen_text(profile)))
    if head.dpi and head.dpi != resolution_text(profile):
        found.append(ReadingWord.OTHER_DPI.say(was=head.dpi, now=resolution_text(profile)))
    if head.mesh and not _same_mesh(head.mesh, profile.mesh):
        now = ReadingWord.NO_MESH.say() if profile.mesh is None else profile.mesh.label
        found.append(ReadingWord.OTHER_MESH.say(was=head.mesh, now=now))
    name = profile.tone.gain.name
    return passed + [ReadingWord.READ_BEFORE.say(name=name, changed=one) for one in found]


def sizes_in_force(profile: Profile) -> dict[str, tuple[float, float]]:
    """The sizes, in micrometers, that a print held and those by the mesh, where the former count.

    What ``verdict`` says counts before either, so it is left out.
    """
    if profile.mesh is None:
        return {}
    held, rule = held_sizes(profile), MeshLimits.of(profile.mesh)
    found = {}
    for key in fields(HeldSizes):
        size = getattr(held, key.name)
        if size is not None and getattr(profile.verdict, key.name) is None:
            found[key.name] = (size, getattr(rule, key.name).warn_um)
    return found


def held_notes(profile: Profile) -> list[str]:
    """In one sentence, which sizes count because a print held them; none where none do."""
    gain, sizes = profile.tone.gain, sizes_in_force(profile)
    if not sizes or not isinstance(gain, GainCurve):
        return []
    said = [
        _HELD[name].say(held=f"{held:.0f}", rule=f"{rule:.0f}")
        for name, (held, rule) in sizes.items()
    ]
    return [ReadingWord.HELD.say(name=gain.name, sizes=and_list(said))]


def curve_record(profile: Profile) -> dict[str, Any] | None:
    """The curve in force as records show it; None where no measured curve is."""
    gain = profile.tone.gain
    if not isinstance(gain, GainCurve):
        return None
    return {
        "name": gain.name,
        "sha256": gain.sha256 or None,
        "date": gain.head.date or None,
        "held": {
            f"{name}_um": {"held": held, "by_mesh": round(rule, 1)}
            for name, (held, rule) in sizes_in_force(profile).items()
        },
    }


def _same_mesh(said: str, mesh: Mesh | None) -> bool:
    """Whether a curve file names this mesh, in any of the ways in which one can be written."""
    try:
        return read_mesh(said) == mesh
    except ValueError:
        return False
