"""ICC profiles put together for tests, with tables of a few points (ICC.1:2022, 7 and 10.10)."""

from __future__ import annotations

import struct
from itertools import product

import numpy as np

from filmhand.ink.cielab import lab_to_srgb, lab_to_xyz, xyz_to_lab
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.solving import InkRules, solve_inks

# Solids of process inks, near those of ISO 12647-2, from memory.
SOLIDS = [[55.0, -37.0, -50.0], [48.0, 74.0, -3.0], [89.0, -5.0, 93.0], [16.0, 0.0, 0.0]]
EXPONENT = 2.0
_LAB_POINTS, _INK_POINTS = 17, 9
# Paper and solids of newsprint, near those of ISO 12647-3, and its total of inks; from memory.
_NEWSPRINT = [82.0, 0.0, 3.0]
_ON_NEWSPRINT = [[57.0, -23, -27], [54.0, 44, -2], [78.0, -3, 58], [36.0, 1, 4]]
_NEWSPRINT_TOTAL = 2.4


def cmyk_profile(kind: bytes = b"prtr", space: bytes = b"CMYK") -> bytes:
    """A press of four inks that prints as the model does; separated by one minus each code."""
    inks = [PrintingInk(np.array(solid)) for solid in SOLIDS]
    model = print_model(inks, np.array([100.0, 0, 0]), yule_nielsen=EXPONENT)
    steps = np.linspace(0, 1, _INK_POINTS)
    printed = model.screened(np.array(list(product(steps, repeat=4))))
    ends = np.linspace(0, 1, _LAB_POINTS)
    lab = np.array(list(product(ends, repeat=3))) * [100, 255, 255] - [0, 128, 128]
    codes = lab_to_srgb(lab)
    black = 1 - codes.max(axis=1, keepdims=True)
    separated = np.concatenate([1 - codes - black, black], axis=1)
    to_lab = _table(4, 3, _INK_POINTS, _as_words(printed))
    to_inks = _table(3, 4, _LAB_POINTS, np.rint(separated * 65535))
    return _both_ways("test press", to_lab, to_inks, kind=kind, space=space)


def newsprint_profile(points: int = _LAB_POINTS) -> bytes:
    """A press for newsprint, whose black is far from none; separated to the nearest color."""
    white = lab_to_xyz(np.array([100.0, 0, 0]))
    on_paper = lab_to_xyz(np.array(_ON_NEWSPRINT)) / lab_to_xyz(np.array(_NEWSPRINT)) * white
    inks = [PrintingInk(solid) for solid in xyz_to_lab(on_paper)]
    model = print_model(inks, np.array([100.0, 0, 0]), yule_nielsen=EXPONENT)
    steps = np.linspace(0, 1, _INK_POINTS)
    printed = model.screened(np.array(list(product(steps, repeat=4))))
    ends = np.linspace(0, 1, points)
    lab = np.array(list(product(ends, repeat=3))) * [100, 255, 255] - [0, 128, 128]
    separated = solve_inks(lab, model, InkRules(_NEWSPRINT_TOTAL, 3)).coverages
    to_lab = _table(4, 3, _INK_POINTS, _as_words(printed))
    to_inks = _table(3, 4, points, np.rint(separated * 65535))
    return _both_ways("newsprint", to_lab, to_inks)


def _both_ways(
    name: str, to_lab: bytes, to_inks: bytes, *, kind: bytes = b"prtr", space: bytes = b"CMYK"
) -> bytes:
    tags = {b"desc": _description(name), b"wtpt": _xyz(0.9642, 1.0, 0.8249)}
    for number in (b"0", b"1", b"2"):
        tags[b"A2B" + number], tags[b"B2A" + number] = to_lab, to_inks
    return _profile(kind, space, b"Lab ", tags)


def _as_words(lab: np.ndarray) -> np.ndarray:
    """Sixteen bits as tables of that kind have them: L* 100 is 65280, and 32768 is no color."""
    return np.rint(np.clip(lab * [652.8, 256, 256] + [0, 32768, 32768], 0, 65535))


def _table(inputs: int, outputs: int, points: int, values: np.ndarray) -> bytes:
    head = struct.pack(">4sIBBBx", b"mft2", 0, inputs, outputs, points)
    head += struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536) + struct.pack(">HH", 2, 2)
    straight = struct.pack(">HH", 0, 65535)
    return head + straight * inputs + values.astype(">u2").tobytes() + straight * outputs


def _description(text: str) -> bytes:
    coded = text.encode() + b"\0"
    return struct.pack(">4sII", b"desc", 0, len(coded)) + coded + bytes(78)


def _xyz(*values: float) -> bytes:
    return struct.pack(">4sI3i", b"XYZ ", 0, *(round(value * 65536) for value in values))


def _profile(kind: bytes, space: bytes, connected: bytes, tags: dict[bytes, bytes]) -> bytes:
    at = 128 + 4 + 12 * len(tags)
    index, body = struct.pack(">I", len(tags)), b""
    places: dict[bytes, int] = {}
    for tag, data in tags.items():
        padded = data + bytes(-len(data) % 4)
        if padded not in places:
            places[padded] = at + len(body)
            body += padded
        index += tag + struct.pack(">II", places[padded], len(data))
    head = struct.pack(
        ">I4sI4s4s4s6H4s", at + len(body), bytes(4), 0x02400000, kind, space, connected,
        2026, 1, 1, 0, 0, 0, b"acsp",
    ).ljust(68, b"\0")  # fmt: skip
    white = struct.pack(">3i", *(round(value * 65536) for value in (0.9642, 1.0, 0.8249)))
    return (head + white).ljust(128, b"\0") + index + body
