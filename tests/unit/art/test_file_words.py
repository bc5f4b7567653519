"""Refusals of files tell figures that agree, and the very key and value to write."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.art.files.decode import check_page_count, check_pixels
from filmhand.art.files.file_types import FileType, mismatch_note, refusal
from filmhand.art.formats.layered import ColorMode, LayeredFile, check_layered
from filmhand.errors import Refused


def allowing(**limits: Any) -> Any:
    return SimpleNamespace(**limits)


@pytest.mark.parametrize(
    ("size", "allowed", "said"),
    [
        ((1501, 1000), 1.5, "1.6"),  # never the number that is allowed
        ((20_000, 20_001), 400.0, "400.1"),
        ((30_000, 30_000), 400.0, "900"),
    ],
)
def test_pixels_are_told_so_that_the_number_to_write_is_enough(
    size: tuple[int, int], allowed: float, said: str
) -> None:
    with pytest.raises(Refused) as caught:
        check_pixels(*size, name="a.png", limits=allowing(megapixels=allowed))
    fault = caught.value
    shape = f"{size[0]} x {size[1]}"
    assert fault.say == (
        f"“a.png” has {said} megapixels ({shape}); the profile allows at most {allowed:g}."
    )
    assert fault.do == f"Save it smaller, or raise limits.megapixels in the profile to {said}."
    assert fault.found and f"{fault.found.value:g}" == said
    check_pixels(*size, name="a.png", limits=allowing(megapixels=float(said)))


def test_no_limit_is_offered_that_no_profile_can_have() -> None:
    with pytest.raises(Refused) as caught:
        check_pixels(150_000, 100_000, name="a.png", limits=allowing(megapixels=400.0))
    assert caught.value.say.endswith("at most 400, and none may allow more than 10000.")
    assert caught.value.do == "Save it with at most 400 megapixels."


@pytest.mark.parametrize(("allowed", "some"), [(1, "1"), (10, "1-10")])
def test_pages_are_chosen_in_the_ticket_of_that_file(allowed: int, some: str) -> None:
    with pytest.raises(Refused) as caught:
        check_page_count(12, name="book.pdf", limits=allowing(pages=allowed))
    assert caught.value.say == f"“book.pdf” has 12 pages; the profile allows at most {allowed}."
    assert caught.value.do == (
        f"Choose some of them (pages: {some} in book.pdf.ticket.yaml), split it, or raise "
        "limits.pages in the profile to 12."
    )


def test_a_layered_file_is_told_whether_its_bits_or_its_colors_are_in_the_way() -> None:
    deep = LayeredFile(
        1, 8, 8, 32, ColorMode.LAB, flattened=True, see_through=False, whole=True, channels=3
    )
    with pytest.raises(Refused, match="with 32 bits a color, which is not read here"):
        check_layered(deep, name="a.psd")
    with pytest.raises(Refused, match="with a kind of colors that is not read here"):
        check_layered(replace(deep, mode=5), name="a.psd")
    check_layered(replace(deep, bits=16), name="a.psd")


def test_a_layered_file_of_another_name_is_called_by_words() -> None:
    assert mismatch_note(FileType.LAYERED, name="a.png") == (
        "The name ends in .png, but the file is a layered working file; it was read as one."
    )


@pytest.mark.parametrize("kind", [kind for kind in FileType if kind.what])
def test_every_kind_that_is_not_read_is_told_what_it_is_and_what_helps(kind: FileType) -> None:
    plain, posing = (refusal(kind, name=name) for name in ("a", "a.png"))
    assert plain.say.startswith("“a” is ") and plain.say.endswith(".")
    assert posing.say.startswith("“a.png” is named like a picture, but it is ")
    assert plain.do == posing.do and plain.do.endswith(".")
