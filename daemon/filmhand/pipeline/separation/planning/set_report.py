"""What ``filmhand check`` tells of the films of a set, before there is any art."""

from __future__ import annotations

from typing import Any

from filmhand.mesh.checks import Verdict
from filmhand.pipeline.readings.measured_press import curve_record, reading_warnings
from filmhand.pipeline.render.screen_moire import longest_art_mm, moire_check, tile_moire
from filmhand.pipeline.render.screen_plan import plan_screen, screen_checks
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, plan_set
from filmhand.pipeline.separation.planning.wanted_inks import asked_mode, known_inks
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.verdict.judge import check_sentence
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat


def set_report(profile: Profile) -> dict[str, Any] | None:
    """The films of a profile's set; None where it makes none, or where art decides which.

    Where art decides how colors become inks, these are the films of spot colors.
    """
    if profile.inks is None:
        return None
    inks, asked = known_inks(profile), asked_mode(profile)
    told: dict[str, Any] = {"mode": str(asked or "auto"), "films": None}
    if inks is None:
        return told
    mode = asked or SeparationMode.SPOT
    films = []
    wanted = wanted_set(profile, inks, mode)
    for film in plan_set(wanted).films:
        own = inks.profile_of(film, profile)
        films.append(
            {
                "k": film.place,
                "ink": film.ink.name,
                "color": [round(value, 2) for value in film.ink.color],
                "mesh": None if own.mesh is None else own.mesh.label,
                "overprint": film.place - 1 in wanted.overprinting,
                "curve": curve_record(own),
                **_screen(own),
            }
        )
    return told | {"films": films}


def _screen(own: Profile) -> dict[str, Any]:
    """The screen of an ink, and what its mesh has against it."""
    if own.art.treat is Treat.LINE or own.lpi is None or own.dot is None:
        return {"lpi": None, "angle": None, "warnings": []}
    screen = plan_screen(own)
    angle = screen.angle_made()
    checks = screen_checks(own, screen)
    moire = tile_moire(own, screen, screen.tile(), longest_art_mm(own))
    if moire is not None:
        checks.append(moire_check(own, moire))
    return {
        "lpi": round(screen.grid.lpi, 4),
        "angle": None if angle is None else round(angle, 4),
        "warnings": [
            *(check_sentence(one, own.sheet) for one in checks if one.verdict is not Verdict.PASS),
            *reading_warnings(own),
        ],
    }
