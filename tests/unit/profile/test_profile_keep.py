"""How long things are kept, as the profile says it."""

from __future__ import annotations

import pytest

from filmhand.errors import ProfileError
from filmhand.profile.model import Keep
from filmhand.profile.read.load import from_snapshot, read_profile, to_snapshot

TEXT = "sheet: letter\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 6 mm\n"
DAY = 86400.0


def keep_of(words: str) -> Keep:
    profile = read_profile(TEXT + words, name="test", file="test.yaml")
    assert from_snapshot(to_snapshot(profile)) == profile
    return profile.keep


def test_everything_is_kept_for_ever_unless_the_profile_says_otherwise() -> None:
    assert keep_of("") == Keep(films=None, proofs=None, records=None, originals=None)
    assert keep_of("keep: {films: forever}\n") == Keep()


@pytest.mark.parametrize(
    ("words", "seconds"),
    [
        ("30 days", 30 * DAY),
        ("1 day", DAY),
        ("8 weeks", 56 * DAY),
        ("1 week", 7 * DAY),
        ("12 h", DAY / 2),
        ("1.5 days", 1.5 * DAY),
        ("1 h", 3600),
        ("36500 days", 36500 * DAY),
    ],
)
def test_times(words: str, seconds: float) -> None:
    assert keep_of(f"keep: {{films: {words}}}\n") == Keep(films=seconds)


@pytest.mark.parametrize(
    "words", ["30", "0 days", "0.5 h", "36501 days", "never", "-1 day", "1 month", "[1 day]", "off"]
)
def test_what_is_no_time_is_told_with_what_is_allowed(words: str) -> None:
    with pytest.raises(ProfileError) as caught:
        keep_of(f"keep: {{originals: {words}}}\n")
    (fault,) = caught.value.faulty.faults
    assert (fault.line, fault.key) == (8, "keep.originals")
    assert "forever" in fault.message and "30 days" in fault.message


def test_refused_art_cannot_be_named() -> None:
    with pytest.raises(ProfileError, match=r"keep\.rejected is not a known key"):
        keep_of("keep: {rejected: 30 days}\n")
