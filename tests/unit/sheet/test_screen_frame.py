"""What a screen of a given frame prints, and the warning where art is larger than that."""

from __future__ import annotations

from typing import Any

import pytest

from filmhand.errors import ProfileError
from filmhand.profile.read.load import read_profile
from filmhand.sheet.placement import place_art
from filmhand.sheet.screen_frame import frame_warnings, printable_mm
from filmhand.units import read_frame


def profile_of(frame: str, **art: str) -> Any:
    wishes = ", ".join(f"{key}: {value}" for key, value in art.items())
    text = "sheet: tabloid\ndpi: 100\nlpi: 20\ndot: round\nthreshold: 50\nmesh: none\n"
    text += f"margin: 5 mm\nframe: {frame}\nart: {{{wishes}}}\n"
    return read_profile(text, name="p", file="p.yaml")


def warned(frame: str, **art: str) -> list[str]:
    profile = profile_of(frame, **art)
    layout = place_art(profile, art_px=(1000, 1000), art_ppi=None)
    return frame_warnings(profile.frame, layout, profile.dpi)


def test_two_inches_are_free_on_each_side() -> None:
    frame = read_frame("16 x 20 in")
    assert frame is not None
    assert printable_mm(frame) == (306.4, 408.0)
    small = read_frame("150 x 150 mm")
    assert small is not None and printable_mm(small) == (50, 50)


def test_art_that_the_screen_prints_is_not_warned_of() -> None:
    assert warned("off", fit="width 260 mm") == []
    assert warned("16 x 20 in", fit="width 260 mm") == []
    assert warned("360 x 360 mm", fit="width 260 mm") == []
    assert warned("20 x 16 in", fit="width 260 mm") == []  # a screen may be turned


def test_art_that_is_larger_is_told_with_both_sizes_and_what_to_do() -> None:
    (told,) = warned("300 x 400 mm", fit="width 220 mm")
    assert "220 x 220 mm" in told and "300 x 400 mm" in told and "at most 200 x 300 mm" in told
    assert told.endswith("print it smaller, or take a larger screen.")


def test_all_copies_count_together() -> None:
    assert warned("300 x 300 mm", fit="width 110 mm", repeat="2 x 1", gap="5 mm")
    assert not warned("300 x 330 mm", fit="width 110 mm", repeat="2 x 1", gap="5 mm")


@pytest.mark.parametrize("frame", ["16 x 20", "large", "10 x 10 mm", "100 x 500 mm", "5 in"])
def test_what_is_no_frame(frame: str) -> None:
    with pytest.raises(ProfileError) as caught:
        profile_of(frame)
    (fault,) = caught.value.faulty.faults
    assert fault.key == "frame" and "such as 16 x 20 in" in fault.message
