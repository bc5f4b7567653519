"""Files of art that is separated already, put together by hand or by libraries for tests."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from filmhand.profile.model import Limits

LIMITS = Limits()


def ink_tiff(path: Path, inks: np.ndarray, names: tuple[str, ...], ink_set: int = 2) -> Path:
    """(H, W, n) uint8 inks as a plain TIFF whose tags name them (TIFF 6.0, section 16)."""
    height, width, count = inks.shape
    texts = "".join(name + "\0" for name in names).encode()
    bits = struct.pack(f"<{count}H", *[8] * count)
    at = 8
    blocks = []
    for block in (inks.tobytes(), bits.ljust(5, b"\0"), texts.ljust(5, b"\0")):
        blocks.append((at, block))
        at += len(block) + len(block) % 2
    (pixels, bits_at, texts_at) = (place for place, _ in blocks)
    entries = [
        (256, 4, 1, width), (257, 4, 1, height),
        (258, 3, count, bits_at if count > 2 else int.from_bytes(bits, "little")),
        (259, 3, 1, 1), (262, 3, 1, 5), (273, 4, 1, pixels), (277, 3, 1, count),
        (278, 4, 1, height), (279, 4, 1, inks.size), (332, 3, 1, ink_set),
    ]  # fmt: skip
    if names:
        entries.append((333, 2, len(texts), texts_at))
    entries.append((334, 3, 1, count))
    body = b"".join(block + b"\0" * (len(block) % 2) for _, block in blocks)
    table = struct.pack("<H", len(entries)) + b"".join(
        struct.pack("<HHII", *entry) for entry in entries
    )
    path.write_bytes(struct.pack("<2sHI", b"II", 42, at) + body + table + bytes(4))
    return path


def layered_file(
    path: Path,
    planes: np.ndarray,
    *,
    mode: int,
    names: tuple[str, ...] = (),
    kinds: tuple[int, ...] = (),
) -> Path:
    """(C, H, W) uint8 channels as a layered file without layers, the further ones named.

    Layout by the format's published specification.
    """
    count, height, width = planes.shape
    head = struct.pack(">4sH6xHIIHH", b"8BPS", 1, count, height, width, 8, mode)
    resources = resource(1045, unicode_names(names)) if names else b""
    if kinds:
        each = b"".join(struct.pack(">5HHB", 0, 0, 0, 0, 0, 100, kind) for kind in kinds)
        resources += resource(1077, struct.pack(">I", 1) + each)
    sections = struct.pack(">I", 0) + struct.pack(">I", len(resources)) + resources
    path.write_bytes(head + sections + struct.pack(">IH", 0, 0) + planes.tobytes())
    return path


def resource(number: int, data: bytes) -> bytes:
    """An image resource without a name of its own."""
    return struct.pack(">4sHHI", b"8BIM", number, 0, len(data)) + data + b"\0" * (len(data) % 2)


def unicode_names(names: tuple[str, ...]) -> bytes:
    """Texts of two bytes a sign, each with a zero behind, after its length in signs."""
    return b"".join(
        struct.pack(">I", len(name) + 1) + name.encode("utf-16-be") + b"\0\0" for name in names
    )
