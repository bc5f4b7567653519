"""What ``filmhand check`` tells of a profile: its screen as made, and what its mesh holds."""

from __future__ import annotations

from math import ceil, floor, isfinite
from typing import Any

from filmhand.film.write import open_writer
from filmhand.language import and_list
from filmhand.mesh.assumed import assumptions
from filmhand.mesh.checks import Verdict
from filmhand.mesh.figures import figures_apart
from filmhand.mesh.limits import MeshLimits, best_lpi, diameter_um, smallest_tone
from filmhand.mesh.moire.bands import Moire
from filmhand.pipeline.press_curve import aim_not_said, describe_tones, tone_rule
from filmhand.pipeline.printer_films.printer_words import scale_pct
from filmhand.pipeline.profile_notes import ProfileNote
from filmhand.pipeline.readings.measured_press import curve_record, held_notes, reading_warnings
from filmhand.pipeline.record import mesh_record
from filmhand.pipeline.render.screen_moire import (
    longest_art_mm,
    moire_check,
    moire_offers,
    tile_moire,
)
from filmhand.pipeline.render.screen_plan import ScreenPlan, limits_of, plan_screen, screen_checks
from filmhand.pipeline.separation.planning.set_report import set_report
from filmhand.pipeline.verdict.judge import check_sentence
from filmhand.profile.model import Profile, VerdictLimits
from filmhand.profile.read.schema import OF_INKS
from filmhand.profile.read.values import is_unencrypted
from filmhand.request import LARGEST_FILE
from filmhand.screen.tile import ThresholdTile
from filmhand.sheet.screen_frame import printable_mm
from filmhand.units import SheetSize, finest_lpi, size_text

# The rulings of which a profile's report tells the tones, beside the profile's own.
_RULINGS = (20, 25, 30, 35, 40, 45, 50, 55, 65, 75, 85)


def describe_profile(profile: Profile) -> dict[str, Any]:
    """The profile's entry of ``filmhand check --json``."""
    screen = plan_screen(profile) if profile.lpi is not None and profile.dot is not None else None
    tile = _try_out(profile, screen)
    moire = None
    if screen is not None and tile is not None:
        moire = tile_moire(profile, screen, tile, longest_art_mm(profile))
    films = set_report(profile)
    return {
        "name": profile.name,
        "sheet_mm": list(profile.sheet.mm),
        "sheet": size_text(profile.sheet.mm, profile.sheet, decimals=1),
        "unit": "in" if profile.sheet.in_inches else "mm",
        "sheet_px": list(profile.sheet.pixels(profile.dpi)),
        "dpi": [profile.dpi.x, profile.dpi.y],
        "scale_pct": scale_pct(profile),
        "treat": str(profile.art.treat),
        "frame": None if profile.frame is None else _frame(profile.frame),
        "mesh": None if profile.mesh is None else mesh_record(profile.mesh),
        "screen": None if screen is None else screen.record(),
        "set": films,
        "holds": _holds(profile, screen),
        **_moire(profile, screen, tile, moire),
        "tone": tone_rule(profile),
        "press": None if screen is None else describe_tones(profile),
        "curve": curve_record(profile),
        "workers": profile.workers or "own",
        "warnings": [
            *_too_large(profile),
            *_of_screens(profile, screen, moire, films),
            *aim_not_said(profile),
            *([] if (films or {}).get("films") else reading_warnings(profile)),
            *_waiting_for_inks(profile),
            *_unencrypted(profile),
        ],
    }


def _of_screens(
    profile: Profile, screen: ScreenPlan | None, moire: Moire | None, films: dict[str, Any] | None
) -> list[str]:
    """What every film would warn of; of inks that are known by their own screens, said once."""
    known = (films or {}).get("films")
    if known is None:
        return profile_warnings(profile, screen, moire)
    told: dict[str, list[str]] = {}
    for film in known:
        for warning in film["warnings"]:
            told.setdefault(warning, []).append(film["ink"])
    of_inks = [
        warning
        if len(inks) == len(known)
        else ProfileNote.OF_INKS.say(inks=", ".join(inks), warning=warning)
        for warning, inks in told.items()
    ]
    return profile_warnings(profile, None, None) + of_inks


def _waiting_for_inks(profile: Profile) -> list[str]:
    if profile.inks is not None:
        return []
    keys = [key for key, silent in OF_INKS.items() if getattr(profile, key) != silent]
    return [ProfileNote.WAITS_FOR_INKS.say(keys=and_list(keys))] if keys else []


def _frame(frame: SheetSize) -> dict[str, Any]:
    return {"inside_mm": list(frame.mm), "prints_mm": list(printable_mm(frame))}


def _too_large(profile: Profile) -> list[str]:
    width, height = profile.sheet.pixels(profile.dpi)
    size = height * ((width + 7) // 8)
    if size <= LARGEST_FILE:
        return []
    tenths = ceil(size / 2**30 * 10) / 10
    return [ProfileNote.TOO_LARGE_A_FILE.say(size=f"{tenths:g}", allowed=LARGEST_FILE // 2**30)]


def _try_out(profile: Profile, screen: ScreenPlan | None) -> ThresholdTile | None:
    """Begin all that a film needs, so that no profile is called right of which none can be made."""
    for kind in profile.write:
        open_writer(profile.sheet.pixels(profile.dpi), format=kind, dpi=profile.dpi)
    return None if screen is None else screen.tile()


def _holds(profile: Profile, screen: ScreenPlan | None) -> dict[str, Any] | None:
    limits = limits_of(profile)
    if profile.mesh is None or limits is None:
        return None
    low, high = (None, None) if screen is None else _tones(limits, screen.grid.lpi)
    return {
        "smallest_dot_um": round(limits.dot.warn_um, 1),
        "smallest_shadow_dot_um": round(limits.shadow_dot.warn_um, 1),
        "narrowest_stroke_um": round(limits.stroke.warn_um, 1),
        "narrowest_gap_um": round(limits.gap.warn_um, 1),
        "lost_stroke_um": round(limits.stroke.fail_um, 1),
        "lost_gap_um": round(limits.gap.fail_um, 1),
        "measured": held_notes(profile),
        "tone_min_pct": low,
        "tone_max_pct": high,
        "best_lpi": _finest(limits),
        "by_lpi": _by_lpi(profile, limits, profile.mesh.threads_per_inch),
    }


def _tones(limits: MeshLimits, lpi: float) -> tuple[float, float] | tuple[None, None]:
    """The lightest and the darkest tone that print evenly at a ruling, percent; None without any.

    Where the cell has no room for an even dot, or where no tone has room for both an even dot and
    an even shadow dot, nothing prints evenly.
    """
    low = round(smallest_tone(limits.dot.warn_um, lpi) * 100, 2)
    high = round(100 - smallest_tone(limits.shadow_dot.warn_um, lpi) * 100, 2)
    return (low, high) if low < high else (None, None)


def _by_lpi(profile: Profile, limits: MeshLimits, threads_per_inch: float) -> list[dict[str, Any]]:
    """What the mesh holds at common rulings, as far as this printer can draw them."""
    finest = finest_lpi(profile.acetate_dpi)
    rulings: set[float] = {float(lpi) for lpi in _RULINGS if lpi <= finest}
    if profile.lpi is not None:
        rulings.add(profile.lpi)
    described = []
    for lpi in sorted(rulings):
        low, high = _tones(limits, lpi)
        ratio = round(threads_per_inch / lpi, 2)
        described.append({"lpi": lpi, "tone_min_pct": low, "tone_max_pct": high, "ratio": ratio})
    return described


def _finest(limits: MeshLimits) -> float | None:
    """The finest advisable ruling; None where ``verdict`` lets any dot pass."""
    finest = best_lpi(limits)
    return round(finest, 1) if isfinite(finest) else None


def _moire(
    profile: Profile, screen: ScreenPlan | None, tile: ThresholdTile | None, moire: Moire | None
) -> dict[str, Any]:
    """The bands with the mesh, and what would be seen less."""
    if screen is None or tile is None or moire is None:
        keys = ("period_mm", "worst_period_mm", "strength_pct", "visibility")
        none: dict[str, Any] = {**dict.fromkeys(keys), "better_angles": []}
        return {"moire": none, "bands": [], "less_moire": []}
    offers = moire_offers(profile, screen, tile, moire, longest_art_mm(profile))
    angles = [offer.value for offer in offers if offer.key == "angle"]
    return {
        "moire": {**moire.summary(), "better_angles": angles},
        "bands": moire.record()["bands"],
        "less_moire": [offer.record() for offer in offers],
    }


def profile_warnings(profile: Profile, screen: ScreenPlan | None, moire: Moire | None) -> list[str]:
    """What every film of the profile would warn of, in sentences.

    Parameters
    ----------
    moire : of the screen's tile
    """
    limits = limits_of(profile)
    if profile.mesh is None or limits is None:
        return [ProfileNote.NO_MESH.say(), *_unused(profile)]
    found = assumptions(profile.mesh)
    if screen is None:
        return found
    checks = screen_checks(profile, screen) + ([moire_check(profile, moire)] if moire else [])
    found += [
        check_sentence(check, profile.sheet)
        for check in checks
        if check.verdict is not Verdict.PASS
    ]
    even = limits.dot.warn_um
    made = diameter_um(screen.smallest_dot, profile.acetate_dpi)
    if profile.tone.hold == "auto" and made < even * (1 - 1e-9):
        smallest, wanted = figures_apart(made, even, figures=3)
        said = ProfileNote.NO_ROOM_FOR_DOTS.say(
            lpi=f"{screen.lpi_asked:g}",
            wanted=wanted,
            smallest=smallest,
            finest=floor(round(best_lpi(limits), 1)),
        )
        found.append(said)
    return found


def _unencrypted(profile: Profile) -> list[str]:
    """A word where jobs leave this computer for all to read."""
    if profile.workers is None or not is_unencrypted(profile.workers):
        return []
    return [ProfileNote.UNENCRYPTED.say(workers=profile.workers)]


def _unused(profile: Profile) -> list[str]:
    """Sizes in ``verdict`` that nothing is held against, because no mesh is named."""
    own, plain = profile.verdict, VerdictLimits()
    sizes = ("dot", "shadow_dot", "stroke", "gap")
    given = [f"verdict.{name}" for name in sizes if getattr(own, name) != getattr(plain, name)]
    return [ProfileNote.WITHOUT_MESH.say(keys=and_list(given))] if given else []
