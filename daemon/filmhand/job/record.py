"""The record of one film, as far as it is known before the film has its final name."""

from __future__ import annotations

from typing import Any

from filmhand import __version__
from filmhand.art.read import Art
from filmhand.film.formats import Format
from filmhand.job.screen_plan import ScreenPlan
from filmhand.job.work import Work

SCHEMA = "filmhand-record/1"


def source_of(work: Work, art: Art, art_sha256: str) -> dict[str, Any]:
    """What the film was made from."""
    return {
        "name": work.request.name,
        "sha256": art_sha256,
        "format": art.format,
        "width_px": art.width_px,
        "height_px": art.height_px,
    }


def film_record(
    work: Work,
    *,
    screen: ScreenPlan | None,
    source: dict[str, Any],
    sha256: dict[Format, str],
) -> dict[str, Any]:
    """The record; ``film.files``, ``job``, ``at`` and ``earlier`` are filled in on publishing."""
    profile, layout = work.profile, work.layout
    ticket = work.ticket
    return {
        "schema": SCHEMA,
        "filmhand": __version__,
        "job": None,
        "at": None,
        "film": {
            "files": {},
            "sha256": {str(kind): digest for kind, digest in sha256.items()},
            "width_px": layout.sheet.width,
            "height_px": layout.sheet.height,
            "dpi": [profile.dpi.x, profile.dpi.y],
            "sheet_mm": list(profile.sheet.mm),
        },
        "source": source,
        "profile": {"name": profile.name, "sha256": profile.sha256},
        "ticket": ticket.raw or None,
        "for": ticket.for_whom,
        "copies": ticket.copies,
        "earlier": None,
        "treated": str(work.treated),
        "art": {
            "width_mm": round(layout.art_mm[0], 2),
            "height_mm": round(layout.art_mm[1], 2),
            "turned": layout.turned,
            "ppi": round(layout.ppi, 1),
        },
        "screen": None if screen is None else screen.record(),
        "mesh": None
        if profile.mesh is None
        else {
            "label": profile.mesh.label,
            "threads_per_cm": profile.mesh.threads_per_cm,
            "thread_um": profile.mesh.thread_um,
            "opening_um": round(profile.mesh.opening_um, 1),
            "assumed": profile.mesh.assumed,
        },
        "checks": [check.record() for check in work.checks],
        "notes": work.notes,
    }
