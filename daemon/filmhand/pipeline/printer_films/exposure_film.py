"""The film of ``filmhand wedge --exposure``: which of several times of light is the right one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.film.formats import Format
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
from filmhand.pipeline.printer_films.wedge_film import (
    boxes_in_file,
    code_modules,
    ground_in,
    identity_of,
    negative_part,
    room_for_wedge,
    side_words,
)
from filmhand.pipeline.printer_films.wedge_words import ExposureWord, WedgeRefusal
from filmhand.profile.model import Profile
from filmhand.sheet.exposure_layout import exposure_layout, step_factor
from filmhand.sheet.wedge_drawing import all_marks, code_mark, title_mark
from filmhand.sheet.wedge_identity import WedgeIdentity, WedgeKind
from filmhand.units import size_text


def make_exposure_film(
    profile: Profile, scratch: Path
) -> tuple[dict[Format, Path], dict[str, Any]]:
    """Write the film as ``film.*`` in a scratch folder, and tell what is where on it.

    Raises
    ------
    Refused
        where the sheet is too small for it
    """
    identity = exposure_identity(profile)
    room, size = room_for_wedge(profile)
    layout = exposure_layout(*size, dpi=profile.acetate_dpi)
    if layout is None:
        sheet = size_text(profile.sheet.mm, profile.sheet, decimals=1)
        raise WedgeRefusal.NO_ROOM_FOR_STEPS.refused(profile=profile.name, sheet=sheet)
    ground = ground_in(room, size, profile)
    with in_film_language(profile):
        marks = all_marks(
            ground,
            corners=layout.corner_marks,
            fields=layout.fields,
            solids=layout.blocks,
            bars=layout.scale_bars,
            labels=layout.labels,
        )
        marks.append(title_mark(layout.title, _title(profile), ground))
    marks.append(code_mark(code_modules(identity), layout.code, ground))
    negative = negative_part(profile, ground, size)
    mirror = profile.film.mirror
    box_px = boxes_in_file(profile, ground)
    return write_drawn_film(profile, marks, scratch, mirror=mirror, negative=negative), {
        "code": identity.text(),
        "dpi": [profile.dpi.x, profile.dpi.y],
        "mirror": identity.mirror,
        "negative": identity.negative,
        "size_mm": list(size),
        "steps": [
            {
                "step": step.number,
                "factor": round(step_factor(step.number), 4),
                "box_px": box_px(step.box),
                "solid_px": box_px(step.solid),
                "clear_px": box_px(step.clear),
                "fields": [
                    {
                        "shows": str(one.kind),
                        "size_um": round(one.size_um, 1),
                        "box_px": box_px(one.box),
                    }
                    for one in step.fields
                ],
            }
            for step in layout.steps
        ],
    }


def exposure_identity(profile: Profile) -> WedgeIdentity:
    """What the code of a profile's exposure film says."""
    _, size = room_for_wedge(profile)
    return identity_of(profile, WedgeKind.EXPOSURE, size, None)


def _title(profile: Profile) -> list[str]:
    return [
        ExposureWord.TITLE.say(profile=profile.name),
        ExposureWord.PRINTER.say(dpi=profile.dpi, version=__version__),
        ExposureWord.FIELDS.say(),
        side_words(profile),
    ]
