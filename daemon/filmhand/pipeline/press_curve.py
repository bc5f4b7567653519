"""The press that a profile describes, as one curve, and what it makes of the art's tones."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np

from filmhand.mesh.limits import smallest_tone
from filmhand.pipeline.profile_notes import PressWord
from filmhand.pipeline.readings.measured_press import held_notes, held_sizes
from filmhand.pipeline.render.screen_plan import smallest_pixels, spot_of
from filmhand.profile.model import Profile
from filmhand.profile.terms import Aim, GainCurve
from filmhand.screen.edge_growth import GrownTones, grown_tones
from filmhand.tone import Levels, PressCurve, curve_through, print_wanted, tone_steps
from filmhand.units import MM_PER_INCH

TONES_TOLD = (5, 10, 25, 50, 75, 90, 95)
_IDENTITY = PressCurve(np.array([0.0, 1.0]), np.array([0.0, 1.0]))


def press_curve_of(profile: Profile) -> PressCurve:
    """What the press makes of the film's tones, as ``tone.gain`` describes it.

    A number is the growth of the edges of this profile's dots (:mod:`filmhand.screen.edge_growth`).
    Tones below the smallest dot are made of fewer dots of that size, each of which grows alike, so
    there the curve is a straight line to bare film; the same holds for shadow dots.
    """
    gain = profile.tone.gain
    if isinstance(gain, GainCurve):
        return _of_wedge(profile, curve_through(gain.points))
    # What is far below a step of the tone would only be divided by itself.
    if gain < 1e-6 or profile.dot is None or profile.lpi is None:
        return _IDENTITY
    grown = _grown(profile, gain)
    return _fewer_dots_below(profile, PressCurve(grown.before, grown.after))


def _fewer_dots_below(profile: Profile, press: PressCurve) -> PressCurve:
    """The curve, straight below the smallest dot and beyond the smallest shadow dot."""
    assert profile.lpi is not None
    cell = profile.acetate_dpi.x * profile.acetate_dpi.y / profile.lpi**2
    dot, shadow_dot = (min(0.49, pixels / cell) for pixels in smallest_pixels(profile))
    held = (press.film > dot) & (press.film < 1 - shadow_dot)
    ends = np.array([dot, 1 - shadow_dot])
    at_ends = press.print_of(ends)
    film = np.concatenate([[0.0], ends[:1], press.film[held], ends[1:], [1.0]])
    printed = np.concatenate([[0.0], at_ends[:1], press.printed[held], at_ends[1:], [1.0]])
    return PressCurve(film, printed)


def _of_wedge(profile: Profile, press: PressCurve) -> PressCurve:
    """A measured curve, as far as the film's dots are those of the wedge that it was read from.

    The dots of a wedge shrink with the tone until they are lost. With ``hold: auto`` there are
    fewer dots of the smallest size instead; without it no tone is used whose dots were not held.
    Pairs that tell nothing of sizes are taken as they are.
    """
    held = held_sizes(profile)
    if profile.lpi is None or profile.dot is None or not (held.dot or held.shadow_dot):
        return press
    if profile.tone.hold == "auto":
        return _fewer_dots_below(profile, press)
    lost, filled = (smallest_tone(size or 0.0, profile.lpi) for size in (held.dot, held.shadow_dot))
    return replace(press, least=min(0.49, lost), most=1 - min(0.49, filled))


def _grown(profile: Profile, gain: float) -> GrownTones:
    assert profile.dot is not None
    spot = None if profile.dot.kind.row.scattered else spot_of(profile.dot)
    return grown_tones(spot, gain / 100)


def press_notes(profile: Profile) -> list[str]:
    """What the record tells of gain and aim; none where nothing is asked of the tones."""
    gain, notes = profile.tone.gain, []
    if isinstance(gain, GainCurve):
        row = PressWord.MEASURED_ON if gain.head.date else PressWord.MEASURED
        notes.append(row.say(name=gain.name, date=gain.head.date, aim=_aimed(profile)))
    elif gain:
        notes.append(PressWord.GAIN.say(gain=f"{gain:g}", aim=_aimed(profile)))
    elif profile.tone.aim is Aim.LUMINANCE:
        notes.append(PressWord.NO_GAIN.say(aim=_aimed(profile)))
    return notes + held_notes(profile) + aim_not_said(profile)


def aim_not_said(profile: Profile) -> list[str]:
    """A word where a measured press was described before ``tone.aim`` was there."""
    gain, said = profile.tone.gain, json.loads(profile.settings).get("tone") or {}
    # Nobody had a file with a date in its head before.
    if not isinstance(gain, GainCurve) or gain.head.date or "aim" in said:
        return []
    return [PressWord.AIM_NOT_SAID.say()]


def describe_tones(profile: Profile) -> dict[str, Any]:
    """Aim, gain and a small table of the art's tones on film and in print, for ``check --json``."""
    gain, wishes = profile.tone.gain, profile.tone
    press, negative = press_curve_of(profile), profile.film.negative
    steps = tone_steps(wishes, levels=Levels(), negative=negative, press=press)
    art = np.array(TONES_TOLD) / 100
    film = steps(art)
    # On a negative ink lies where the film is clear.
    printed = press.print_of(1 - film if negative else film)
    measured = isinstance(gain, GainCurve)
    return {
        "aim": str(wishes.aim),
        "gain": [list(pair) for pair in gain.points] if isinstance(gain, GainCurve) else gain,
        "edge_um": None if measured else _edge_um(profile),
        "tones": [
            {
                "art_pct": tone,
                "film_pct": round(100 * float(on_film), 1),
                "wanted_pct": round(100 * float(wanted), 1),
                "print_pct": round(100 * float(in_print), 1),
            }
            for tone, on_film, wanted, in_print in zip(
                TONES_TOLD, film, print_wanted(art, wishes.aim), printed, strict=True
            )
        ],
        "reach_pct": _reach(profile, press),
    }


def _edge_um(profile: Profile) -> float | None:
    """How far a gain in points moves every edge of the dots."""
    gain = profile.tone.gain
    if isinstance(gain, GainCurve) or not gain or profile.dot is None or profile.lpi is None:
        return None
    return round(_grown(profile, gain).width * MM_PER_INCH * 1000 / profile.lpi, 1)


def _reach(profile: Profile, press: PressCurve) -> list[float]:
    """The lightest and the darkest printed tone, percent, between bare film and solid."""
    hold = profile.tone.hold
    ends = np.array(hold) / 100 if isinstance(hold, tuple) else np.array([0.0, 1.0])
    return [round(100 * float(tone), 1) for tone in press.print_of(ends)]


def tone_rule(profile: Profile) -> str:
    """In one line, what the print shall be and what press it is made for."""
    gain, aim = profile.tone.gain, _aimed(profile)
    if isinstance(gain, GainCurve):
        row = PressWord.RULE_MEASURED_ON if gain.head.date else PressWord.RULE_MEASURED
        return row.say(aim=aim, name=gain.name, date=gain.head.date)
    if not gain:
        return PressWord.RULE_NO_GAIN.say(aim=aim)
    edge = _edge_um(profile)
    said = PressWord.RULE_GAIN if edge is None else PressWord.RULE_GAIN_AND_EDGE
    return said.say(aim=aim, gain=f"{gain:g}", edge=f"{edge or 0:.0f}")


def _aimed(profile: Profile) -> str:
    luminance = profile.tone.aim is Aim.LUMINANCE
    return (PressWord.REFLECTS if luminance else PressWord.COVERS).say()
