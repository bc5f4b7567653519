"""A profile for somebody who has none: the package's template, filled in from a few answers.

The ruling and the angle that are offered are tried with this printer and this mesh as
``filmhand check`` tries them, so that the profile passes without a warning wherever one can.
"""

from __future__ import annotations

from dataclasses import replace
from importlib import resources
from math import sqrt
from string import Template

from filmhand.language import spoken
from filmhand.mesh.limits import best_lpi
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.pipeline.profile_notes import NewProfileWord
from filmhand.pipeline.profile_report import profile_warnings
from filmhand.pipeline.render.screen_moire import longest_art_mm, tile_moire
from filmhand.pipeline.render.screen_plan import limits_of, plan_screen
from filmhand.profile.model import COARSEST_LPI, Profile, VerdictLimits
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Treat
from filmhand.values import dataclass

# Mesh makers advise 22.5 degrees (SEFAR, Questions about half-tone printing); the others are
# tried where that makes bands with the mesh.
_ANGLES = (22.5, 20.0, 25.0, 17.5, 27.5, 15.0, 30.0, 12.5, 32.5, 10.0, 35.0, 7.5, 37.5)
_RULINGS = (85, 75, 65, 60, 55, 50, 45, 40, 35, 30, 25, 20, 18, 15, 12, 10, 8, 6)
_COARSE_LPI = 25.0  # where nothing is known of the mesh (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileAnswers:
    """What a new profile shall say, each as a profile would write it; None for what is advised."""

    sheet: str
    dpi: str
    margin: str
    mesh: str
    treat: Treat = Treat.AUTO
    dot: str = "round"
    lpi: float | None = None
    angle: float | None = None
    frame: str | None = None


def advised_lpi(answers: ProfileAnswers) -> float:
    """The finest usual ruling that printer and mesh hold without a warning.

    Where none does, the coarsest that was tried, so that ``check`` tells why.
    """
    profile = _trial(answers, COARSEST_LPI, _ANGLES[0])
    limits = limits_of(profile)
    # A dot can take the printer's pixels in a cell, and one size more: (dpi / lpi) ** 2 + 1.
    levels = sqrt(VerdictLimits().levels - 1)
    finest = min(profile.acetate_dpi.x, profile.acetate_dpi.y) / levels
    if profile.mesh is None or limits is None:
        return min(_COARSE_LPI, finest)
    finest = min(finest, best_lpi(limits), profile.mesh.threads_per_inch / VerdictLimits().ratio)
    may = [float(lpi) for lpi in _RULINGS if lpi <= finest] or [float(COARSEST_LPI)]
    for lpi in may:
        if any(_is_quiet(answers, lpi, angle) for angle in _angles(answers)):
            return lpi
    return may[-1]


def advised_angle(answers: ProfileAnswers, lpi: float) -> float:
    """The first of the angles at which such a screen makes no band that warns."""
    angles = _angles(answers)
    return next((angle for angle in angles if _is_quiet(answers, lpi, angle)), angles[0])


def new_profile_text(answers: ProfileAnswers, *, file: str) -> str:
    """The template with the answers in it; what was left open is what is advised.

    Parameters
    ----------
    file : the profile's file, as its first lines name it
    """
    line_art = answers.treat is Treat.LINE
    lpi = answers.lpi
    if lpi is None:
        lpi = _COARSE_LPI if line_art else advised_lpi(answers)
    angle = answers.angle
    if angle is None:
        angle = _ANGLES[0] if line_art else advised_angle(answers, lpi)
    mesh = _mesh_of(answers)
    return Template(_template()).substitute(
        title=_title(mesh, line_art=line_art),
        file=file,
        sheet=answers.sheet,
        dpi=answers.dpi,
        margin=answers.margin,
        mesh="none" if mesh is None else mesh.label,
        mesh_note=_mesh_note(mesh),
        lpi=f"{lpi:g}",
        angle=f"{angle:g}",
        dot=answers.dot,
        treat=answers.treat,
        screened="#" if line_art else "",
        frame=answers.frame or "16 x 20 in",
        framed="" if answers.frame else "#",
    )


def _template() -> str:
    """The template in the language in force, or in English where it has none."""
    folder = resources.files("filmhand.profile")
    own = folder / f"template.{spoken()}.yaml"
    return (own if own.is_file() else folder / "template.yaml").read_text(encoding="utf-8")


def _mesh_of(answers: ProfileAnswers) -> Mesh | None:
    count = answers.mesh.strip()
    return read_mesh(int(count) if count.isdigit() else count)


def _mesh_note(mesh: Mesh | None) -> str:
    if mesh is None:
        return NewProfileWord.NO_MESH.say()
    said = NewProfileWord.MESH_ASSUMED if mesh.assumed else NewProfileWord.MESH
    return said.say(threads=f"{mesh.threads_per_cm:g}", thread=f"{mesh.thread_um:g}")


def _title(mesh: Mesh | None, *, line_art: bool) -> str:
    if mesh is not None:
        said = NewProfileWord.TITLE_LINE_ART if line_art else NewProfileWord.TITLE
        return said.say(mesh=mesh.label)
    if line_art:
        return NewProfileWord.TITLE_LINE_ART_WITHOUT_MESH.say()
    return NewProfileWord.TITLE_WITHOUT_MESH.say()


def _angles(answers: ProfileAnswers) -> tuple[float, ...]:
    return _ANGLES if answers.angle is None else (answers.angle,)


def _is_quiet(answers: ProfileAnswers, lpi: float, angle: float) -> bool:
    """Whether such a profile warns of nothing."""
    profile = _trial(answers, lpi, angle)
    screen = plan_screen(profile)
    moire = tile_moire(profile, screen, screen.tile(), longest_art_mm(profile))
    return not profile_warnings(profile, screen, moire)


def _trial(answers: ProfileAnswers, lpi: float, angle: float) -> Profile:
    full = replace(answers, lpi=lpi, angle=angle, treat=Treat.AUTO)
    return read_profile(new_profile_text(full, file=""), name="new", file="the answers")
