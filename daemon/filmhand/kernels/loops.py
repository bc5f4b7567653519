"""Which loops this process runs: the compiled ones, or NumPy's."""

from __future__ import annotations

import importlib
import os
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol, cast

from filmhand.kernels.plain import PLAIN

if TYPE_CHECKING:  # who only asks which loops run loads no array library
    from filmhand.arrays import (
        BoolArray,
        Float32Array,
        Float64Array,
        Int32Array,
        Int64Array,
        UInt8Array,
        UInt16Array,
        UInt32Array,
        UInt64Array,
    )

# Numbers of bare film and ink; then arrays of int32, or of bytes for truth, as label.c tells.
_Pair = tuple[bytes, bytes]
LabeledRuns = tuple[
    tuple[int, int], tuple[int, int], _Pair, _Pair, _Pair, _Pair, tuple[bytes, bytes, bytes, bytes]
]
# Numbers, areas and runs by color, and the arrays of what is open, as seam.c tells.
JoinedSeam = tuple[tuple[int, int], _Pair, _Pair, tuple[bytes, bytes, bytes, bytes, bytes]]


class CompiledLoops(Protocol):
    """The functions of the C module; each is told in its C file.

    Arrays go in as C-contiguous buffers that the caller makes, and so they come out, or as bytes
    where only the loop knows how long they are.
    """

    VERSION: int

    def bare_codes(
        self,
        codes: UInt16Array,
        light: Float32Array,
        paper: Float32Array,
        gain: float,
        coded: UInt16Array,
        out: UInt16Array,
    ) -> None:
        """The codes of art as they are by its paper; blocks.c."""

    def code_pixels(
        self,
        pixels: UInt8Array,
        shares: Int32Array,
        codes: UInt16Array,
        over_white: bool,
        out: UInt16Array,
    ) -> None:
        """The coded gray of pixels; gray.c."""

    def count_codes(self, codes: UInt16Array, width: int, step: int, counts: Int64Array) -> None:
        """How often each code stands in a picture; counts.c."""

    def count_flats(
        self, codes: UInt16Array, width: int, tops: Int64Array, step: int, counts: Int64Array
    ) -> None:
        """How often exactly flat blocks stand in bands of a picture; counts.c."""

    def count_ink(
        self,
        rows: UInt8Array,
        row_bytes: int,
        skip: int,
        across: int,
        down: int,
        boxes: int,
        sums: UInt32Array,
    ) -> None:
        """How many bits of boxes of packed rows are 1; counts.c."""

    def depth_below(
        self,
        codes: UInt16Array,
        width: int,
        light: Float32Array,
        inverse: Float32Array,
        below: Int32Array,
        part: Float32Array,
        out: Float32Array,
    ) -> None:
        """How much darker than its paper art is; blocks.c."""

    def divide_pixels(
        self,
        place: Int32Array,
        width: int,
        table: UInt16Array,
        regions: int,
        whole: int,
        near: int,
        rows: Int32Array,
        columns: Int32Array,
        shares: Int32Array,
        out: Int32Array,
    ) -> None:
        """How far pixels are from being divided as regions share them; division.c."""

    def encode_group4(
        self, rows: UInt8Array, width: int, before: UInt8Array | None, code: UInt8Array
    ) -> int:
        """The bits of the T.6 code of packed rows; group4.c."""

    def join_moved(self, grid: UInt64Array, steps: Int64Array, meets: bool) -> None:
        """Join a grid of bits with itself moved, step after step; sweep.c."""

    def join_seam(
        self,
        above: tuple[Int32Array | Int64Array | BoolArray, ...],
        below: tuple[Int32Array | Int64Array | BoolArray, ...],
        last: Int32Array,
        keep: tuple[int, int],
    ) -> JoinedSeam:
        """A strip's components joined to those above; seam.c."""

    def label_strip(
        self,
        rows: UInt8Array,
        row_bytes: int,
        skip: int,
        width: int,
        beyond: BoolArray | None,
        begins_at_border: bool,
        keep: tuple[int, int],
    ) -> LabeledRuns:
        """The components of a strip of packed rows; label.c."""

    def local_maximum(self, rows: Float32Array, width: int, size: int, out: Float32Array) -> None:
        """The maximum over windows of size x size; raster.c."""

    def opening_loss(
        self,
        rows: UInt8Array,
        question: tuple[int, ...],
        runs: Int32Array,
        disc: Int32Array,
        enough: int,
        lost: UInt8Array | None,
    ) -> tuple[int, int]:
        """How many pixels of a part an opening takes, and how many count; opening.c."""

    def opening_pieces(
        self,
        rows: UInt8Array,
        question: tuple[int, ...],
        runs: Int32Array,
        disc: Int32Array,
        first: int,
        stride: int,
    ) -> tuple[bytes, bytes]:
        """The pixels of a part that an opening takes; opening.c."""

    def pack_lines(self, rows: UInt8Array, row_bytes: int, packed: UInt8Array) -> int:
        """The bytes of the lines of PWG Raster that rows take; packets.c."""

    def pick_floats(self, values: Float32Array, places: Int64Array, out: Float32Array) -> None:
        """Those of some numbers that would stand at places among all, sorted; counts.c."""

    def reach_pixels(
        self,
        length: int,
        height: int,
        shift: int,
        owner: Int32Array,
        value: Float64Array,
        step: float,
        reached: Float64Array,
        waits: BoolArray,
    ) -> None:
        """How the pixels of a tile are reached from those that wait; growth.c."""

    def reduce_bits(
        self,
        rows: UInt8Array,
        row_bytes: int,
        across: int,
        down: int,
        width: int,
        light: Float32Array,
        first: Int32Array,
        count: Int32Array,
        weight: Float64Array,
        taps: int,
        out: Float32Array,
        outputs: int,
    ) -> None:
        """Light of boxes of packed rows, filtered across; reduce.c."""

    def reduce_columns(
        self,
        rows: Float32Array,
        width: int,
        first: Int32Array,
        count: Int32Array,
        weight: Float64Array,
        taps: int,
        out: Float32Array,
        outputs: int,
    ) -> None:
        """Rows of floats, filtered down; reduce.c."""

    def resample(
        self,
        codes: UInt16Array,
        values: Float64Array,
        across_since: Int32Array,
        across: Float64Array,
        down_since: Int32Array,
        down: Float64Array,
        out: Float32Array | UInt8Array,
        source_width: int,
        cuts: tuple[object, ...] | None,
    ) -> None:
        """Some rows of a picture at another size, or their bits; resample.c."""

    def smooth(self, rows: Float32Array, width: int, out: Float32Array) -> None:
        """One pass of the 3 x 3 binomial filter; raster.c."""

    def stretch_rows(
        self,
        rows: Float32Array,
        known: int,
        since: Int32Array,
        part: Float64Array,
        out: Float32Array,
    ) -> None:
        """Rows with more columns, between those that are known; blocks.c."""

    def sum_blocks(
        self,
        codes: UInt16Array,
        stride: int,
        table: Float32Array | UInt16Array,
        high: int,
        wide: int,
        width: int,
        out: Float32Array | UInt16Array,
    ) -> None:
        """Sums over blocks of what a table has for each code; blocks.c."""

    def unpack_line(self, data: bytes, start: int, line: bytearray) -> int:
        """Where a line's packets end, or -1 where they do not fill it exactly; packets.c."""


VERSION = 20
"""Of those functions; a module that was built from an older source is not used."""
_NAMES = [name for name in vars(CompiledLoops) if not name.startswith("_")]


def is_plain() -> bool:
    """Whether the environment asks for NumPy's loops."""
    return os.environ.get(PLAIN, "") not in {"", "0"}


@lru_cache(maxsize=1)
def compiled() -> CompiledLoops | None:
    """The C module; None where it was not built, is another version's, or is not wanted."""
    if is_plain():
        return None
    try:
        module = importlib.import_module("filmhand.kernels._compiled")
    except ImportError:
        return None
    is_ours = module.VERSION == VERSION and all(hasattr(module, name) for name in _NAMES)
    return cast(CompiledLoops, module) if is_ours else None
