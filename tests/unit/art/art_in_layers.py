"""The same picture of an inch in layers, as each kind of file that has layers, for tests.

A layer is (name, left, right, color, opacity, visible): a bar from top to bottom between two
eighths of an inch. A name that is None lies in no layer.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name, String

SIDE = 160  # pixels of the inch
Bar = tuple[str | None, int, int, str, float, bool]


def bar(
    name: str | None, left: int, right: int, color: str = "#000000", opacity: float = 1.0,
    *, visible: bool = True,
) -> Bar:  # fmt: skip
    """A layer."""
    return name, left, right, color, opacity, visible


def as_svg(path: Path, bars: list[Bar]) -> Path:
    """Groups, of which every second is named by its title."""
    parts = []
    for place, (name, left, right, color, opacity, visible) in enumerate(bars):
        shown = "" if visible else ' style="display:none"'
        box = f'<rect x="{left}" width="{right - left}" height="8" fill="{color}" id="r{place}"/>'
        if name is None:
            parts.append(box)
        elif place % 2:
            parts.append(f'<g opacity="{opacity}"{shown}><title>{name}</title>{box}</g>')
        else:
            parts.append(f'<g id="{name}" opacity="{opacity}"{shown}>{box}</g>')
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="1in" height="1in" viewBox="0 0 8 8">'
    path.write_text(f"<?xml version='1.0'?><!-- ä -->{head}{''.join(parts)}</svg>")
    return path


def as_pdf(path: Path, bars: list[Bar]) -> Path:
    """Optional content: every second one as a form, the others as marked content."""
    document = pikepdf.new()
    page = document.add_blank_page(page_size=(72, 72))
    groups, content = {}, []
    page.Resources = Dictionary(
        Properties=Dictionary(), XObject=Dictionary(), ExtGState=Dictionary()
    )
    for place, (name, left, right, color, opacity, _) in enumerate(bars):
        page.Resources.ExtGState[f"/G{place}"] = Dictionary(ca=opacity)
        light = " ".join(f"{value / 255:.5f}" for value in bytes.fromhex(color[1:]))
        drawn = f"/G{place} gs {light} rg {left * 9} 0 {(right - left) * 9} 72 re f"
        if name is None:
            content.append(f"q {drawn} Q")
            continue
        groups[place] = document.make_indirect(Dictionary(Type=Name.OCG, Name=String(name)))
        if place % 2:
            page.Resources.XObject[f"/F{place}"] = document.make_stream(
                drawn.encode(), Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 72, 72],
                Resources=page.Resources, OC=groups[place],
            )  # fmt: skip
            content.append(f"/F{place} Do")
        else:
            page.Resources.Properties[f"/L{place}"] = groups[place]
            content.append(f"/OC /L{place} BDC q {drawn} Q EMC")
    page.obj.Contents = document.make_stream(" ".join(content).encode())
    off = [groups[place] for place, one in enumerate(bars) if not one[5]]
    document.Root.OCProperties = Dictionary(
        OCGs=Array(groups.values()), D=Dictionary(OFF=Array(off), Order=Array(groups.values()))
    )
    document.save(path)
    return path


def as_layered(
    path: Path,
    bars: list[Bar],
    *,
    bits: int = 8,
    packed: bool = True,
    depth: int = 0,
    mode: int = 3,
    area: tuple[int, int, int, int] | None = None,
) -> Path:
    """A layered working file, by the format's published specification.

    ``depth`` is how many groups each layer lies in, ``area`` what the file says of where the first
    one lies: top, left, bottom, right.
    """
    records, pixels = b"", b""
    for place, (name, left, right, color, opacity, visible) in enumerate(bars):
        columns = (right - left) * SIDE // 8
        planes = [*_codes(color, mode), 255]
        stored = [_plane(value, columns, bits=bits, packed=packed) for value in planes]
        channels = b"".join(
            struct.pack(">hI", number, len(data))
            for number, data in zip((*range(len(stored) - 1), -1), stored, strict=True)
        )
        lies = 0, left * SIDE // 8, SIDE, right * SIDE // 8
        lies = area if area is not None and place == 0 else lies
        records += _record("</Layer group>", (0, 0, 0, 0), b"", kind=3) * depth
        inner = "a layer" if depth else name or ""
        records += _record(inner, lies, channels, opacity=opacity, visible=visible)
        for above in range(depth):
            records += _record(
                (name or "") if above == depth - 1 else "g", (0, 0, 0, 0), b"", kind=1
            )
        pixels += b"".join(stored)
    info = struct.pack(">h", len(bars) * (1 + 2 * depth)) + records + pixels
    info += b"\0" * (len(info) % 2)
    section = struct.pack(">I", len(info)) + info + struct.pack(">I", 0)
    if bits == 16:
        section = struct.pack(">II", 0, 0) + b"8BIMLr16" + struct.pack(">I", len(info)) + info
    # 72,000 dots to 1000 inches and so on: resource 1005 in 65536ths of a pixel to the inch.
    density = struct.pack(">IHHIHH", SIDE << 16, 1, 1, SIDE << 16, 1, 1)
    resources = struct.pack(">4sHHI", b"8BIM", 1005, 0, len(density)) + density
    count = len(_codes("#000000", mode))
    head = struct.pack(">4sH6xHIIHH", b"8BPS", 1, count, SIDE, SIDE, bits, mode)
    flat = np.full((count, SIDE, SIDE), 0xFFFF if bits == 16 else 0xFF, f">u{bits // 8}").tobytes()
    parts = [struct.pack(">I", 0), struct.pack(">I", len(resources)), resources]
    path.write_bytes(
        head + b"".join(parts) + struct.pack(">I", len(section)) + section + b"\0\0" + flat
    )
    return path


def _codes(color: str, mode: int) -> bytes:
    """What a mode stores of a color: its gray, or inks turned round with no black."""
    codes = bytes.fromhex(color[1:])
    return {1: codes[1:2], 4: bytes([*codes, 255])}.get(mode, codes)


def _record(
    name: str, area: tuple[int, int, int, int], channels: bytes, *,
    opacity: float = 1.0, visible: bool = True, kind: int = 0,
) -> bytes:  # fmt: skip
    """What stands before all pixels of a layer, of the upper or of the lower end of a group."""
    text = name.encode("utf-16-be")
    block = struct.pack(">I", len(text) // 2) + text
    named = b"8BIMluni" + struct.pack(">I", len(block)) + block + b"\0" * (len(block) % 2)
    if kind:
        named += b"8BIMlsct" + struct.pack(">II", 4, kind)
    extra = struct.pack(">II", 0, 0) + b"\0" * 4 + named
    made = struct.pack(">4iH", *area, len(channels) // 6) + channels
    made += b"8BIMnorm" + bytes([round(opacity * 255), 0, 0 if visible else 2, 0])
    return made + struct.pack(">I", len(extra)) + extra


def _plane(value: int, columns: int, *, bits: int, packed: bool) -> bytes:
    row = bytes([value]) * (columns * bits // 8)
    if not packed:
        return b"\0\0" + row * SIDE
    runs = b""
    for start in range(0, len(row), 128):
        count = len(row[start : start + 128])
        runs += bytes([(257 - count) & 0xFF, value])
    return b"\0\1" + struct.pack(">H", len(runs)) * SIDE + runs * SIDE


KINDS = {"a.svg": as_svg, "a.pdf": as_pdf, "a.psd": as_layered}
