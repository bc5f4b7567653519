"""The finished bits held against the art that they were made from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array, UInt32Array
from filmhand.art.analysis.likeness import GoneShape, Likeness, darkness, filled_shapes, likeness_of
from filmhand.art.files.gray import Codes
from filmhand.film.bits import box_sums, ink_in_boxes
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.press_curve import press_curve_of
from filmhand.pipeline.render.strips import AreaOfSheet, CutRows, oriented
from filmhand.pipeline.verdict.told_places import places_told
from filmhand.pipeline.verdict.verdict_words import VerdictCount, VerdictWord
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Box, Layout
from filmhand.tone import FULL, Levels, tone_steps
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

# Line art has no dots to be blurred; half a millimeter is what an eye parts at about 1.7 m
# (one minute of arc).
_LINE_CELL_MM = 0.5
_MOST_CELLS = 600
_ROWS_AT_ONCE = 512
_LEAST_SHAPE_MM2, _LEAST_LINE_MM = 4.0, 20.0
# Shares of the art's darkness: of one shape, to be told of by itself, and of all that is lost.
# Nine of ten real pictures lose less than the second (tests/benchmarks/real_files.py).
_WORTH_TELLING, _MOST_LOST = 0.001, 0.08
_PLACES_TOLD = 3


@dataclass(frozen=True, slots=True)
class FilmLikeness:
    """How far the film is its art.

    Attributes
    ----------
    likeness : of the bits to the tone that was asked for
    paper, clipped : shares of the art's darkness that were taken off as its paper, and that the
        end points made bare film
    gone, filled : boxes on the sheet of the shapes that do not show, and of light ones in the ink
        of line art that are solid
    """

    likeness: Likeness
    paper: float
    clipped: float
    gone: tuple[Box, ...]
    filled: tuple[Box, ...] = ()

    def record(self, dpi: PixelsPerInch) -> dict[str, Any]:
        """As the record holds it; places in millimeters from the sheet's top left corner."""
        return {
            "correlation": round(self.likeness.correlation, 4),
            "lost_pct": round(100 * self.likeness.lost, 1),
            "added_pct": round(100 * self.likeness.added, 1),
            "paper_pct": round(100 * self.paper, 1),
            "clipped_pct": round(100 * self.clipped, 1),
            "gone": [_place(box, dpi) for box in self.gone],
            "filled": [_place(box, dpi) for box in self.filled],
        }

    def shown(self, part: Box, to: Box) -> FilmLikeness:
        """The same on a film that shows a part of this one, where the part lies at ``to``."""
        across, down = to.left - part.left, to.top - part.top

        def seen(boxes: tuple[Box, ...]) -> tuple[Box, ...]:
            return tuple(
                Box(box.left + across, box.top + down, box.width, box.height)
                for box in boxes
                if part.holds(box.left + box.width // 2, box.top + box.height // 2)
            )

        return replace(self, gone=seen(self.gone), filled=seen(self.filled))

    def missed(self) -> list[str]:
        """What somebody would miss, in the few words that a label has room for."""
        if self.not_shown:
            return [VerdictCount.SHAPES_NOT_THERE.say(len(self.not_shown))]
        return [VerdictWord.MUCH_NOT_THERE.say()] if self.much_lost else []

    @property
    def not_shown(self) -> tuple[Box, ...]:
        """Where dark or light shapes of the art are not on the film."""
        return (*self.gone, *self.filled)

    @property
    def much_lost(self) -> bool:
        """Whether more of the art's darkness is lost than anybody would pass over."""
        return self.likeness.lost > _MOST_LOST

    def sentences(self, profile: Profile, *, shown: Layout | None = None) -> list[str]:
        """What somebody would miss, in plain sentences; nothing where nothing is missed.

        ``shown`` is given for a proof, on which the sheet may be turned.
        """
        said = []
        if self.gone:
            share = sum(shape.weight for shape in self.likeness.gone[: len(self.gone)])
            gone = VerdictCount.SHAPES_GONE.say(
                len(self.gone),
                share=f"{100 * share:.2g}",
                places=_places(self.gone, profile, shown),
            )
            said.append(gone)
        if self.filled:
            places = _places(self.filled, profile, shown)
            said.append(VerdictCount.SHAPES_FILLED.say(len(self.filled), places=places))
        if self.much_lost and not self.gone:
            said.append(VerdictWord.MUCH_LOST.say(share=f"{100 * self.likeness.lost:.0f}"))
        return said


def _place(box: Box, dpi: PixelsPerInch) -> dict[str, float]:
    return {
        "x_mm": round(box.left / dpi.x * MM_PER_INCH, 1),
        "y_mm": round(box.top / dpi.y * MM_PER_INCH, 1),
        "width_mm": round(box.width / dpi.x * MM_PER_INCH, 1),
        "height_mm": round(box.height / dpi.y * MM_PER_INCH, 1),
    }


def _places(boxes: tuple[Box, ...], profile: Profile, shown: Layout | None) -> str:
    """Where the first of them are, for a sentence."""
    return places_told(boxes[:_PLACES_TOLD], profile, shown=shown)


def film_likeness(work: FilmInWork, bits: AreaOfSheet, barred: CutRows | None) -> FilmLikeness:
    """Compare the first copy of the art on the film with what the profile asks of the art."""
    assert work.seen is not None
    copy, profile = work.copies.copy, work.profile
    cells = _Cells.of(copy, work)
    film = cells.of_film(AreaOfSheet(bits.bits, copy))
    if profile.film.negative:
        film = 1 - film
    beyond = None if barred is None else cells.of_rows(barred) > 0.5
    plain = cells.tone_of(_laid(work.seen, work))
    of_art = plain if work.evened is None else cells.tone_of(_laid(work.evened, work))
    wishes = replace(profile.tone, hold="off")
    press = None if work.screen is None else press_curve_of(profile)

    def asked_by(levels: Levels) -> Float32Array:
        curve = tone_steps(wishes, levels=levels, press=press)
        return curve(of_art.astype(np.float64)).astype(np.float32)

    before = asked_by(Levels())
    asked = before if work.levels == Levels() else asked_by(work.levels)
    square = cells.square_mm(profile.acetate_dpi)
    least = max(4, round(_LEAST_SHAPE_MM2 / square)), max(8, round(_LEAST_LINE_MM / square**0.5))
    found = likeness_of(
        asked, film, least_cells=least[0], least_line=least[1], beyond=beyond, on_paper=work.grain
    )
    whole = max(1e-6, float(darkness(plain).sum(dtype=np.float64)))
    paper = 0.0
    if of_art is not plain:
        taken_off = (darkness(plain) - darkness(of_art)).sum(dtype=np.float64)
        paper = max(0.0, float(taken_off)) / whole
    filled: tuple[GoneShape, ...] = ()
    if work.screen is None:
        filled = filled_shapes(asked, film, least_cells=least[0], least_line=least[1])

    def places(shapes: tuple[GoneShape, ...]) -> tuple[Box, ...]:
        return tuple(cells.box_of(shape) for shape in shapes if shape.weight >= _WORTH_TELLING)

    return FilmLikeness(
        found,
        paper=paper,
        clipped=float(darkness(before)[(asked <= 0) & (before > 0)].sum(dtype=np.float64)) / whole,
        gone=places(found.gone),
        filled=places(filled),
    )


def _laid(codes: Codes, work: FilmInWork) -> Codes:
    return oriented(codes, turned=work.layout.turned, mirror=work.profile.film.mirror)


@dataclass(frozen=True, slots=True)
class _Cells:
    """Equal boxes of device pixels over one copy of the art."""

    across: int
    down: int
    columns: int
    rows: int
    copy: Box

    @classmethod
    def of(cls, copy: Box, work: FilmInWork) -> _Cells:
        dpi = work.profile.acetate_dpi
        side_mm = _LINE_CELL_MM if work.screen is None else MM_PER_INCH / work.screen.lpi_asked
        longer_mm = MM_PER_INCH * max(copy.width / dpi.x, copy.height / dpi.y)
        side_mm = max(side_mm, longer_mm / _MOST_CELLS)
        across, down = (max(1, round(side_mm / MM_PER_INCH * one)) for one in (dpi.x, dpi.y))
        across, down = min(across, copy.width), min(down, copy.height)
        return cls(across, down, copy.width // across, copy.height // down, copy)

    def square_mm(self, dpi: PixelsPerInch) -> float:
        """The area of one."""
        return self.across / dpi.x * self.down / dpi.y * MM_PER_INCH**2

    def box_of(self, shape: GoneShape) -> Box:
        """Where a shape lies on the sheet."""
        return Box(
            self.copy.left + shape.left * self.across,
            self.copy.top + shape.top * self.down,
            (shape.right - shape.left) * self.across,
            (shape.bottom - shape.top) * self.down,
        )

    def of_film(self, film: AreaOfSheet) -> Float32Array:
        """(rows, columns) float32 share of each cell that is ink on a film's part with the copy."""

        def ink_in(first: int, count: int) -> UInt32Array:
            return ink_in_boxes(
                film.read_packed(first, first + count),
                skip=film.skip,
                columns=self.columns,
                across=self.across,
                down=self.down,
            )

        return self._shares(ink_in)

    def of_rows(self, rows: CutRows) -> Float32Array:
        """(rows, columns) float32 share of each cell that is True in rows of the copy."""

        def true_in(first: int, count: int) -> UInt32Array:
            strip = rows(first, count)[:, : self.columns * self.across]
            return box_sums(strip.view(np.uint8), across=self.across, down=self.down)

        return self._shares(true_in)

    def _shares(self, sums: Callable[[int, int], UInt32Array]) -> Float32Array:
        """(rows, columns) float32, from sums over the cells of some rows of pixels."""
        share = np.empty((self.rows, self.columns), np.float32)
        at_once = max(1, _ROWS_AT_ONCE // self.down)
        for top in range(0, self.rows, at_once):
            count = min(at_once, self.rows - top)
            share[top : top + count] = sums(top * self.down, count * self.down)
        return share / np.float32(self.across * self.down)

    def tone_of(self, codes: Codes) -> Float32Array:
        """(rows, columns) float32: tone of a picture that lies on the copy."""
        height, width = codes.shape
        box = (
            0.0,
            0.0,
            self.columns * self.across / self.copy.width * width,
            self.rows * self.down / self.copy.height * height,
        )
        tone = Image.fromarray(1 - codes.astype(np.float32) / FULL)
        method = Image.Resampling.BOX if width >= self.columns else Image.Resampling.BILINEAR
        return np.asarray(tone.resize((self.columns, self.rows), method, box=box))
