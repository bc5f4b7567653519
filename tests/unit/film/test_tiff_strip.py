"""A strip of Group 4 decodes to the same bits by libtiff alone and by Pillow, or by neither."""

import subprocess
import sys

import numpy as np
import pytest

from filmhand.film import group4, tiff_strip
from filmhand.film.formats import BrokenFilm
from filmhand.film.libtiff import read_first_strip

FILL_ORDER = 266


def decoded(payload: bytes, width: int, rows: int, **more: object) -> bytes | None:
    try:
        bits = tiff_strip.decode_strip(
            payload, width=width, rows=rows, compression=tiff_strip.GROUP4, **more
        )
    except BrokenFilm:
        return None
    assert bits.shape == (rows, -(-width // 8))
    return bits.tobytes()


@pytest.fixture
def by_both(monkeypatch):
    def both(payload: bytes, width: int, rows: int, **more: object) -> bytes | None:
        with monkeypatch.context() as patch:
            patch.setattr(tiff_strip, "read_first_strip", lambda *_: None)
            by_pillow = decoded(payload, width, rows, **more)
        assert decoded(payload, width, rows, **more) == by_pillow
        return by_pillow

    return both


def strip_of(random: np.random.Generator, width: int, rows: int) -> tuple[bytes, bytes]:
    bits = np.packbits(random.random((rows, width)) < random.random(), axis=1)
    return bits.tobytes(), group4.to_strip(group4.encode_group4(bits, width=width))


def test_libtiff_is_there():
    """In the Python that runs the tests; where it is not, the others compare Pillow with itself."""
    bits, payload = strip_of(np.random.default_rng(1), 20, 3)
    assert decoded(payload, 20, 3) == bits
    assert read_first_strip(b"II*\0", np.zeros((3, 3), np.uint8)) is False


def test_sound_strips(by_both):
    random = np.random.default_rng(2)
    for width in (1, 7, 8, 9, 63, 64, 65, 500, 3001):
        rows = int(random.integers(1, 40))
        bits, payload = strip_of(random, width, rows)
        assert by_both(payload, width, rows) == bits


def test_bits_in_the_other_order(by_both):
    bits, payload = strip_of(np.random.default_rng(3), 77, 9)
    turned = np.packbits(np.unpackbits(np.frombuffer(payload, np.uint8)).reshape(-1, 8)[:, ::-1])
    assert by_both(turned.tobytes(), 77, 9, options={FILL_ORDER: 2}) == bits


def test_damaged_and_cut_strips(by_both):
    """What comes of damage is libtiff's affair; that it is noticed is the caller's (group4.py)."""
    random = np.random.default_rng(4)
    broken = 0
    for _ in range(200):
        width, rows = int(random.integers(1, 400)), int(random.integers(1, 30))
        _, payload = strip_of(random, width, rows)
        damaged = bytearray(payload)
        damaged[int(random.integers(len(damaged)))] ^= 1 << int(random.integers(8))
        by_both(bytes(damaged), width, rows)
        broken += by_both(payload[: int(random.integers(1, 4))], width, rows + 1000) is None
    assert broken


def test_a_strip_of_another_size():
    with pytest.raises(BrokenFilm):
        tiff_strip.decode_strip(b"", width=20, rows=3, compression=tiff_strip.GROUP4)


def test_nothing_is_printed():
    """In a process of its own: where Pillow has read a TIFF before, libtiff is quiet already."""
    code = """
import numpy as np
from filmhand.film.libtiff import read_first_strip
assert read_first_strip(b"II*\\0", np.zeros((3, 3), np.uint8)) is False
"""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert ended.stdout + ended.stderr == b""
