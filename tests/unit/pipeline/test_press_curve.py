"""One press, said in two ways, and what a profile tells of it."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.press_curve import (
    TONES_TOLD,
    aim_not_said,
    describe_tones,
    press_curve_of,
    press_notes,
    tone_rule,
)
from filmhand.profile.read.load import read_profile
from filmhand.tone import Levels, tone_steps

TONES = np.linspace(0, 1, 1001)
PAIRS = "[[6, 2], [22, 22], [53, 59], [69, 84], [91, 98]]"
WEDGE = (1, 2, 3, 5, 7, *range(10, 95, 5), 93, 95, 97, 98, 99)


def profile_of(tone="{}", **keys):
    said = {"sheet": "letter", "dpi": 600, "lpi": 25, "dot": "round", "threshold": 50}
    said |= {"mesh": "43-80", "margin": "6 mm"} | keys | {"tone": tone}
    text = "".join(f"{key}: {value}\n" for key, value in said.items())
    return read_profile(text, name="test", file="test.yaml")


def film_of(profile):
    press = press_curve_of(profile)
    return 100 * tone_steps(profile.tone, levels=Levels(), press=press)(TONES)


@pytest.mark.parametrize("aim", ["tone", "luminance"])
@pytest.mark.parametrize("gain", [12, 40])
@pytest.mark.parametrize(
    "keys",
    [
        {},
        {"dot": "square", "lpi": 35},
        {"dot": "ellipse 0.6", "mesh": "none"},
        {"dot": "line", "lpi": 20},
        {"dot": "grain", "lpi": 30, "mesh": "120-34"},
    ],
    ids=lambda keys: str(keys.get("dot", "round")),
)
def test_a_number_and_the_pairs_of_its_press_give_the_same_film(keys, gain, aim):
    by_number = profile_of(f"{{gain: {gain}, aim: {aim}}}", **keys)
    press = press_curve_of(by_number)
    # What somebody would read off a wedge of that press, to a tenth of a point.
    printed = np.round(100 * press.print_of(np.array(WEDGE) / 100), 1)
    pairs = [[film, float(tone)] for film, tone in zip(WEDGE, printed, strict=True)]
    by_pairs = profile_of(f"{{gain: {pairs}, aim: {aim}}}", **keys)
    wanted = (TONES > 0) & (TONES < 1)
    # Where several films print alike, any of them will do: what counts there is the print.
    films = film_of(by_number)[wanted], film_of(by_pairs)[wanted]
    prints = [100 * press.print_of(film / 100) for film in films]
    assert np.minimum(abs(films[0] - films[1]), abs(prints[0] - prints[1])).max() <= 1


@pytest.mark.parametrize("gain", [20, PAIRS])
def test_a_press_that_adds_takes_the_film_down_however_it_is_said(gain):
    # The middle of either press prints darker than the film, so the film must be lighter.
    film = film_of(profile_of(f"{{gain: {gain}, aim: tone}}"))
    assert film[500] < 46.5
    assert film_of(profile_of())[500] == pytest.approx(50)


@pytest.mark.parametrize("aim", ["tone", "luminance"])
@pytest.mark.parametrize("gain", [0, 0.5, 40, PAIRS])
@pytest.mark.parametrize("dot", ["round", "square", "line", "grain"])
def test_what_the_film_prints_is_what_was_wanted(dot, gain, aim):
    profile = profile_of(f"{{gain: {gain}, aim: {aim}}}", dot=dot)
    press = press_curve_of(profile)
    assert abs(press.print_of(press.film_for(TONES)) - TONES).max() <= 1e-4
    for told in describe_tones(profile)["tones"]:
        assert told["print_pct"] == pytest.approx(told["wanted_pct"], abs=0.11)


def test_below_the_smallest_dot_fewer_dots_grow_alike():
    # 43-80 at 25 lpi holds dots from 7.4 %: half as many of them print half as much.
    press = press_curve_of(profile_of("{gain: 20}"))
    smallest = 0.074
    whole, half = press.print_of(np.array([smallest, smallest / 2]))
    assert half == pytest.approx(whole / 2, rel=0.01)
    assert whole > 1.8 * smallest
    free = press_curve_of(profile_of("{gain: 20, hold: off}"))
    assert free.print_of(np.array([smallest / 2]))[0] > half + 0.02


def test_the_middle_is_told_with_the_edge_that_moves():
    told = describe_tones(profile_of("{gain: 20}"))
    assert [tone["art_pct"] for tone in told["tones"]] == list(TONES_TOLD)
    middle = told["tones"][3]
    assert (middle["art_pct"], middle["print_pct"]) == (50, 50)
    assert 28 < middle["film_pct"] < 34
    # (1 / sqrt 2 - 2 d)^2 = 0.3 of a cell of 1016 um stay bare: d is 81 um.
    assert told["edge_um"] == pytest.approx(81, abs=2)
    assert "20 points at 50 %" in tone_rule(profile_of("{gain: 20}"))
    assert describe_tones(profile_of())["edge_um"] is None
    assert describe_tones(profile_of(f"{{gain: {PAIRS}}}"))["edge_um"] is None


def test_on_a_negative_ink_lies_where_the_film_is_clear():
    told = describe_tones(profile_of("{gain: 20}", film="{negative: true}"))["tones"]
    plain = describe_tones(profile_of("{gain: 20}"))["tones"]
    for turned, straight in zip(told, plain, strict=True):
        assert turned["film_pct"] == pytest.approx(100 - straight["film_pct"], abs=0.11)
        assert turned["print_pct"] == straight["print_pct"]


def test_what_no_film_can_reach_is_told():
    assert describe_tones(profile_of("{gain: 20}"))["reach_pct"] == [0, 100]
    low, high = describe_tones(profile_of("{gain: 20, hold: [10, 85]}"))["reach_pct"]
    assert 19 < low < 22  # 10 % on the film
    assert 90 < high < 97


@pytest.mark.parametrize(
    ("tone", "told"),
    [
        (f"{{gain: {PAIRS}}}", True),
        (f"{{gain: {PAIRS}, aim: tone}}", False),
        (f"{{gain: {PAIRS}, aim: luminance}}", False),
        ("{gain: 20}", False),
        ("{}", False),
    ],
)
def test_a_measured_press_without_an_aim_is_told_of(tone, told):
    profile = profile_of(tone)
    words = [word for word in press_notes(profile) if "aim: luminance" in word]
    assert len(words) == told
    assert aim_not_said(profile) == words


def test_notes_say_what_press_the_dots_are_made_for():
    assert press_notes(profile_of()) == []
    assert press_notes(profile_of("{gain: 12, aim: luminance}")) == [
        "The dots are made for a press that adds 12 points at the 50 % tone: the print reflects "
        "what the art reflects."
    ]
    assert "adds nothing" in press_notes(profile_of("{aim: luminance}"))[0]
    assert "curve (inline): the print covers" in press_notes(profile_of(f"{{gain: {PAIRS}}}"))[0]


@pytest.mark.parametrize("tone", [25, 50, 75])
def test_code_values_are_nearer_to_the_truth_on_a_press_that_prints_50_as_70(tone):
    """Why the trade's habit looks right (a normal press, 50 to 70: common practice, no source).

    The film that makes the print reflect what the art does is far darker than the code values where
    the press adds nothing, and nearer to them where it adds 20 points.
    """
    off = {}
    for gain in (0, 20):
        film = film_of(profile_of(f"{{gain: {gain}, aim: luminance}}"))
        off[gain] = film[10 * tone] - tone
    assert off[0] > 18
    assert abs(off[20]) < 0.6 * off[0]


def test_square_dots_gain_most_in_the_middle():
    # 10 to 12 points there (common practice, no source): a press that gives their 50 % tone 10
    # gives no tone more than 12, and the most where their corners meet, just over 50 %.
    press = press_curve_of(profile_of("{gain: 10, hold: off}", dot="square"))
    gained = 100 * (press.print_of(TONES) - TONES)
    assert 10 <= gained.max() <= 12
    assert 0.5 < TONES[gained.argmax()] < 0.62
