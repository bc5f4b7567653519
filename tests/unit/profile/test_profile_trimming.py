"""What is cut off the art and how often it lies on a sheet, as profiles and tickets say it."""

from __future__ import annotations

import pytest

from filmhand.errors import Refused
from filmhand.profile.terms import Automatic, Crop, Fit, Repeat, Side
from filmhand.profile.ticket.ticket import read_ticket


def art(read, good, text):
    return read(f"{good}art: {text}\n").art


@pytest.mark.parametrize(
    ("text", "crop"),
    [
        ("{crop: off}", None),
        ("{crop: {}}", Crop()),
        ("{crop: {left: 10 %}}", Crop(left=Side(share=0.1))),
        ("{crop: {top: 12.5%, bottom: 5 mm}}", Crop(top=Side(share=0.125), bottom=Side(mm=5))),
        ("{crop: {right: 1 in, left: 0}}", Crop(right=Side(mm=25.4))),
        ("{crop: {to: 4 x 5}}", Crop(to=(4, 5))),
        ("{crop: {to: 1.5 x 1}}", Crop(to=(1.5, 1))),
    ],
)
def test_crops(read, good, text, crop):
    assert art(read, good, text).crop == crop


@pytest.mark.parametrize(
    ("text", "key", "says"),
    [
        ("{crop: 10 %}", "art.crop", "must be off or a group such as {left: 10 %, top: 5 mm}"),
        ("{crop: {left: 10}}", "art.crop.left", "must be a percent of the art such as 10 %"),
        ("{crop: {lfet: 10 %}}", "art.crop.lfet", "did you mean art.crop.left?"),
        ("{crop: {middle: 1 %}}", "art.crop.middle", "inside art.crop stand left, top, right"),
        ("{crop: {left: 96 %}}", "art.crop.left", "must be 95 % or less"),
        ("{crop: {left: 60 %, right: 50 %}}", "art.crop.right", "left and right may take 95 %"),
        ("{crop: {to: 4}}", "art.crop.to", "must be a shape, width x height, such as 4 x 5"),
        ("{crop: {to: 1 x 30}}", "art.crop.to", "up to 20 times as long as wide"),
        ("{trim: yes}", "art.trim", "must be auto or off"),
        ("{repeat: 3}", "art.repeat", "copies across x down, such as 3 x 2"),
        ("{repeat: 0 x 3}", "art.repeat", "each from 1 to 50"),
        ("{repeat: fil}", "art.repeat", "did you mean fill?"),
        ("{repeat: fill}", "art.repeat", "fill needs a size, such as art: {fit: width 3 in}"),
        ("{repeat: 2 x 2, tile: auto}", "art.repeat", "set one of the two to off"),
        ("{gap: 3}", "art.gap", "must be a length from 0 mm to 100 mm"),
        ("{overlap: 2 mm}", "art.overlap", "must be a length from 5 mm to 100 mm"),
        ("{fit: 7 x 9}", "art.fit", "a size such as width 7 in, height 9 in or 7 x 9 in"),
        ("{fit: 1 x 90 mm}", "art.fit", "from 5 mm to 2000 mm"),
        ("{fit: width 30 in}", "art.fit", "or write art: {tile: auto}"),
    ],
)
def test_faults_name_the_key_and_what_is_allowed(faults, good, text, key, says):
    (found,) = faults(f"{good}art: {text}\n")
    assert found[2] == key
    assert says in found[3]


def test_a_fault_inside_a_crop_is_told_at_its_own_line(faults, good):
    found = faults(f"{good}art:\n  crop:\n    left: 5 %\n    top: many\n    rigth: 5 %\n")
    assert [(line, key) for line, _, key, _ in found] == [
        (11, "art.crop.top"), (12, "art.crop.rigth"),
    ]  # fmt: skip


def test_sizes_inside_two_sides(read, good):
    fit = art(read, good, "{fit: 7 x 9 in}").fit
    assert fit == Fit("inside", 177.8, pytest.approx(228.6))
    assert art(read, good, "{fit: 10cm x 90 mm}").fit == Fit("inside", 100, 90)


def test_repeat_gap_and_tile(read, good):
    wishes = art(read, good, "{repeat: 3 x 2, gap: 0}")
    assert (wishes.repeat, wishes.gap) == (Repeat(3, 2), 0)
    wishes = art(read, good, "{repeat: fill, fit: width 2 in}")
    assert wishes.repeat == Repeat()
    wishes = art(read, good, "{tile: auto, fit: width 30 in, overlap: 0.5 in}")
    assert (wishes.tile, wishes.overlap, wishes.fit.mm) == (Automatic.AUTO, 12.7, 762)


def test_a_ticket_adds_to_the_crop_of_the_profile_or_ends_it(read, good):
    profile = read(f"{good}art: {{crop: {{left: 10 %}}}}\n")
    more, _ = read_ticket("art: {crop: {top: 5 %}}", profile=profile, file="t")
    assert more.art.crop == Crop(left=Side(share=0.1), top=Side(share=0.05))
    none, _ = read_ticket("art: {crop: off}", profile=profile, file="t")
    assert none.art.crop is None
    with pytest.raises(Refused) as refused:
        read_ticket("art:\n  crop:\n    top: 5\n", profile=profile, file="t")
    assert "line 3, column 5: art.crop.top must be a percent" in refused.value.say
