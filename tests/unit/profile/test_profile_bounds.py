"""The bounds that the sentences name: each end is allowed, and what lies beyond it is not."""

from __future__ import annotations

from math import floor
from pathlib import Path

import pytest

from filmhand.errors import ProfileError, Refused
from filmhand.profile.read import load
from filmhand.profile.read.curve import curve_reader
from filmhand.profile.read.hints import key_hint, value_hint
from filmhand.profile.read.read_words import FileKind
from filmhand.profile.read.schema import reader_of
from filmhand.profile.read.sentences import nearest, sentence
from filmhand.profile.ticket.gang import goes_alone, read_gang, waits_for_gang
from filmhand.profile.ticket.ticket import ending_of, load_ticket, read_ticket

BOUNDS = [
    ("tone.endpoints", [0, 40], [40, 0], [-1, 0], [0, 41]),
    ("tone.hold", [0, 100], [49, 50], [-1, 50], [50, 101]),
    ("tone.hold", [0, 1], [99, 100], [50, 50], [50, 49]),
    ("tone.contrast", 0.2, 5, 0.19, 5.01),
    ("tone.midtone", -25, 25, -26, 26),
    ("tone.dropout", 0, 50, -1, 51),
    ("lpi", 5, 200, 4.9, 201),
    ("threshold", 1, 99, 0.9, 99.1),
    ("angle", 0, 180, -1, 181),
    ("limits.pages", 1, 10_000, 0, 10_001),
    ("limits.seconds", 1, 86_400, 0.9, 86_401),
    ("limits.megapixels", 0.001, 10_000, 0, 10_001),
    ("limits.megabytes", 0.001, 100_000, 0, 100_001),
    ("limits.memory", "64 MiB", "1024 GiB", "63 MiB", "1025 GiB"),
    ("verdict.ratio", 0, 20, -1, 20.5),
    ("verdict.line_resolution", 0, 2, -1, 2.1),
    ("verdict.levels", 0, 1000, -1, 1001),
    ("press.mesh_angle", 0, 90, -1, 91),
    ("press.film_gap", "0 um", "500 um", "501 um", "0.6 mm"),
    ("press.light_angle", 0, 60, -1, 61),
    ("press.ink_spread", "0 um", "0.5 mm", "501 um", 10),
    ("press.ink_passage", "0 um", "0.1 mm", "101 um", 10),
    ("art.gap", 0, "100 mm", "101 mm", 1),
    ("art.overlap", "5 mm", "100 mm", "4.9 mm", 0),
    ("art.repeat", "1 x 1", "50 x 50", "51 x 1", "1 x 51"),
    ("art.fit", "width 5 mm", "5 x 2000 mm", "height 4.9 mm", "2001 x 5 mm"),
    ("art.crop", {"left": "95 %"}, {"to": "1 x 20"}, {"left": "96 %"}, {"to": "21 x 1"}),
    ("art.crop", {"to": "20 x 1"}, {"to": "0.05 x 1"}, {"to": "0 x 0"}, {"to": "0 x 1"}),
    ("settle", "10 ms", "1 h", "9 ms", "61 min"),
    ("takeover", "1 s", "168 h", "900 ms", "169 h"),
    ("gang", "1 s", "168 h", "900 ms", "169 h"),
    ("dot", "ellipse 0.4", "ellipse 0.95", "ellipse 0.39", "ellipse 0.96"),
    ("dpi", 72, "4800 x 72", 71, "72 x 4801"),
    ("sheet", "10 x 2000 mm", "2000 x 10 mm", "9.9 x 2000 mm", "10 x 2001 mm"),
    ("workers", "dask://127.0.0.1:1", "dask+tls://[::1]:65535", "dask+tls://a:0", "dask+tls://a:65536"),
    ("verdict.moire", {"warn": 0, "fail": 1, "distance": "10 cm"}, {"warn": 1, "fail": 1},
     {"warn": -0.1, "fail": 1}, {"warn": 0, "fail": 1.1}),
]  # fmt: skip


@pytest.mark.parametrize(("key", "low", "high", "under", "over"), BOUNDS, ids=str)
def test_both_ends_are_allowed_and_no_more(
    key: str, low: object, high: object, under: object, over: object
) -> None:
    read = reader_of(tuple(key.split(".")))
    read(low)
    read(high)
    for beyond in (under, over):
        with pytest.raises(ValueError):
            read(beyond)


def test_a_gain_lies_between_nothing_and_25_points(good, read, faults) -> None:
    assert [read(f"{good}tone: {{gain: {gain}}}").tone.gain for gain in (0, 40)] == [0, 40]
    for gain in (-1, 40.5, "true"):
        ((_, _, key, message),) = faults(f"{good}tone: {{gain: {gain}}}")
        assert key == "tone.gain" and "a number from 0 to 40" in message
    ((_, _, _, message),) = faults(f"{good}tone: {{gain: [[10, 14], [50, 101], [90, 97]]}}")
    assert "such as [[10, 14], [50, 65], [90, 97]]" in message


def test_gangs_at_their_bounds() -> None:
    for most, gap in ((2, "0 mm"), (50, "100 mm")):
        read = read_gang({"wait": "1 s", "most": most, "gap": gap})
        assert read is not None and (read.most, f"{read.gap_mm:g} mm") == (most, gap)
    for wrong in ({"most": 1}, {"most": 51}, {"gap": "100.1 mm"}):
        with pytest.raises(ValueError, match="off, a time"):
            read_gang({"wait": "1 s"} | wrong)


@pytest.mark.parametrize(
    ("wishes", "why"),
    [
        ({"gang": False}, "says gang: false"),
        ({"gang": True}, ""),
        ({"gang": "no"}, "says gang: false"),
        ({"trial": True}, "asks for a trial sheet"),
        ({"trial": {}}, "asks for a trial sheet"),
        ({"trial": False}, ""),
        ({"trial": "off"}, ""),
        ({"trial": None}, ""),
        ({"copies": 2}, "asks for several copies of the sheet"),
        ({"copies": 1}, ""),
        ({"patch": "A1"}, "chooses a patch of a trial"),
        ({"art": None}, ""),
        ({"art": {"repeat": "off", "fit": "own"}}, ""),
        ({"art": {"fit": "page"}}, "lets it fill the sheet"),
        ({"art": {"repeat": "2 x 2"}}, "lays it on the sheet several times"),
    ],
)
def test_why_a_job_shares_no_sheet(wishes: dict[str, object], why: str) -> None:
    assert goes_alone(wishes) == (f"its ticket {why}" if why else "")


def test_a_ticket_with_a_fault_in_one_key_waits_for_nobody(tmp_path: Path) -> None:
    path = tmp_path / "a.ticket.yaml"
    path.write_text("lpi: 20\nlpi: 30\n")
    assert not waits_for_gang(path)


def test_a_curve_file_may_have_64_kib_and_no_more(tmp_path: Path) -> None:
    read, path = curve_reader(tmp_path), tmp_path / "press.csv"
    path.write_bytes(b"#" * 65_536)
    assert len(read("press.csv").text) == 65_536
    path.write_bytes(b"#" * 65_537)
    with pytest.raises(ValueError, match="over 64 KiB"):
        read("press.csv")
    path.write_bytes(b"\xff")
    with pytest.raises(ValueError, match="not UTF-8"):
        read("press.csv")
    for name, why in (
        ("a" * 300, "cannot be read: File name too long"),
        ("gone.csv", "not beside the profile"),
    ):
        with pytest.raises(ValueError, match=why):
            read(name)
    with pytest.raises(ValueError, match="cannot be read from here"):
        curve_reader(None)("press.csv")


@pytest.mark.parametrize(
    ("margin", "remains"),
    [("100 mm 95 mm 187 mm 105 mm", True), ("100 mm 95 mm 187.1 mm 105 mm", False)],
)
def test_ten_millimeters_of_a_sheet_must_remain(good, read, faults, margin, remains) -> None:
    """A4 is 210 x 297 mm (ISO 216); each case leaves 10 mm across and about 10 mm down."""
    text = good.replace("8.5 x 11 in", "a4").replace("0.25 in", margin)
    if remains:
        read(text)
        return
    ((_, _, key, message),) = faults(text)
    assert key == "margin"
    assert "of 210 x 297 mm (8.27 x 11.69 in), 10 x 9.9 mm (0.39 x 0.38 in) remain" in message


@pytest.mark.parametrize(
    "written", ["6 mm 5 mm, 0.4 cm 3 mm", "[6 mm, 5 mm, 4 mm, 3 mm]", " 6mm,5mm,4mm,3mm "]
)
def test_margins_go_around_from_the_top(good, read, written) -> None:
    margin = read(good.replace("0.25 in", written)).margin
    assert (margin.top, margin.right, margin.bottom, margin.left) == (6, 5, 4, 3)
    one = read(good).margin
    assert (one.top, one.right, one.bottom, one.left) == (6.35,) * 4


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("[6, 5, 4, 3]", "each with its unit"),
        ("[6 mm, 5 mm, 4 mm, 3]", "each with its unit"),
        ("[6 mm]", "or four (top, right, bottom, left)"),
        ("6 mm 5 mm", "or four (top, right, bottom, left)"),
        ("6 mm 5 mm 4 mm 3 mm 2 mm", "or four (top, right, bottom, left)"),
        ("wide", "one length such as 0.25 in"),
        ("6", "one length such as 0.25 in"),
    ],
)
def test_what_is_no_margin(good, faults, written, says) -> None:
    ((_, _, key, message),) = faults(good.replace("0.25 in", written))
    assert key == "margin" and says in message


@pytest.mark.parametrize(
    ("text", "fit"),
    [
        ("page", ("page", None)),
        ("own", ("own", None)),
        ("width 7 in", ("width", 177.8)),
        ("height 10 cm", ("height", 100)),
    ],
)
def test_fits(text: str, fit: tuple[str, float | None]) -> None:
    found = reader_of(("art", "fit"))(text)
    assert (found.kind, found.mm) == fit


@pytest.mark.parametrize("value", [7, None, True, "wide", "width 7", "width", ["own"]])
def test_what_is_no_fit(value: object) -> None:
    with pytest.raises(ValueError, match="page, own or a size such as width 7 in"):
        reader_of(("art", "fit"))(value)


@pytest.mark.parametrize(("dpi", "highest"), [("300 x 120", 30), ("120 x 300", 30), ("300", 75)])
def test_the_finest_screen_is_a_quarter_of_the_coarser_resolution(
    good, read, faults, dpi, highest
) -> None:
    text = good.replace("dpi: 300", f"dpi: {dpi}")
    assert read(text.replace("lpi: 25", f"lpi: {highest}")).lpi == highest
    ((_, _, key, message),) = faults(text.replace("lpi: 25", f"lpi: {highest + 0.5}"))
    assert key == "lpi" and f"lpi must be {highest} or less" in message


@pytest.mark.parametrize(
    ("art", "room"),
    [
        ("turn: never, fit: width SIZE mm", 200),
        ("turn: never, fit: height SIZE mm", 280),
        ("turn: auto, fit: width SIZE mm", 280),
        ("tile: auto, turn: never, fit: width SIZE mm", None),
    ],
)
def test_the_largest_art_is_what_the_margin_leaves(good, read, faults, art, room) -> None:
    text = good.replace("8.5 x 11 in", "a4").replace("0.25 in", "8 mm 4 mm 9 mm 6 mm")
    wish = text + "art: {" + art + "}\n"
    read(wish.replace("SIZE", str(room or 300)))
    if room is not None:
        ((_, _, key, message),) = faults(wish.replace("SIZE", str(room + 0.01)))
        assert (
            key == "art.fit"
            and f"of {room} mm ({floor(room / 0.254) / 100:g} in) or less" in message
        )


@pytest.mark.parametrize(
    ("stem", "says"),
    [
        ("a" * 100, None),
        ("a" * 101, "100 bytes or less"),
        ("\u00e9" * 51, "100 bytes or less"),
        ("-small", "becomes a folder"),
        ("small.", "becomes a folder"),
        ("small?", "becomes a folder"),
        ("class 4", None),
    ],
)
def test_names_of_profile_files(tmp_path: Path, good, stem: str, says: str | None) -> None:
    path = tmp_path / f"{stem}.yaml"
    path.write_text(good)
    if says is None:
        assert load.load_profile(path).name == stem
        return
    with pytest.raises(ProfileError, match=says):
        load.load_profile(path)


def test_two_files_of_one_name_are_told_and_others_are_no_profiles(tmp_path: Path, good) -> None:
    for name in ("Small.yaml", "small.yml", ".hidden.yaml", "~open.yaml", "notes.txt"):
        (tmp_path / name).write_text(good)
    profiles, faulty = load.load_profiles(tmp_path)
    assert list(profiles) == ["Small"]
    (fault,) = faulty[0].faults
    assert (len(faulty), fault.line, fault.column) == (1, 1, 1)
    assert "Small.yaml already gives the profile small" in fault.message
    assert load.load_profiles(tmp_path / "gone") == ({}, [])


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("copies: 100", None),
        ("copies: 101", "a whole number from 1 to 100"),
        ("copies: 0", "a whole number from 1 to 100"),
        (f"for: {'a' * 80}", None),
        (f"for: {'a' * 81}", "a name of up to 80 characters"),
        ("patch: B12", None),
        ("patch: B100", "the name of a patch"),
        ("trial: {lpi: [10, 11, 12, 13, 14, 15, 16, 17, 18, 19]}", None),
        ("trial: {lpi: [10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20]}", "a list of 1 to 10 values"),
        ("trial: {lpi: []}", "a list of 1 to 10 values"),
        ("trial: {lpi: [20, 75]}", None),
        ("trial: {lpi: [20, 75.5]}", "75 or less at 300 dpi"),
        ("trial: {detail: [0, 100]}", None),
        ("trial: {detail: [0, 101]}", "from the left %"),
        ("trial: {detail: [0]}", "from the left %"),
    ],
)
def test_bounds_of_a_ticket(good, read, written: str, says: str | None) -> None:
    profile = read(good)
    if says is None:
        read_ticket(written, profile=profile, file="t")
        return
    with pytest.raises(Refused) as caught:
        read_ticket(written, profile=profile, file="t")
    assert says in caught.value.say


def test_a_trial_keeps_different_values_in_their_order(good, read) -> None:
    _, ticket = read_ticket(
        "trial: {lpi: [30, 20, 30], dot: round, detail: [50, 30]}", profile=read(good), file="t"
    )
    assert ticket.trial is not None
    (lpi, values), (dot, dots) = ticket.trial.values
    assert (lpi, values, dot, len(dots)) == ("lpi", (30, 20), "dot", 1)
    assert ticket.trial.detail == (50, 30)


@pytest.mark.parametrize(("count", "told", "left"), [(21, 20, 0), (22, 20, 1), (23, 20, 2)])
def test_a_refusal_spells_out_twenty_faults_behind_the_first(
    good, read, count: int, told: int, left: int
) -> None:
    text = "".join(f"what{number}: 1\n" for number in range(count))
    with pytest.raises(Refused) as caught:
        read_ticket(text, profile=read(good), file="t")
    assert "line 1, column 1: what0 is not a known key" in caught.value.say
    assert f"(and {count - 1} more faults)" in caught.value.say
    assert caught.value.do.count("column 1: what") == told
    assert caught.value.do.endswith(f"and {left} more." if left else ".")
    assert ("and 1 more" in caught.value.do) is (left == 1)


def test_a_ticket_that_is_no_text_is_refused_under_its_name(good, read, tmp_path: Path) -> None:
    path = tmp_path / "a.png.ticket.yaml"
    path.write_bytes(b"lpi: 20\nfor: \xff\n")
    with pytest.raises(Refused, match=r"The ticket sub/a\.ticket, line 2, column 6: "):
        load_ticket(path, profile=read(good), file="sub/a.ticket")
    assert [ending_of(name) for name in ("notes.txt", "a.TICKET.yml")] == [
        "notes.txt", ".TICKET.yml",
    ]  # fmt: skip


def test_long_values_are_told_short() -> None:
    """Sixty characters are shown, of a longer text the first 57."""

    def said(value: object) -> str:
        return sentence(("threshold",), value, None, ValueError("a number"))

    assert f"'{'a' * 60}'" in said("a" * 60)
    assert f"'{'a' * 57}\u2026'" in said("a" * 61)
    assert "the list [1, 2, 3, 4, 5, 6, 7, 8]" in said([1, 2, 3, 4, 5, 6, 7, 8])
    assert "the list [1, 2, 3, 4, 5, 6, 7, 8, \u2026]" in said([1, 2, 3, 4, 5, 6, 7, 8, 9])
    assert "the list [[1], {\u2026}]" in said([[1], {"a": 1}])
    assert "not left empty" in said(None)
    assert "not a group of settings" in said({})


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("lip", "lpi"), ("lpy", "lpi"), ("lp", "lpi"), ("l-P_I", "lpi"), ("dpo", "dpi"),
        ("xyz", None), ("thresold", "threshold"), ("", None),
    ],
)  # fmt: skip
def test_the_nearest_known_word(word: str, meant: str | None) -> None:
    assert nearest(word, ("dpi", "lpi", "threshold")) == meant


@pytest.mark.parametrize(
    ("key", "value", "meant"),
    [
        ("margin", "6", "6 mm"),
        ("margin", "6 5 4 3", "6 mm, 5 mm, 4 mm, 3 mm"),
        ("margin", 0.25, "0.25 in"),  # nobody means a quarter of a millimeter
        ("margin", "0.25 1", "0.25 mm, 1 mm"),
        ("margin", 0, "0 mm"),
        ("art.gap", 5, "5 mm"),
        ("art.overlap", 10, "10 mm"),
        ("verdict.moire.distance", 2, "2 m"),
        ("verdict.gap.fail", 110, "110 um"),
        ("verdict.shadow_dot.warn", 310, "310 um"),
        ("press.film_gap", 20, "20 um"),
        ("press.ink_spread", 5, "5 um"),
        ("press.ink_passage", 15, "15 um"),
        ("mesh.thread", 80, "80 um"),
        ("mesh.opening", 149, "149 um"),
        ("mesh.thickness", 130, "130 um"),
        ("settle", 2, "2 s"),
        ("takeover", 15, "15 min"),
        ("gang", 10, "10 min"),
        ("keep.films", 30, "30 days"),
        ("keep.proofs", 30, "30 days"),
        ("keep.records", 30, "30 days"),
        ("keep.originals", 30, "30 days"),
        ("limits.memory", 2, "2 GiB"),
        ("sheet", "8.5 x 11", "8.5 x 11 in"),
        ("sheet", "60 x 40", "60 x 40 in"),
        ("sheet", "61 x 40", "61 x 40 mm"),
        ("sheet", "210x297", "210 x 297 mm"),
    ],
)
def test_a_number_without_its_unit_is_told_the_likely_one(
    key: str, value: object, meant: str
) -> None:
    assert value_hint(tuple(key.split(".")), value) == f"the unit is missing: {meant}"


@pytest.mark.parametrize(
    ("key", "value"), [("margin", "wide"), ("lpi", 25), ("margin", "6 mm"), ("sheet", "big")]
)
def test_no_unit_is_told_where_none_is_missing(key: str, value: object) -> None:
    assert value_hint((key,), value) is None


@pytest.mark.parametrize(
    ("path", "kind", "says"),
    [
        (("tone", "stretch"), "profile", "tone.stretch is now tone.endpoints"),
        (("limits", "beat"), "profile", "limits.beat is now limits.moire"),
        (("frequency",), "profile", "frequency is not a known key; did you mean lpi?"),
        (("Frequency",), "ticket", "Frequency is not a known key; did you mean lpi?"),
        (("resolution",), "ticket",
         "resolution is not a known key; that is dpi, which belongs in the profile"),
        (("quantity",), "profile",
         "quantity is not a known key; that is copies, which belongs in a ticket"),
        (("quantity",), "ticket", "quantity is not a known key; write copies: 2"),
        (("width",), "ticket", "width is not a known key; write art: {fit: width 7 in}"),
        (("strange",), "profile", None),
    ],
)  # fmt: skip
def test_a_key_by_another_name(path: tuple[str, ...], kind: str, says: str | None) -> None:
    known = {"profile": ("lpi", "dpi", "art"), "ticket": ("lpi", "copies", "art")}[kind]
    hint = key_hint(path, dict.fromkeys(known, ()), kind=FileKind(kind))
    assert (hint and hint.message) == says
