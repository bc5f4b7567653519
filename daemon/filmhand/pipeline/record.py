"""The record of one film, as far as it is known before the film has its final name."""

from __future__ import annotations

from typing import Any

from filmhand import __version__
from filmhand.film.formats import Format
from filmhand.mesh.assumed import assumptions
from filmhand.mesh.table import Mesh
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.printer_films.printer_words import scale_pct
from filmhand.pipeline.readings.measured_press import curve_record
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.sheet.layout import FilmPart, Layout
from filmhand.units import MM_PER_INCH, PixelsPerInch

SCHEMA = "filmhand-record/1"


def film_record(
    work: FilmInWork, counted: CountedFilm, sha256: dict[Format, str]
) -> dict[str, Any]:
    """The record; ``film.files``, ``job``, ``at`` and ``earlier`` are filled in on publishing."""
    profile, layout, ticket, screen = work.profile, work.layout, work.ticket, work.screen
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
            "scale_pct": scale_pct(profile),
            "stack": profile.film.stack,
        },
        "source": work.source,
        "profile": {"name": profile.name, "sha256": profile.sha256},
        "ticket": ticket.raw or None,
        "wishes": [wish.words for wish in ticket.wishes],
        "for": ticket.for_whom or work.request.sub.partition("/")[0] or None,
        "copies": ticket.copies,
        "earlier": None,
        "treated": str(work.treated),
        "art": {
            "width_mm": round(layout.art_mm[0], 2),
            "height_mm": round(layout.art_mm[1], 2),
            "turned": layout.turned,
            "ppi": round(layout.ppi, 1),
            "kind": None if work.reading is None else str(work.reading.kind),
            "cut": work.kept.record(),
            "copies": None if layout.grid is None else [layout.grid.columns, layout.grid.rows],
            "part": None
            if layout.part is None
            else part_record(layout, layout.part, profile.acetate_dpi),
        },
        "screen": None if screen is None else screen.record(),
        "curve": None if screen is None else curve_record(profile),
        "moire": None if work.moire is None else work.moire.record(),
        "mesh": None if profile.mesh is None else mesh_record(profile.mesh),
        "likeness": None
        if counted.likeness is None
        else counted.likeness.record(profile.acetate_dpi),
        "spotted": {
            "specks": counted.spotted.specks,
            "pinholes": counted.spotted.pinholes,
            "enlarged": counted.spotted.enlarged,
            "joined": counted.spotted.joined,
            "pixels": counted.spotted.pixels,
        },
        "repaired": [repair.record() for repair in work.repaired],
        "cleared": work.cleared.record(),
        "checks": [check.record() for check in work.checks],
        "worst": [spot.record(profile.acetate_dpi) for spot in counted.worst],
        "warnings": [warned.said for warned in work.warned],
        "reminders": work.reminders,
        "notes": work.notes + ([] if profile.mesh is None else assumptions(profile.mesh)),
    }


def part_record(layout: Layout, part: FilmPart, dpi: PixelsPerInch) -> dict[str, Any]:
    """Which film of joined ones this is, and what of the art it shows, in mm from its top left."""
    return {
        "row": part.row,
        "column": part.column,
        "rows": part.rows,
        "columns": part.columns,
        "overlap_mm": round(part.overlap[0] / dpi.x * MM_PER_INCH, 2),
        "left_mm": round((part.shown.left - layout.printable.left) / dpi.x * MM_PER_INCH, 2),
        "top_mm": round((part.shown.top - layout.printable.top) / dpi.y * MM_PER_INCH, 2),
        "width_mm": round(part.shown.width / dpi.x * MM_PER_INCH, 2),
        "height_mm": round(part.shown.height / dpi.y * MM_PER_INCH, 2),
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
