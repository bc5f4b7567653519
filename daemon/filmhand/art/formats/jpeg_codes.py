"""What a strict decoder warns of in the codes of a JPEG picture, and in which rows.

The base reader passes over wrong codes and shows what comes of them.
"""

from __future__ import annotations

import importlib
import re
from io import BytesIO

from filmhand.art.formats.jpeg_markers import segments

_MOST_RESTARTS = 100_000
_SCAN, _RESTART_INTERVAL = 0xDA, 0xDD
# What the codes mean: frames, tables of codes and of quantization, restarts, and whose colors.
_NEEDED = frozenset({*range(0xC0, 0xD0), 0xDB, _RESTART_INTERVAL, 0xEE})
_ENTROPY_MARKS = re.compile(rb"\xff([\x01-\xfe])")


def warning_of(data: bytes) -> str | None:
    """The decoder's first warning about the codes of the picture; None where it has none.

    What stands before them (notes, profiles, stray bytes) does not count, nor do bytes that fill
    up the end.
    """
    head, start = _needed_head(data)
    if start is None:
        return None
    found = _warning(head + data[start:])
    if found is None or _is_filling(data, found):
        return None
    return found


def _warning(data: bytes) -> str | None:
    decode = importlib.import_module("simplejpeg").decode_jpeg
    try:
        # The smallest picture: all codes are read, and few pixels made.
        decode(data, "GRAY", fastdct=True, fastupsample=True, min_height=1, min_width=1,
               min_factor=8, strict=True)  # fmt: skip
    except ValueError as fault:
        _, mark, what = str(fault).partition("Corrupt JPEG data: ")
        return what if mark else None
    # It may have no memory, or not know the sort: then nobody knows.
    except Exception:
        return None
    return None


def _needed_head(data: bytes) -> tuple[bytes, int | None]:
    """The segments before the first scan that its codes need, and where the scan begins."""
    kept = [data[:2]]
    for marker, at in segments(BytesIO(data), len(data)):
        if marker == _SCAN:
            return b"".join(kept), at
        if marker in _NEEDED:
            kept.append(data[at : at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")])
    return b"", None


def _is_filling(data: bytes, warning: str) -> bool:
    """Whether all bytes too many before the end are 00 or FF, as writers fill up with."""
    told = re.fullmatch(r"(\d+) extraneous bytes before marker 0xd9", warning)
    end = data.rfind(b"\xff\xd9")
    return told is not None and set(data[max(0, end - int(told[1])) : end]) <= {0, 0xFF}


def find_wrong_rows(data: bytes) -> list[tuple[int, int]]:
    """The rows, from and to, whose codes are wrong; empty where that cannot be told.

    Restart marks (ITU-T T.81, F.1.1.5.2) part the codes so that each part can be tried alone.
    Only pictures of one scan are, with whole rows of blocks between two marks.
    """
    head, start = _needed_head(data)
    if start is None:
        return []
    frame_at, height, width, block, interval = _layout(head)
    across = -(-width // block[0]) if block[0] else 0
    if not interval or not across or interval % across:
        return []
    rows = interval // across * block[1]
    scan_end = start + 2 + int.from_bytes(data[start + 2 : start + 4], "big")
    parts = _parts(data, scan_end)
    if len(parts) != -(-height // rows) or len(parts) > _MOST_RESTARTS:
        return []
    wrong: list[tuple[int, int]] = []
    for number, part in enumerate(parts):
        first = number * rows
        stop = min(height, first + rows)
        small = head[: frame_at + 5] + (stop - first).to_bytes(2, "big") + head[frame_at + 7 :]
        if _warning(small + data[start:scan_end] + part + b"\xff\xd9") is not None:
            if wrong and wrong[-1][1] == first:
                wrong[-1] = wrong[-1][0], stop
            else:
                wrong.append((first, stop))
    return wrong


def _layout(head: bytes) -> tuple[int, int, int, tuple[int, int], int]:
    """Where the frame begins, height, width, pixels of a block of all colors, and the interval."""
    frame_at = height = width = interval = 0
    block = (0, 0)
    at = 2
    while at + 4 <= len(head):
        marker = head[at + 1]
        if marker in (0xC0, 0xC1):  # one scan, of Huffman codes
            frame_at = at
            height, width = (int.from_bytes(head[at + k : at + k + 2], "big") for k in (5, 7))
            factors = [head[at + 11 + 3 * k] for k in range(head[at + 9])]
            if len(factors) == 1:
                block = (8, 8)
            else:
                block = 8 * max(f >> 4 for f in factors), 8 * max(f & 15 for f in factors)
        elif marker == _RESTART_INTERVAL:
            interval = int.from_bytes(head[at + 4 : at + 6], "big")
        at += 2 + int.from_bytes(head[at + 2 : at + 4], "big")
    return frame_at, height, width, block, interval


def _parts(data: bytes, at: int) -> list[bytes]:
    """The codes between restart marks, in their order; empty where a mark is missing."""
    parts, begin, expected = [], at, 0
    for mark in _ENTROPY_MARKS.finditer(data, at):
        marker = mark[1][0]
        if 0xD0 <= marker <= 0xD7:
            if marker != 0xD0 + expected:
                return []
            expected = (expected + 1) % 8
            parts.append(data[begin : mark.start()])
            begin = mark.end()
        elif marker == 0xD9:
            parts.append(data[begin : mark.start()])
            return parts
    return []
