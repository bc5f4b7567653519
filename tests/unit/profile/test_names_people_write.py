"""Names as people write them: what each shall mean.

Judged by what the staff of a shop would expect of the name; common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.profile.ticket.ticket import copies_told, read_ticket, wished_by_name
from filmhand.profile.ticket.wishes import wishes_in

# What stands in brackets, and what is understood.
UNDERSTOOD: dict[str, list[str]] = {
    "7in": ["width 7 in"],
    "7 in": ["width 7 in"],
    '7"': ["width 7 in"],
    "7”": ["width 7 in"],
    "7''": ["width 7 in"],
    "7 in.": ["width 7 in"],
    "7-inch": ["width 7 in"],
    "7 inches wide": ["width 7 in"],
    "wide 7 in": ["width 7 in"],
    "w7in": ["width 7 in"],
    "7in w": ["width 7 in"],
    "9 in high": ["height 9 in"],
    "height 9 in": ["height 9 in"],
    '9" tall': ["height 9 in"],
    "5,5 cm": ["width 5.5 cm"],
    "5.5cm": ["width 5.5 cm"],
    "17,25 cm high": ["height 17.25 cm"],
    "A4": ["A4 size"],
    "a4 paper": ["A4 size"],
    "a5": ["A5 size"],
    "A3": ["A3 size"],
    "letter": ["letter size"],
    "Legal": ["legal size"],
    "tabloid": ["tabloid size"],
    "3 copies": ["copies: 3"],
    "x3": ["copies: 3"],
    "×3": ["copies: 3"],
    "copies 3": ["copies: 3"],
    "copies: 3": ["copies: 3"],
    "qty 3": ["copies: 3"],
    "3 films": ["copies: 3"],
    "mirrored": ["mirror"],
    "mirror": ["mirror"],
    "flipped": ["mirror"],
    "negative": ["negative"],
    "inverted": ["negative"],
    "positive": ["positive"],
    "line": ["line art"],
    "line art": ["line art"],
    "lineart": ["line art"],
    "Tone": ["tone"],
    "halftone": ["tone"],
    "45 lpi": ["45 lpi"],
    "lpi 45": ["45 lpi"],
    "lpi: 45": ["45 lpi"],
    "45lpi": ["45 lpi"],
    "55 lines per inch": ["55 lpi"],
    "22.5 deg": ["22.5 degrees"],
    "22,5°": ["22.5 degrees"],
    "angle 22.5": ["22.5 degrees"],
    "22.5 degrees": ["22.5 degrees"],
    "round": ["round dots"],
    "round dots": ["round dots"],
    "dot round": ["round dots"],
    "ellipse": ["ellipse dots"],
    "line dots": ["line dots"],
    "page 3": ["pages 3"],
    "pages 2-5, 8": ["pages 2-5, 8"],
    "pages 2-5,8": ["pages 2-5, 8"],
    "p3": ["pages 3"],
    "7in 35lpi mirror x3": ["width 7 in", "35 lpi", "mirror", "copies: 3"],
    "mirror 7in": ["mirror", "width 7 in"],
    "x3,7in": ["copies: 3", "width 7 in"],
    "7in_35lpi_line": ["width 7 in", "35 lpi", "line art"],
    "7in-35lpi-line": ["width 7 in", "35 lpi", "line art"],
    "7in; line; x2": ["width 7 in", "line art", "copies: 2"],
    "7in and mirror": ["width 7 in", "mirror"],
    "35 lpi,22,5 deg": ["35 lpi", "22.5 degrees"],
    "7 x 9 in": ["7 x 9 in"],
    "7x9in": ["7 x 9 in"],
    '7" x 9"': ["7 x 9 in"],
    "7 by 9 in": ["7 x 9 in"],
    "7 in wide x 9 in high": ["7 x 9 in"],
    "7 in wide 9 in high": ["7 x 9 in"],
    "7in, 9in high": ["7 x 9 in"],
    "180 millimetres": ["width 180 mm"],
    "180 x 240 mm": ["180 x 240 mm"],
    "own size": ["own size"],
    "actual size": ["own size"],
    "100%": ["own size"],
    "full page": ["full page"],
    "trial": ["trial"],
    "patch b2": ["patch B2"],
    "threshold 40": ["threshold 40"],
    "7½ in": ["width 7.5 in"],
    "½ in": ["width 0.5 in"],
    "７in": ["width 7 in"],
    "٧ cm": ["width 7 cm"],
    "7in x3": ["width 7 in", "copies: 3"],
    "p 3": ["pages 3"],
    "pp. 2-5": ["pages 2-5"],
    "7 in, 9 cm high": ["7 in x 9 cm"],
    "10 x 12 in": ["10 x 12 in"],
    "10in x 12in": ["10 x 12 in"],
    "25 cm wide": ["width 25 cm"],
    "wide 25cm": ["width 25 cm"],
    "300 mm high": ["height 300 mm"],
    "0.75 in": ["width 0.75 in"],
    ".75in": ["width 0.75 in"],
    '12"': ["width 12 in"],
    '12" wide': ["width 12 in"],
    "35lpi, 22.5deg, round": ["35 lpi", "22.5 degrees", "round dots"],
    "round 35 lpi 22.5 deg 7 in": ["round dots", "35 lpi", "22.5 degrees", "width 7 in"],
    "MIRROR": ["mirror"],
    "Mirrored, Negative, X2": ["mirror", "negative", "copies: 2"],
    "negative line 9in": ["negative", "line art", "width 9 in"],
    "line x2 A4": ["line art", "copies: 2", "A4 size"],
    "letter x10": ["letter size", "copies: 10"],
    "A4, mirrored": ["A4 size", "mirror"],
    "a6": ["A6 size"],
    "halftone 30 lpi": ["tone", "30 lpi"],
    "square dots": ["square dots"],
    "diamond": ["diamond dots"],
    "stochastic": ["stochastic dots"],
    "grain": ["grain dots"],
    "2 sheets": ["copies: 2"],
    "5 copies": ["copies: 5"],
    "12 copies": ["copies: 12"],
    "quantity: 4": ["copies: 4"],
    "threshold: 55 %": ["threshold 55"],
    "pages 1-3": ["pages 1-3"],
    "page 1, mirror": ["pages 1", "mirror"],
    "trial sheet": ["trial"],
    "original size": ["own size"],
    "fit to page": ["full page"],
}  # fmt: skip

# Nothing like a wish: they stay what they are.
PART_OF_THE_NAME = (
    "最終",
    "draft",
    "final",
    "1",
    "12",
    "2026",
    "2026-03-01",
    "20260301",
    "01.03.2026",
    "v2",
    "rev 3",
    "class 4",
    "class 4b",
    "IMG_20260301",
    "DSC 0042",
    "2nd draft",
    "3d",
    "4k",
    "1080p",
    "front",
    "left chest",
    "portrait",
    "final final",
    "copy",
    "7",
    "angel 3",
    "lap 3",
    "0042",
    "colour",
    "grey",
    "sleeve",
    "Anna's design",
    "final, v3",
    "job 1234",
    "order #77",
    "no. 4",
    "R2",
    "take 2",
    "Spring 2026",
    "Nike-style",
    "back print",
    "do not use",
    "old",
    "new",
    "high res",
    "hi-res",
    "wide",
    "tall",
    "big",
    "web",
    "cmyk",
    "red",
    "PMS 186",
    "2024-12-24 party",
    "3rd try",
    "12th night",
)

# Like a wish and none, and the name that is offered first.
NOT_UNDERSTOOD = {
    "elliptical dots": "a [ellipse dots].png",
    "pages 2,3,5 cm": "a [pages 2, 3, 5 cm].png",
    "7厘米": "a (7厘米).png",
    "7 см": "a (7 см).png",
    "123": "a (123).png",
    "copy 2": "a [x2].png",
    "draft, 1": "a (draft, 1).png",
    "1, 2": "a (1, 2).png",
    "two tone": "a (two tone).png",
    "finish line": "a (finish line).png",
    "300 dpi": "a (300 dpi).png",
    "110 mesh": "a (110 mesh).png",
    "43-80": "a (43-80).png",
    "1920x1080": "a (1920x1080).png",
    "7x9": "a [7 x 9 in].png",
    "180x240": "a [180 x 240 mm].png",
    "4x6": "a [4 x 6 in].png",
    "7 wide": "a [7 in].png",
    "width 7": "a [7 in].png",
    "size 7": "a (size 7).png",
    "about 7 inches": "a [7 in] (about).png",
    "seven inches": "a [7 in].png",
    "three copies": "a [x3].png",
    "2x": "a [x2].png",
    "50%": "a (50%).png",
    "7 inn": "a [7 in].png",
    "35 lpo": "a [35 lpi].png",
    "35lip": "a [35 lpi].png",
    "lpo 45": "a [45 lpi].png",
    "7 ft": "a [84 in].png",
    "7'": "a [84 in].png",
    "2 m": "a [200 cm].png",
    "7in, final": "a [7 in] (final).png",
    "7in final": "a [7 in] (final).png",
    "35 lpi, 9in, 7in": "a [35 lpi, 9 in].png",
    "line, tone": "a [line].png",
    "7in 9in": "a [7 in].png",
    "7in x 3": "a [7 in] (x 3).png",
    "3 x a4": "a [A4, x3].png",
    "1,234 mm": "a [1234 mm].png",
    "7,125 in": "a [7.125 in].png",
    "negativ": "a [negative].png",
    "miror": "a [mirror].png",
    "Oval dots": "a [ellipse dots].png",
    "polka dots": "a (polka dots).png",
    "not mirrored": "a (not mirrored).png",
    "mirror?": "a (mirror?).png",
    "100 days of school": "a (100 days of school).png",
    "5 stars": "a (5 stars).png",
    "7,5": "a (7,5).png",
    "10 x 12": "a [10 x 12 in].png",
    "12 wide": "a [12 in].png",
    "7 i": "a (7 i).png",
    "7 ins": "a [7 in].png",
    "20 x 30 cmm": "a (20 x 30 cmm).png",
    "60 mesh": "a (60 mesh).png",
    "1200dpi": "a (1200dpi).png",
    "1/2": "a (1/2).png",
    "2 colors": "a (2 colors).png",
    "1 of 4": "a (1 of 4).png",
    "30%": "a (30%).png",
    "two copies": "a [x2].png",
    "halftone dots": "a (halftone dots).png",
    "tone?": "a (tone?).png",
    "line, 7": "a [line] (7).png",
    "negtive": "a [negative].png",
    "revrse 7 in": "a [7 in] (revrse).png",
    "screen 45 lpi": "a [45 lpi] (screen).png",
    "45 lpi fine": "a [45 lpi] (fine).png",
    "7 in width 8 in": "a [7 in].png",
    "A4 or letter": "a (A4 or letter).png",
}

WHOLE_NAMES: dict[str, list[str]] = {
    "logo [7in] [mirror].png": ["width 7 in", "mirror"],
    "logo [1] [7in] [final].png": ["width 7 in"],
    "[7 in] logo.png": ["width 7 in"],
    "logo [7in]": ["width 7 in"],
    "logo.png [7in]": ["width 7 in"],
    "logo [[7in]].png": ["width 7 in"],
    "logo [7in [mirror]].png": ["width 7 in", "mirror"],
    "logo [7in] (1).png": ["width 7 in"],
    "［7 in］ロゴ.png": ["width 7 in"],
    "شعار [7 in].png": ["width 7 in"],
    "логотип [18 cm].png": ["width 18 cm"],
    "logo [7\u200bin].png": ["width 7 in"],
    "logo (7in) {9in}.png": [],
    "logo [].png": [],
    "logo ][.png": [],
    "a]7in[.png": [],
    "a [draft.png": [],
    "a draft].png": [],
    "logo [[[[[.png": [],
}
BROKEN_NAMES = {
    "logo [7in.png": "logo [7 in].png",
    "logo 7in].png": "logo [7 in].png",
    "[7in logo.png": "[7 in] (logo).png",
    "logo [7in, mirror.png": "logo [7 in, mirror].png",
    "logo [final [7in]].png": "logo [7 in] (final).png",
    "logo [7in[.png": "logo [7 in].png",
    "logo 7in]].png": "logo [7 in]].png",
    "logo [7in, \x00].png": "logo [7 in] (\x00).png",
    "logo [../7in].png": "logo [7 in] (../).png",
}


@pytest.mark.parametrize("inside", UNDERSTOOD)
def test_all_of_it_is_understood(inside: str) -> None:
    wishes = wishes_in(f"a [{inside}].png")
    assert [wish.words for wish in wishes] == UNDERSTOOD[inside]
    again = wishes_in(f"a [{', '.join(wish.written for wish in wishes)}].png")
    assert again == wishes


@pytest.mark.parametrize("inside", PART_OF_THE_NAME)
def test_it_is_part_of_the_name(inside: str) -> None:
    assert wishes_in(f"a [{inside}].png") == ()


@pytest.mark.parametrize("inside", NOT_UNDERSTOOD)
def test_it_is_refused_with_the_name_to_use(inside: str) -> None:
    with pytest.raises(Refused) as refused:
        wishes_in(f"a [{inside}].png")
    assert refused.value.reason is Reason.BAD_TICKET
    names = re.findall("“(.*?)”", refused.value.do)
    assert names[0] == NOT_UNDERSTOOD[inside]
    for name in names:
        wishes_in(name)  # each can be read as it is offered


@pytest.mark.parametrize("name", WHOLE_NAMES)
def test_brackets_wherever_they_stand(name: str) -> None:
    assert [wish.words for wish in wishes_in(name)] == WHOLE_NAMES[name]


@pytest.mark.parametrize("name", BROKEN_NAMES)
def test_brackets_that_do_not_pair_are_refused_where_they_hold_a_wish(name: str) -> None:
    with pytest.raises(Refused) as refused:
        wishes_in(name)
    assert re.findall("“(.*?)”", refused.value.do)[0] == BROKEN_NAMES[name]


def test_which_part_was_not_understood_is_told_as_it_was_written() -> None:
    with pytest.raises(Refused, match=r"has 'Final_Version' beside other wishes"):
        wishes_in("a [7in Final_Version].png")


def test_what_can_be_read_in_two_ways_is_refused_with_both() -> None:
    with pytest.raises(Refused, match=r"as pages 2, 3, width 5 cm and as pages 2, width 3.5 cm"):
        wishes_in("a [pages 2,3,5 cm].pdf")


def test_names_that_are_offered_are_no_longer_than_names_may_be() -> None:
    name = f"{'é' * 110} [7in{'é' * 12}].png"
    assert len(name.encode()) <= 255
    with pytest.raises(Refused) as refused:
        wishes_in(name)
    for offered in re.findall("“(.*?)”", refused.value.do):
        assert len(offered.encode()) <= 255


@pytest.mark.parametrize(
    "inside", ["7in " * 5000, "x" * 100_000, "7" * 100_000, "[" * 50_000, "pages " + "1, " * 40_000]
)
def test_very_long_names_are_read_or_refused(inside: str) -> None:
    try:
        assert wishes_in(f"a [{inside}].png") == ()
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET


PIECES = (
    "7in", "9 in high", "35 lpi", "mirror", "x3", "page 2", "A4", "line", "final", "7", ",", " ",
    "[", "]", "x", "-", "½", "'", "最", "\u202e", "1,5", ".", "and", "dots", "cm", "(", "_",
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(PIECES), max_size=14).map("".join))
def test_no_wish_is_passed_over(text: str) -> None:
    """A wish set apart within brackets is understood or told, whatever stands beside it."""
    try:
        wishes = wishes_in(f"a [{text}, 22.5 deg].png")
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET
    else:
        opened = f"[{text}"
        inside = opened.rfind("[") > opened.rfind("]") or opened.count("[") > opened.count("]")
        assert not inside or "22.5 degrees" in [wish.words for wish in wishes]


@pytest.fixture
def profile(good):
    return read_profile(good, name="p", file="p.yaml")


def test_the_paper_of_the_profile_itself_means_all_of_the_room_on_it(profile) -> None:
    assert profile.sheet.mm == (215.9, 279.4)
    changed, ticket = wished_by_name("a [letter].png", profile=profile)
    assert changed.art.fit.kind == "page"
    assert [wish.words for wish in ticket.wishes] == ["letter size"]
    smaller, _ = wished_by_name("a [A5].png", profile=profile)
    assert smaller.art.fit.kind != "page"


def test_a_wish_that_the_profile_cannot_meet_comes_with_the_name_without_it(profile) -> None:
    with pytest.raises(Refused) as refused:
        wished_by_name("a [7in, 80lpi].png", profile=profile)
    assert "“a [7 in].png”" in refused.value.do


def test_copies_are_told_to_whoever_prints(profile, good) -> None:
    _, ticket = wished_by_name("a [x3].png", profile=profile)
    (told,) = copies_told(ticket, profile)
    assert told.startswith("3 copies are asked for, and this profile sends no film to a printer")
    printing = read_profile(
        f"{good}print: {{printer: ipp://film-printer.local/ipp/print}}\n", name="p", file="p.yaml"
    )
    assert copies_told(ticket, printing) == (
        "3 copies are asked for, and so many go to the printer.",
    )
    assert copies_told(read_ticket("lpi: 30", profile=profile, file="t")[1], profile) == ()
