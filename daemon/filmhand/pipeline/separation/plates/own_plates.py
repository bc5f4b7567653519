"""The plates of art that is separated already, by the inks of the set that it is made for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from pathlib import Path

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.crop_window import CropWindow
from filmhand.art.drawings.vector import Sizing
from filmhand.art.plates.art_plates import PROCESS_INKS, ArtPlates, plate_key
from filmhand.art.plates.find_plates import (
    names_of_pages,
    plate_names,
    plates_of_art,
    plates_of_pages,
)
from filmhand.errors import Refused
from filmhand.language import and_list
from filmhand.pipeline.render.strips import oriented
from filmhand.pipeline.separation.plates.layers_to_plates import layer_plates
from filmhand.pipeline.separation.plates.plate_words import PlateNote, PlateRefusal
from filmhand.profile.model import Limits
from filmhand.tone import FULL
from filmhand.values import dataclass

_MOST_TOLD = 8


@dataclass(slots=True, eq=False)
class OwnPlates:
    """The plates of art, by the names of the set's inks.

    Attributes
    ----------
    tones : of each ink that has a plate, by its name, (H, W) uint16, upright; 65535 for a solid
    drawn : whether all are plates of a drawing
    notes : plain sentences
    made : of inks that the art has no plate of, and that were made of the others
    """

    tones: dict[str, UInt16Array]
    drawn: bool
    notes: list[str]
    made: set[str] = field(default_factory=set)

    @property
    def shape(self) -> tuple[int, ...]:
        """Rows and columns."""
        return next(iter(self.tones.values())).shape

    def of(self, names: Sequence[str]) -> list[UInt16Array]:
        """The plates of these inks; blank ones for those that have none."""
        blank = np.zeros(self.shape, np.uint16)
        return [self.tones.get(name, blank) for name in names]

    def cut(self, window: CropWindow) -> None:
        """Keep a part of them."""
        left, top, right, bottom = window.pixels(self.shape[1], self.shape[0])
        self.tones = {name: tone[top:bottom, left:right] for name, tone in self.tones.items()}

    def lay(self, *, turned: int, mirror: bool) -> None:
        """Turn them to what they are on the film."""
        self.tones = {
            name: oriented(tone, turned=turned, mirror=mirror) for name, tone in self.tones.items()
        }

    def with_underbase(self, ink: str) -> None:
        """Make the plate of what lies below all other inks, where the art has none."""
        if ink not in self.tones:
            self.tones[ink] = np.maximum.reduce(list(self.tones.values()))
            self.made.add(ink)
            self.notes.append(PlateNote.BELOW.say(ink=ink))

    def cut_to_total(self, total: float) -> None:
        """Make inks lighter where they add up to more, 3 for 300 %; all of a place alike."""
        sums = sum(tone.astype(np.float32) for tone in self.tones.values())
        over = np.asarray(sums, np.float32) > total * FULL
        if not over.any():
            return
        share = total * FULL / np.asarray(sums)[over]
        for name, tone in self.tones.items():
            lighter = tone.copy()
            lighter[over] = np.floor(tone[over] * share)
            self.tones[name] = lighter
        self.notes.append(PlateNote.CUT_TO_TOTAL.say(total=f"{100 * total:g}"))


def plates_for(
    path: Path,
    *,
    name: str,
    limits: Limits,
    inks: Mapping[str, Float64Array],
    page: int = 0,
    sizing: Sizing | None = None,
    by_pages: bool = True,
) -> tuple[OwnPlates | None, list[str]]:
    """The plates that art has for inks, and notes on plates that it has for no ink.

    Parameters
    ----------
    inks : their names, in print order, and (3,) float64, L*, a*, b* of each
    by_pages : whether pages that are called like inks are plates
    name, limits, page, sizing : as for :func:`filmhand.art.files.open_art.open_art`, and so is what
        is raised

    Raises
    ------
    Refused
        colors, where there are plates for some inks, and something that is on none of these plates
    """
    asked = {plate_key(ink): ink for ink in inks}
    pages = pages_for(path, name=name, limits=limits, inks=list(inks)) if by_pages else ()
    told: list[str] = []
    if pages:
        found, row = _of_pages(path, name, limits, pages, sizing), PlateNote.OWN_PAGES
    else:
        names = plate_names(path, name=name, limits=limits, page=page)
        if not _are_plates(names or (), asked):
            layers, told = layer_plates(
                path, name=name, limits=limits, inks=inks, page=page, sizing=sizing
            )
            if layers is not None:
                return _own(layers, layers.names, PlateNote.OWN_LAYERS), []
        if names is None:
            return None, [PlateNote.NOT_UNDERSTOOD.say(), *told]
        if names and not any(plate_key(plate) in asked for plate in names):
            return None, [PlateNote.NONE_IS_NAMED.say(plates=_listed(names)), *told]
        whole = plates_of_art(path, name=name, limits=limits, page=page, sizing=sizing)
        if whole is None:
            return None, told
        found, row = whole, PlateNote.OWN
    in_process = not pages and set(found.names) <= set(PROCESS_INKS)
    if note := _why_not(found, asked, name=name, in_process=in_process):
        return None, [note, *told]
    named = [asked.get(plate_key(plate)) for plate in found.names]
    return _own(found, named, row), told


def _own(found: ArtPlates, inks: Sequence[str | None], row: PlateNote) -> OwnPlates:
    """Plates by the inks that they are of, None for a plate that is of none."""
    tones = {ink: tone for ink, tone in zip(inks, found.tones, strict=True) if ink is not None}
    drawn = all(looks_drawn(FULL - tone) for tone in tones.values() if tone.any())
    return OwnPlates(tones, drawn, [*found.notes, row.say(inks=and_list(list(tones)))])


def _are_plates(names: Sequence[str], asked: Mapping[str, str]) -> bool:
    """Whether plates are surely meant for the inks.

    One process ink alone is none that was meant: black lines of any layer are on that of black.
    """
    called = [plate for plate in names if plate_key(plate) in asked]
    return len(called) > 1 or not set(called) <= set(PROCESS_INKS)


def _why_not(found: ArtPlates, asked: Mapping[str, str], *, name: str, in_process: bool) -> str:
    """Why the colors of art in process inks alone are separated after all; empty if they are not.

    Most such art is meant for other inks, though one of them be called black.

    Raises
    ------
    Refused
        where other art has something that is on no plate that is asked for
    """
    for plate, tone in zip(found.names, found.tones, strict=True):
        if plate_key(plate) not in asked and tone.any():
            if in_process:
                return PlateNote.OTHER_PROCESS_INKS.say(plate=plate)
            raise PlateRefusal.PLATE_WITHOUT_INK.refused(name=name, plate=plate)
    if found.other_colors:
        if in_process:
            return PlateNote.COLORS_BESIDE.say()
        raise PlateRefusal.OTHER_COLORS.refused(name=name, plates=_listed(found.names))
    return ""


def pages_for(path: Path, *, name: str, limits: Limits, inks: Sequence[str]) -> tuple[int, ...]:
    """The pages that are the plates of inks, from 0; none where not two or more are named so.

    Raises Refused as :func:`filmhand.art.files.open_art.open_art` does, as far as that needs no
    decoding.
    """
    labels = names_of_pages(path, name=name, limits=limits)
    asked = {plate_key(ink) for ink in inks}
    keys = [plate_key(label) for label in labels]
    known = [key for key in keys if key in asked]
    if len(labels) < 2 or len(known) < 2 or len(set(known)) < len(known):
        return ()
    return tuple(range(len(labels)))


def _of_pages(
    path: Path, name: str, limits: Limits, pages: tuple[int, ...], sizing: Sizing | None
) -> ArtPlates:
    try:
        return plates_of_pages(path, name=name, limits=limits, pages=pages, sizing=sizing)
    except Refused:
        raise
    except ValueError:
        labels = names_of_pages(path, name=name, limits=limits)
        raise PlateRefusal.OTHER_SIZE.refused(name=name, plates=_listed(labels)) from None


def _listed(names: Sequence[str]) -> str:
    told = [name for name in names if name][:_MOST_TOLD]
    return and_list(told)
