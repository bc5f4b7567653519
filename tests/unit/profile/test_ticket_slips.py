"""Tickets as people write them who have never seen YAML: read, or one sentence that helps.

The slips are those of common editors and keyboards, collected by hand (no source).
"""

from __future__ import annotations

import pytest

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Fit
from filmhand.profile.ticket.ticket import ending_of, load_ticket, read_ticket
from filmhand.profile.ticket.trial import Trial
from filmhand.screen.dot_shapes import Dot, DotShape


@pytest.fixture
def profile(good):
    return read_profile(good, name="p", file="p.yaml")


@pytest.mark.parametrize(
    ("text", "lpi", "dot"),
    [
        ("lpi: 30\r\ndot: square\r\n", 30, "square"),
        ("lpi: 30\rdot: square\r", 30, "square"),
        ("\ufefflpi: 30\ndot: square", 30, "square"),
        ("lpi:\u00a030\ndot:\u202fsquare", 30, "square"),
        ("\u200blpi: 30\u200b\ndot: square", 30, "square"),
        ("lpi : 30.\ndot: “square”", 30, "square"),
        ("lpi: 30 # coarse\ndot: ‘square’", 30, "square"),
        ("---\nlpi: 30\ndot: «square»", 30, "square"),
    ],
)
def test_slips_that_do_no_harm(profile, text, lpi, dot):
    changed, _ = read_ticket(text, profile=profile, file="t")
    assert (changed.lpi, changed.dot) == (lpi, DotShape(Dot(dot)))


def test_spaces_that_do_not_break_may_indent(profile):
    changed, _ = read_ticket("art:\n\u00a0\u00a0fit: own", profile=profile, file="t")
    assert changed.art.fit == Fit("own")


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        # a space too few, another sign for the colon
        ("lpi:25", (1, 1), "put a space after the colon, as in `lpi: 25`"),
        ("lpi:25\ndot:round", (1, 1), "put a space after the colon"),
        ("lpi: 30\ndot:round", (2, 1), "put a space after the colon"),
        ("lpi: 30\ndot:round\nangle: 20", (2, 1), "put a space after the colon"),
        ("lpi = 30", (1, 1), "write a colon and a space between the two"),
        ("lpi\uff1a30", (1, 1), "write a colon and a space between the two"),
        ("lpi: 30\ndot = round", (2, 1), "this line is no setting"),
        ("please make it 7 inch wide", (1, 1), "a ticket is a list of settings"),
        # tabs and lines that begin at the wrong place
        ("lpi:\t30", (1, 5), "a Tab stands here; use spaces"),
        ("\tlpi: 30", (1, 1), "a Tab stands here; use spaces"),
        ("lpi: 30\n   dot: round", (2, 7), "or the line begins farther in than the one above"),
        ("- lpi: 30\n- dot: round", (1, 1), "take the - at the start of the lines away"),
        ("art:\nfit: own", (2, 1), "did you mean art.fit, which belongs inside art?"),
        # keys by other names
        ("LPI: 30", (1, 1), "did you mean lpi?"),
        ("art.fit: own", (1, 1), "write art: {fit: …}"),
        ("width: 7 in", (1, 1), "write art: {fit: width 7 in}"),
        ("Contrast: 1.2", (1, 1), "write tone: {contrast: 1.2}"),
        # values
        ("dot: Round", (1, 1), "did you mean round?"),
        ("lpi: 45 lpi", (1, 1), "write the number alone: 45"),
        ("lpi: 32,5", (1, 1), "a decimal point is a full stop: 32.5"),
        (
            "art: {gap: 12 mm, 5 mm}",
            (1, 19),
            "a comma ends a setting here, and a decimal point is a full",
        ),
        ("lpi: “30”", (1, 1), "take the quotes away"),
        ("angle: 45°", (1, 1), "write the number alone: 45"),
        ("threshold: 50%", (1, 1), "write the number alone: 50"),
        ("copies: two", (1, 1), "copies must be a whole number from 1 to 100, not 'two'"),
        ('art: {fit: width 7"}', (1, 7), "did you mean width 7 in?"),
        ("art:\n  fit: 7”", (2, 3), "did you mean width 7 in?"),
        ("art:\n  fit: 7 inches", (2, 3), "did you mean width 7 in?"),
        ("art:\n  fit: height 7,5 in", (2, 3), "did you mean height 7.5 in?"),
        ("art:\n  fit: width 7", (2, 3), "say the unit as well, such as width 7 in"),
        ("art:\n  fit: 7", (2, 3), "say the unit as well, such as width 7 in"),
        # quotes and signs
        ("for: Class 4: Tuesday", (1, 13), "a text with a colon in it needs quotes"),
        (
            "for: Class #4",
            (1, 1),
            'for must be in quotes where it holds a #, as in for: "Class #4", for',
        ),
        ("for: @class", (1, 6), "put the text in quotes"),
        ('for: "Ann" and Bo', (1, 12), "put the quotes around all of it"),
        ("for: 'Ann", (1, 10), "the file ends inside quotes or brackets"),
        ("```\nlpi: 30\n```", (1, 1), "take it away"),
        # trials
        ("trial: maybe", (1, 1), "trial must be true, or a group of settings, with lists for lpi"),
        ("trial: {lpi: [25, fine]}", (1, 19), "trial.lpi must be a number from 5 to 200"),
        ("trial: {lpi: [25, 90]}", (1, 19), "trial.lpi must be 75 or less at 300 dpi"),
        ("trial: {lpy: [25]}", (1, 9), "did you mean trial.lpi?"),
        ("trial: {lpi: []}", (1, 9), "trial.lpi must be a list of 1 to 10 values"),
        ("trial: {dot: [rond]}", (1, 15), "did you mean round?"),
        ("trial: {detail: 50}", (1, 9), "trial.detail must be [from the left %, from the top %]"),
        ("patch: 7", (1, 1), "patch must be the name of a patch on the trial sheet, such as B2"),
    ],
)
def test_slips_get_a_sentence_that_helps(profile, text, place, says):
    with pytest.raises(Refused) as refused:
        read_ticket(text, profile=profile, file="poster.png.ticket.yaml")
    assert refused.value.reason is Reason.BAD_TICKET
    line, column = place
    start = f"The ticket poster.png.ticket.yaml, line {line}, column {column}: "
    assert refused.value.say.startswith(start)
    assert says in refused.value.say
    assert "more fault" not in refused.value.say


def test_a_number_sign_in_quotes_is_kept(profile):
    for text in ("for: 'Class #4'", 'for: "Class #4"', "for: Class#4"):
        _, ticket = read_ticket(text, profile=profile, file="t")
        assert ticket.for_whom in ("Class #4", "Class#4")
    _, ticket = read_ticket("for: Class 4 # the loud one", profile=profile, file="t")
    assert ticket.for_whom == "Class 4"


def test_a_trial_may_be_a_list_without_brackets(profile):
    _, ticket = read_ticket(
        "trial:\n  lpi: 25, 30, 35\n  dot: round, ellipse 0.6\n  contrast: [1, 1.0, 1.3]\n",
        profile=profile,
        file="t",
    )
    assert ticket.trial == Trial(
        (
            ("lpi", (25.0, 30.0, 35.0)),
            ("dot", (DotShape(Dot.ROUND), DotShape(Dot.ELLIPSE, ratio=0.6))),
            ("contrast", (1.0, 1.3)),
        )
    )


def test_a_ticket_in_utf16_as_plain_editors_save_it(profile, tmp_path):
    path = tmp_path / "poster.png.ticket.txt"
    path.write_bytes("lpi: 30\r\nfor: José\r\n".encode("utf-16"))
    changed, ticket = load_ticket(path, profile=profile)
    assert (changed.lpi, ticket.for_whom) == (30, "José")


@pytest.mark.parametrize("end", [".ticket.yaml", ".ticket.yml", ".ticket.txt", ".ticket.yaml.txt"])
def test_the_ending_of_a_ticket(end):
    assert ending_of("a.ticket.png" + end) == end
