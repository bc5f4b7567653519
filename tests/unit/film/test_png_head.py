"""What of a PNG's chunks is read, passed over or refused (W3C PNG, third edition)."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm, Format
from filmhand.film.pdf_reader import _chunks, is_ours, read_pdf_head
from filmhand.film.png import PngHead, picture_data, read_png_head
from filmhand.film.pwg import read_pwg_head
from filmhand.film.read import read_film
from filmhand.film.strips import plan_file
from filmhand.film.tiff import verify_tiff
from filmhand.film.write import write_films
from filmhand.units import Resolution

START = b"\x89PNG\r\n\x1a\n"


def chunk(kind, data=b""):
    whole = kind + data
    return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))


def head(width=10, height=3, bits=1, color=0, packing=0, filters=0, interlace=0):
    said = struct.pack(">IIBBBBB", width, height, bits, color, packing, filters, interlace)
    return chunk(b"IHDR", said)


DATA = chunk(b"IDAT", zlib.compress(bytes(3 * 3)))
END = chunk(b"IEND")
METERS = chunk(b"pHYs", struct.pack(">IIB", 23622, 11811, 1))


def written(tmp_path, *chunks, start=START):
    path = tmp_path / "film.png"
    path.write_bytes(start + b"".join(chunks))
    return path


def head_of(path):
    with path.open("rb") as file:
        return read_png_head(file)


def test_what_stands_before_the_picture(tmp_path):
    # 8 bytes of signature, 25 of head, 21 of resolution.
    found = head_of(written(tmp_path, head(), METERS, DATA, END))
    assert found == PngHead(10, 3, True, (23622, 11811), 54)
    assert head_of(written(tmp_path, head(), DATA, END)) == PngHead(10, 3, True, None, 33)


@pytest.mark.parametrize(
    "other", [{"bits": 8}, {"color": 3}, {"packing": 1}, {"filters": 1}, {"interlace": 1}], ids=str
)
def test_only_one_bit_gray_without_interlace_is_plain(other, tmp_path):
    assert not head_of(written(tmp_path, head(**other), DATA, END)).plain


def test_transparency_is_not_plain(tmp_path):
    found = head_of(written(tmp_path, head(), chunk(b"tRNS", b"\0\0"), DATA, END))
    assert not found.plain


@pytest.mark.parametrize(
    "said",
    [
        struct.pack(">IIB", 23622, 11811, 0),  # a ratio of sides, in no unit
        struct.pack(">IIB", 23622, 11811, 2),
        struct.pack(">II", 23622, 11811),
        struct.pack(">IIBB", 23622, 11811, 1, 0),
    ],
)
def test_a_resolution_is_whole_and_in_meters_or_none(said, tmp_path):
    path = written(tmp_path, head(), chunk(b"pHYs", said), DATA, END)
    assert head_of(path).per_meter is None
    assert read_film(path, tmp_path)[1] is None
    assert read_film(written(tmp_path, head(), METERS, DATA, END), tmp_path)[1] == Resolution(
        600, 300
    )


@pytest.mark.parametrize(
    ("chunks", "says"),
    [
        ([head(width=0), DATA, END], "no size"),
        ([head(height=0), DATA, END], "no size"),
        ([chunk(b"IHDR", bytes(12)), DATA, END], "no size"),
        ([DATA, END], "no size"),
        ([head(), END], "no picture"),
        ([head()], "ends too early"),
        ([head(), DATA[:7]], "ends too early"),
        ([head(), DATA[:12]], "ends too early"),
        ([head(), DATA[:-1]], "damaged chunk"),
        ([head()[:-1] + b"\0", DATA, END], "damaged chunk"),
    ],
)
def test_a_head_that_is_damaged(chunks, says, tmp_path):
    with pytest.raises(BrokenFilm, match=says):
        head_of(written(tmp_path, *chunks))


def test_another_signature_is_no_png(tmp_path):
    with pytest.raises(BrokenFilm, match="signature"):
        head_of(written(tmp_path, head(), DATA, END, start=b"\x89PNG\r\n\x1a\r"))


# The fifth bit of the first letter tells whether a reader may pass a chunk over (5.4).
@pytest.mark.parametrize(
    ("between", "passed_over"),
    [(b"tEXt", True), (b"tEXT", True), (b"TEXT", False), (b"Text", False), (b"PLTE", False)],
)
def test_chunks_that_a_reader_has_to_know(between, passed_over, tmp_path):
    path = written(tmp_path, head(), DATA, chunk(between, b"some"), END)
    with path.open("rb") as file:
        found = picture_data(file, read_png_head(file))
        if passed_over:
            assert b"".join(found) == zlib.compress(bytes(9))
        else:
            with pytest.raises(BrokenFilm, match="unknown chunk"):
                list(found)


def test_data_in_several_chunks_are_one_and_nothing_follows_the_end(tmp_path):
    data = zlib.compress(np.arange(9, dtype=np.uint8).tobytes())
    parts = [chunk(b"IDAT", data[:4]), chunk(b"IDAT"), chunk(b"IDAT", data[4:])]
    with written(tmp_path, head(), *parts, END).open("rb") as file:
        assert list(picture_data(file, read_png_head(file))) == [data[:4], b"", data[4:]]
    with written(tmp_path, head(), *parts, END, b"\0").open("rb") as file:
        found = picture_data(file, read_png_head(file))
        with pytest.raises(BrokenFilm, match="bytes after its end"):
            list(found)


def test_a_file_is_taken_a_quarter_of_a_mebibyte_at_a_time(tmp_path):
    path = tmp_path / "some"
    path.write_bytes(bytes(600_000))
    with path.open("rb") as file:
        sizes = [len(piece) for piece in _chunks(file, 1000, 590_000)]
        assert sizes == [262_144, 262_144, 65_712]
        assert [len(piece) for piece in _chunks(file, 599_000, 9_999)] == [1000]


@pytest.mark.parametrize("format", list(Format))
def test_a_head_is_read_from_wherever_the_file_has_been_read_to(format, tmp_path):
    path = tmp_path / f"film{format.suffix}"
    dpi = Resolution(600, 300)
    with BitSheet.create(tmp_path / "bits", width=300, height=77) as bits:
        write_films(bits, {format: path}, dpi=dpi)
        plan = plan_file(bits, dpi=dpi, group4=True)
        with path.open("rb") as file:
            file.seek(5)
            if format is Format.PNG:
                assert read_png_head(file).height == 77
            elif format is Format.PWG:
                assert read_pwg_head(file).height == 77
            elif format is Format.PDF:
                assert is_ours(file)
                file.seek(5)
                assert read_pdf_head(file).height == 77
            else:
                verify_tiff(file, bits, plan, threads=1)
