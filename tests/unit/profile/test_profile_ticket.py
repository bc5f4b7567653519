"""Tickets: wishes for one job, and how a wrong one is refused."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import from_snapshot, load_profile, read_profile, to_snapshot
from filmhand.profile.terms import Fit, Treat
from filmhand.profile.ticket.ticket import Ticket, load_ticket, read_ticket
from filmhand.screen.dot_shapes import Dot, DotShape

PROFILE = """\
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
tone:
  contrast: 1.2
  midtone: 5
"""
LINE_PROFILE = """\
sheet: 8.5 x 11 in
dpi: 300
threshold: 50
mesh: 43-80
margin: 0.25 in
art: {treat: line}
"""


@pytest.fixture
def profile():
    return read_profile(PROFILE, name="p", file="p.yaml")


def refuse(text, profile):
    with pytest.raises(Refused) as caught:
        read_ticket(text, profile=profile, file="poster.png.ticket.yaml")
    assert caught.value.reason is Reason.BAD_TICKET
    return caught.value


def test_wishes_take_the_place_of_the_profiles_own(profile):
    changed, ticket = read_ticket(
        "lpi: 30\ndot: ellipse\nangle: 20\nthreshold: 40\n"
        "art: {treat: tone, fit: width 5 in}\n"
        "tone: {midtone: 0, gain: [[10, 12], [50, 60], [90, 95]]}\n"
        "marks: {steps: true}\nfilm: {mirror: yes}\n",
        profile=profile,
        file="t",
    )
    assert (changed.lpi, changed.dot, changed.angle, changed.threshold) == (
        30,
        DotShape(Dot.ELLIPSE),
        20,
        40,
    )
    assert (changed.art.treat, changed.art.fit) == (Treat.TONE, Fit("width", 127.0))
    assert (changed.tone.midtone, changed.tone.contrast) == (0, 1.2)
    assert changed.tone.gain.points[1] == (10, 12)
    assert (changed.marks.steps, changed.marks.label, changed.film.mirror) == (True, True, True)
    assert (changed.sheet, changed.mesh, changed.name) == (profile.sheet, profile.mesh, "p")
    assert (changed.sha256, changed.text) == (profile.sha256, profile.text)
    assert ticket == Ticket(raw=ticket.raw)
    assert ticket.raw["lpi"] == 30


def test_what_is_not_wished_stays(profile):
    changed, ticket = read_ticket("for: Ana\n", profile=profile, file="t")
    assert changed == profile
    assert ticket == Ticket(for_whom="Ana", raw={"for": "Ana"})


def test_the_profile_itself_is_left_alone(profile):
    before = to_snapshot(profile)
    read_ticket("tone: {midtone: 9}\nart: {fit: own}", profile=profile, file="t")
    assert to_snapshot(profile) == before


def test_a_profile_with_a_ticket_survives_the_trip(profile):
    changed, _ = read_ticket("lpi: 30\ntone: {gain: 12}\n", profile=profile, file="t")
    assert from_snapshot(json.loads(json.dumps(to_snapshot(changed)))) == changed
    assert changed != profile


def test_own_keys(profile):
    _, ticket = read_ticket("copies: 3\nfor: 4\nanyway: yes\n", profile=profile, file="t")
    assert (ticket.copies, ticket.for_whom, ticket.anyway) == (3, "4", True)
    _, ticket = read_ticket('for: "  class\\n 4b "\n', profile=profile, file="t")
    assert (ticket.copies, ticket.for_whom, ticket.anyway) == (1, "class 4b", False)


def test_empty_groups_wish_nothing(profile):
    changed, _ = read_ticket("tone:\nmarks:\ncopies: 2\n", profile=profile, file="t")
    assert changed == profile


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("lpi: fine", "line 1, column 1", "lpi must be a number from 5 to 200, not 'fine'"),
        ("# mine\nlpi: 80", "line 2, column 1", "lpi must be 75 or less at 300 dpi"),
        ("dot: rond", "line 1, column 1", "did you mean round?"),
        ("art:\n  fit: huge", "line 2, column 3", "art.fit must be page, own or a size"),
        ("art: {fit: width 12 in}", "line 1, column 7", "which is what the sheet has"),
        ("art: {tilt: 1}", "line 1, column 7", "art.tilt is not a known key"),
        ("art: 5", "line 1, column 1", "art must be a group of settings"),
        ("tone: {gain: press.csv}", "line 1, column 8", "a ticket cannot name a curve file"),
        ("tone: {gain: 41}", "line 1, column 8", "tone.gain must be a number from 0 to 40"),
        ("copies: 0", "line 1, column 1", "copies must be a whole number from 1 to 100, not 0"),
        ("copies: 101", "line 1, column 1", "from 1 to 100, not 101"),
        ("anyway: perhaps", "line 1, column 1", "anyway must be true or false"),
        ("for:", "line 1, column 1", "for must be a name of up to 80 characters, not left empty"),
        ("for: [a]", "line 1, column 1", "for must be a name of up to 80 characters"),
        (f"for: {'x' * 81}", "line 1, column 1", "for must be a name of up to 80 characters"),
        ("copys: 2", "line 1, column 1", "did you mean copies?"),
        ("mirror: true", "line 1, column 1", "did you mean film.mirror, which belongs inside"),
        ("zzzz: 2", "line 1, column 1", "in a ticket stand lpi, dot, angle"),
        ("", "line 1, column 1", "the ticket is empty"),
        ("# later", "line 1, column 1", "the ticket is empty"),
        ("{}", "line 1, column 1", "the ticket is empty"),
        ("two copies please", "line 1, column 1", "a ticket is a list of settings"),
        ("lpi: 30\nlpi: 35", "line 2, column 1", "lpi is given twice (first on line 1)"),
        ("art:\n\tfit: own", "line 2, column 1", "a Tab stands here"),
    ],
)  # fmt: skip
def test_a_wrong_ticket_names_line_and_key(profile, text, place, says):
    refused = refuse(text, profile)
    assert refused.say.startswith(f"The ticket poster.png.ticket.yaml, {place}: ")
    assert says in refused.say
    assert "more fault" not in refused.say
    assert refused.do.startswith("Correct the ticket")


@pytest.mark.parametrize("key", ["sheet", "dpi", "mesh", "margin", "frame", "print", "press"])
def test_sheet_printer_and_mesh_cannot_be_wished(profile, key):
    refused = refuse(f"lpi: 30\n{key}: a4\n", profile)
    assert (
        "line 2, column 1: a ticket cannot change the sheet, the printer or the mesh" in refused.say
    )
    assert f"so {key} belongs in the profile; a ticket may set lpi, dot," in refused.say


@pytest.mark.parametrize(
    "key",
    ["write", "settle", "takeover", "folder", "workers", "language", "keep", "approve", "budget",
     "notify", "limits", "verdict"],
)  # fmt: skip
def test_what_goes_for_all_jobs_cannot_be_wished(profile, key):
    refused = refuse(f"lpi: 30\n{key}: a4\n", profile)
    told = f"line 2, column 1: {key} goes for all jobs of a profile and belongs there; a ticket may"
    assert told in refused.say


def test_all_faults_are_told(profile):
    refused = refuse("lpi: 80\nsheet: a4\ncopies: x\nart:\n  tret: tone\n", profile)
    assert "line 1, column 1: lpi must be 75 or less" in refused.say
    assert refused.say.endswith("(and 3 more faults).")
    for place in ("line 2, column 1", "line 3, column 1", "line 5, column 3"):
        assert place in refused.do


def test_a_flood_of_faults_is_counted(profile):
    refused = refuse("".join(f"zz{i}: 1\n" for i in range(100)), profile)
    assert refused.say.endswith("(and 99 more faults).")
    assert refused.do.endswith("; and 79 more.")
    assert refused.do.count("line ") == 20


def test_a_screen_that_the_profile_lacks_must_come_from_the_ticket():
    profile = read_profile(LINE_PROFILE, name="p", file="p.yaml")
    refused = refuse("# x\nart:\n  treat: tone\n", profile)
    assert "line 3, column 3: lpi is missing" in refused.say
    assert "the profile gives none, so the ticket must" in refused.say
    changed, _ = read_ticket("art: {treat: tone}\nlpi: 25\ndot: line\n", profile=profile, file="t")
    assert (changed.lpi, changed.dot) == (25, DotShape(Dot.LINE))


def test_a_curve_file_of_the_profile_stays_in_force(tmp_path):
    (tmp_path / "press.csv").write_text("10, 14\n50, 65\n90, 97\n")
    (tmp_path / "p.yaml").write_text(PROFILE + "  gain: press.csv\n")
    profile = load_profile(tmp_path / "p.yaml")
    (tmp_path / "press.csv").unlink()
    changed, _ = read_ticket("tone: {midtone: 0}", profile=profile, file="t")
    assert changed.tone.gain == profile.tone.gain
    changed, _ = read_ticket("tone: {gain: 3}", profile=profile, file="t")
    assert changed.tone.gain == 3


def test_a_ticket_file(profile, tmp_path):
    path = tmp_path / "poster.png.ticket.yaml"
    path.write_bytes(b"\xef\xbb\xbffor: Jos\xc3\xa9\r\n")
    assert load_ticket(path, profile=profile)[1].for_whom == "José"
    path.write_bytes(b"lpi: 30\nfor: Jos\xe9\n")
    with pytest.raises(Refused, match=r"poster\.png\.ticket\.yaml, line 2, column 9: .*UTF-8"):
        load_ticket(path, profile=profile)
    path.write_bytes(b"#" * 70_000)
    with pytest.raises(Refused, match=r"^The ticket mine, .*64 KiB or less"):
        load_ticket(path, profile=profile, file="mine")


_KEYS = st.sampled_from(
    ["lpi", "dot", "angle", "threshold", "art", "tone", "marks", "film", "copies", "for", "anyway",
     "repair", "sheet", "treat", "fit", "gain", "hold", "label", "<<"]
)  # fmt: skip
_VALUES = st.one_of(
    st.text(max_size=10), st.integers(), st.floats(), st.booleans(), st.none(),
    st.sampled_from(["tone", "line", "round", "page", "off"]),
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(
    st.dictionaries(
        _KEYS,
        st.recursive(
            _VALUES,
            lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_KEYS, inner, max_size=3),
            max_leaves=5,
        ),
        max_size=4,
    ),
    st.sampled_from([PROFILE, LINE_PROFILE]),
)
def test_any_ticket_is_read_or_refused(tree, profile_text):
    profile = read_profile(profile_text, name="p", file="p.yaml")
    try:
        changed, _ = read_ticket(json.dumps(tree), profile=profile, file="t")
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET
        assert "line " in refused.say
    else:
        assert (changed.sheet, changed.dpi, changed.mesh) == (
            profile.sheet,
            profile.dpi,
            profile.mesh,
        )


@settings(max_examples=200, deadline=None)
@given(st.text("lpi: 30\nartf-[]{}\"'&*!#", max_size=40))
def test_any_text_is_read_or_refused(text):
    profile = read_profile(PROFILE, name="p", file="p.yaml")
    try:
        read_ticket(text, profile=profile, file="t")
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET


@pytest.mark.parametrize(
    "value", ['"\\0"', "x" * 4097, "*x", "&x 30"], ids=["control", "long", "alias", "anchor"]
)
def test_a_value_that_cannot_be_read_is_told_of_once(profile, value):
    refused = refuse(f"lpi: {value}\n", profile)
    assert "more fault" not in refused.say
    assert "lpi must be a number" not in refused.say + refused.do
