"""Wishes in the name of a file: what is one, what is left alone, what is nearly one."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Fit, Treat
from filmhand.profile.ticket.ticket import notes_of, read_ticket, wished_by_name
from filmhand.profile.ticket.trial import Trial
from filmhand.profile.ticket.wishes import wishes_in
from filmhand.screen.dot_shapes import Dot, DotShape


@pytest.fixture
def profile(good):
    return read_profile(good, name="p", file="p.yaml")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("logo [7in].png", ["width 7 in"]),
        ("logo [7 IN].png", ["width 7 in"]),
        ("logo[6.5 inches].png", ["width 6.5 in"]),
        ('logo [7"].png', ["width 7 in"]),
        ("logo [7”].png", ["width 7 in"]),
        ("logo [.5in].png", ["width 0.5 in"]),
        ("[180 mm] logo.png", ["width 180 mm"]),
        ("logo [18cm wide].png", ["width 18 cm"]),
        ("logo [9in high].png", ["height 9 in"]),
        ("logo [90 millimeters tall].png", ["height 90 mm"]),
        ("logo [7x9in].png", ["7 x 9 in"]),
        ("logo [7in x 9in].png", ["7 x 9 in"]),
        ("logo [180 × 240 mm].png", ["180 x 240 mm"]),
        ("logo [own size].png", ["own size"]),
        ("logo [35lpi].png", ["35 lpi"]),
        ("logo [22.5 deg].png", ["22.5 degrees"]),
        ("logo [20°].png", ["20 degrees"]),
        ("logo [line].png", ["line art"]),
        ("logo [Tone].png", ["tone"]),
        ("logo [line dots].png", ["line dots"]),
        ("logo [mirror].png", ["mirror"]),
        ("logo [x3].png", ["copies: 3"]),
        ("logo [3 copies].png", ["copies: 3"]),
        ("logo [trial].png", ["trial"]),
        ("logo [trial, patch b2].png", ["trial", "patch B2"]),
        ("logo [7in, 35 lpi,mirror].png", ["width 7 in", "35 lpi", "mirror"]),
        ("logo [x3,7in].png", ["copies: 3", "width 7 in"]),
        ("logo [1] [7in] [final].png", ["width 7 in"]),
        ("logo [7in] [7 in].png", ["width 7 in"]),
    ],
)
def test_wishes(name, words):
    assert [wish.words for wish in wishes_in(name)] == words


@pytest.mark.parametrize(
    "inside",
    ["1", "final", "", "2026-03-01", "v2", "2nd", "1080p", "copy", "class 4b", "3d", "4k", "in",
     "IMG_20260301", "draft, old", "front"],
)  # fmt: skip
def test_other_brackets_are_left_alone(inside):
    assert wishes_in(f"photo [{inside}].png") == ()


def test_brackets_that_do_not_pair_are_left_alone():
    assert wishes_in("a]7in[.png") == ()
    assert wishes_in("a (7in) {7in}.png") == ()


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ("7 inn", "'7 inn' in square brackets, which is no wish that can be read; did you mean"),
        ("35 lpo", "did you mean 35 lpi?"),
        ("35lip", "did you mean 35 lpi?"),
        ("7 ft", "'7 ft'"),
        ("2 m", "'2 m'"),
        ("17,125 cm", "did you mean 17.125 cm?"),
        ("17,125 cm high", "did you mean 17.125 cm high?"),
        ("7in, final", "'final' beside other wishes"),
        ("7in, 35 lpo", "'35 lpo' beside other wishes"),
        ("7in, 9in", "asks for width 7 in and for width 9 in, and only one can be"),
        ("line, tone", "asks for line art and for tone"),
    ],
)
def test_what_is_nearly_a_wish_is_refused_in_words(inside, says):
    with pytest.raises(Refused) as refused:
        wishes_in(f"logo [{inside}].png")
    assert refused.value.reason is Reason.BAD_TICKET
    assert says in refused.value.say
    assert f"logo [{inside}].png" in refused.value.say
    assert "drop the file again" in refused.value.do


def test_wishes_change_the_profile(profile):
    changed, ticket = wished_by_name(
        "logo [7in, 35 lpi, 20 deg, tone, mirror, x3, ellipse dots].png", profile=profile
    )
    assert changed.art.fit == Fit("width", pytest.approx(177.8))
    assert (changed.lpi, changed.angle, changed.film.mirror) == (35, 20, True)
    assert (changed.art.treat, changed.dot) == (Treat.TONE, DotShape(Dot.ELLIPSE))
    assert (ticket.copies, ticket.trial, ticket.raw) == (3, None, {})
    assert len(ticket.wishes) == 7
    assert (changed.sheet, changed.mesh, changed.sha256) == (
        profile.sheet,
        profile.mesh,
        profile.sha256,
    )


def test_a_name_without_wishes_changes_nothing(profile):
    changed, ticket = wished_by_name("photo [1].png", profile=profile)
    assert changed is profile
    assert notes_of(ticket) == ()


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("logo [80lpi].png", "asks for 80 lpi, and that cannot be: lpi must be 75 or less"),
        ("logo [370 deg].png", "angle must be a number from 0 to 180, not 370."),
        ("logo [0 in].png", "from 5 mm to 2000 mm, not 'width 0 in'."),
        ("logo [400 deg].png", "angle must be a number from 0 to 180, not 400"),
        ("logo [20 in].png", "art.fit must be a width of"),
        ("logo [x200].png", "copies must be a whole number from 1 to 100, not 200"),
        ("logo [1 mm].png", "art.fit must be"),
    ],
)
def test_wishes_that_the_profile_cannot_meet_are_refused(profile, name, says):
    with pytest.raises(Refused) as refused:
        wished_by_name(name, profile=profile)
    assert refused.value.reason is Reason.BAD_TICKET
    assert refused.value.say.startswith(f"The name {name} ")
    assert says in refused.value.say


def test_the_ticket_overrules_the_name(profile):
    changed, base = wished_by_name("logo [7in, 35 lpi, x3, trial].png", profile=profile)
    changed, ticket = read_ticket(
        "lpi: 30\ncopies: 2\nart: {place: top}\n", profile=changed, file="t", base=base
    )
    assert (changed.lpi, ticket.copies) == (30, 2)
    assert changed.art.fit.kind == "width"
    assert ticket.trial == Trial()
    assert [wish.words for wish in ticket.wishes] == ["width 7 in", "trial"]
    assert notes_of(ticket) == (
        "The name asks for width 7 in, trial.",
        "The name asks for 35 lpi, copies: 3, which the ticket decides otherwise.",
    )


@settings(max_examples=300, deadline=None)
@given(st.text('[]17x ,.inmclpiatoe"', max_size=20))
def test_any_name_is_read_or_refused(name):
    try:
        wishes = wishes_in(name)
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET
    else:
        assert len({wish.path for wish in wishes}) == len(wishes)


@pytest.mark.parametrize(
    ("name", "fitting", "without"),
    [
        ("logo [80lpi, mirror].png", "logo [75 lpi, mirror].png", "logo [mirror].png"),
        ("logo [20 in].png", "logo [10.5 in].png", "logo.png"),
        ("logo [50 cm high] [line].png", "logo [10.5 in high] [line].png", "logo [line].png"),
    ],
)
def test_a_wish_for_too_much_is_told_the_name_that_would_do(profile, name, fitting, without):
    with pytest.raises(Refused) as refused:
        wished_by_name(name, profile=profile)
    assert refused.value.do == (
        f"Name it “{fitting}”, or “{without}” to do without that wish, and drop the file again."
    )
    wished_by_name(fitting, profile=profile)
    wished_by_name(without, profile=profile)


def test_no_name_is_told_that_would_be_refused_for_another_wish(profile):
    with pytest.raises(Refused) as refused:
        wished_by_name("logo [20 in, 80 lpi].png", profile=profile)
    assert refused.value.do.startswith("Correct what stands in square brackets, or name it ")
