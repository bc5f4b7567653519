"""Drawings of commands (PDF, SVG), opened as coded gray."""

from __future__ import annotations

from typing import TYPE_CHECKING

from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.drawings import pdf, svg
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files.decode import ExaminedFile, guarded
from filmhand.art.files.file_types import FileType
from filmhand.art.files.pixel_layouts import _INKS, LIGHTNESS_NOTE, computed_plane_note
from filmhand.art.opened_art import Art

if TYPE_CHECKING:
    from filmhand.profile.model import Limits


def read_drawn(
    found: ExaminedFile,
    *,
    page: int,
    limits: Limits,
    channel: str,
    sizing: Sizing | None,
    notes: list[str],
) -> Art:
    """Drawings of commands, drawn with the film's own pixels."""
    with guarded(found.name, limits):
        if found.kind is FileType.PDF:
            drawn = pdf.draw_page(
                found.path,
                name=found.name,
                page=page,
                channel=channel,
                limits=limits,
                sizing=sizing,
            )
        else:
            drawn = svg.draw(
                found.path, name=found.name, channel=channel, limits=limits, sizing=sizing
            )
    height, width = drawn.coded.shape
    notes += drawn.notes
    if channel == "lightness":
        notes.append(LIGHTNESS_NOTE)
    if channel in _INKS:
        notes.append(computed_plane_note(channel))
    flats = drawn.flats or looks_drawn(drawn.coded)
    return Art(
        drawn.coded, drawn.ppi, found.kind.value, width, height, len(found.pages), flats, notes
    )
