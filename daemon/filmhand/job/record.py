"""The record of one film, as far as it is known before the film has its final name."""

from __future__ import annotations

from typing import Any

from filmhand import __version__
from filmhand.art.read import Art
from filmhand.film.formats import Format
from filmhand.job.inspect import Counted
from filmhand.job.places import spot_record
from filmhand.job.screen_plan import ScreenPlan
from filmhand.job.work import Work
from filmhand.mesh.table import Mesh

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
    counted: Counted,
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
            "kind": None if work.reading is None else str(work.reading.kind),
        },
        "screen": None if screen is None else screen.record(),
        "beat": None if screen is None or screen.beat is None else screen.beat.record(),
        "mesh": None if profile.mesh is None else mesh_record(profile.mesh),
        "mended": {
            "removed": counted.mended.removed,
            "filled": counted.mended.filled,
            "grown": counted.mended.grown,
            "joined": counted.mended.joined,
            "pixels": counted.mended.pixels,
        },
        "checks": [check.record() for check in work.checks],
        "worst": [spot_record(spot, profile.dpi) for spot in counted.worst],
        "notes": work.notes + ([] if profile.mesh is None else assumptions(profile.mesh)),
    }


def mesh_record(mesh: Mesh) -> dict[str, Any]:
    """The mesh as records and reports show it."""
    return {
        "label": mesh.label,
        "threads_per_cm": mesh.threads_per_cm,
        "thread_um": mesh.thread_um,
        "opening_um": round(mesh.opening_um, 1),
        "open_area_pct": round(mesh.open_area * 100, 1),
        "thickness_um": round(mesh.thickness_um, 1),
        "ink_volume_cm3_m2": round(mesh.ink_volume, 1),
        "stretch_pct": mesh.stretch_percent,
        "assumed": mesh.assumed,
    }


def assumptions(mesh: Mesh) -> list[str]:
    """What had to be assumed about the mesh, in plain sentences."""
    if not mesh.assumed:
        return []
    return [
        f"Only the inch count was given; a thread of {mesh.thread_um:g} um is assumed. Give "
        f"threads per cm and thread, such as {mesh.label}, from the mesh's data sheet."
    ]
