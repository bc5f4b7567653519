"""Nothing that is told of a profile is English by itself: all of it comes from rows of tables."""

from __future__ import annotations

import gettext
import re

import pytest

from filmhand import language
from filmhand.errors import ProfileError, Refused
from filmhand.film.formats import Format
from filmhand.mesh.table import MESH_KEYS
from filmhand.profile.inks import InkChoice, Separate
from filmhand.profile.notifying import NewsKind
from filmhand.profile.read.load import faults_of_name, read_profile
from filmhand.profile.read.schema import KEYS
from filmhand.profile.terms import Channel, OnMoire, OnScreened, Place, Treat, Turn
from filmhand.profile.ticket.ticket import notes_of, read_ticket, wished_by_name
from filmhand.screen.dot_shapes import Dot

WRITTEN = f"""
    {KEYS} {MESH_KEYS} left top right bottom to at unencrypted printer media tray copies certificate
    scale day person mail server sender password hook service about fail warn distance for anyway
    trial patch pages detail page own width height off auto fill forever true yaml none es en
    mm um min days GiB in {" ".join((*Format, *NewsKind, *Channel, *OnMoire, *OnScreened))}
    {" ".join((*Place, *Treat, *Turn, *Dot, *InkChoice, *Separate))} name color ink choke opacity
"""
"""What people write in a profile or a ticket, which is the same in every language."""
GIVEN = ["odd", "", "[odd, odd]", "{odd: 1}", "-1", "99999999", "{fail: 9, warn: 1}", "!!odd 1"]
PATHS = [(key, inner) for key, keys in KEYS.items() for inner in (keys or ("",))]


class Hidden(gettext.NullTranslations):
    """A language whose letters are dots: what is left to read comes from no row."""

    def gettext(self, message: str) -> str:
        return re.sub(r"\{\{|\}\}|\{\w+\}|[A-Za-z]", _dotted, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


def _dotted(found: re.Match[str]) -> str:
    return found[0] if found[0][0] in "{}" else "·"


@pytest.fixture(autouse=True)
def hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(language, "_catalog", lambda _code: Hidden())


def strange(told: str, text: str) -> set[str]:
    """The words that are told, and are neither those of the text nor of any profile."""
    words, known = (set(re.findall(r"[A-Za-z]{2,}", one)) for one in (told, f"{text} {WRITTEN}"))
    return words - known


@pytest.mark.parametrize(("key", "inner"), PATHS)
def test_what_is_told_of_each_setting(good: str, key: str, inner: str) -> None:
    others = "\n".join(line for line in good.splitlines() if not line.startswith(f"{key}:"))
    for given in GIVEN:
        written = f"{key}: {{{inner}: {given}}}" if inner else f"{key}: {given}"
        try:
            read_profile(f"{others}\n{written}\n", name="p", file="")
        except ProfileError as error:
            assert not strange(str(error), written)


@pytest.mark.parametrize(
    "text",
    [
        "", "- lpi: 25", "lpi:25", "lpi = 25", "lpi: 25\n---\nlpi: 30", "lpi: 25\nlpi: 30",
        "? [lpi]\n: 1", "25: 1", "true: 1", "&lpi lpi: 25", "lpi: &lpi 25\ndpi: *lpi", "\tlpi: 25",
        "lpi: 25: 30", "lpi: 'a' a", "lpi: [25", "lpi: '25", "lpi: @", "<<: 1", 'lpi: "\\x01"',
        'lpi: "\\UFFFFFFFF"', "lpi: " + "[" * 9 + "]" * 9, "lpi: " + "1" * 5000, "lpi: '25'",
        "lpi: 2,5", "lpi: 25 lpi", "paper: 1", "screen: 1", "lpl: 25", "art: {lpl: 25}",
        "fit: page", "art.fit: page", "tone: {lift: 1}", "verdict: {beat_cells: 1}",
        "tone: {gain: [[1, 2]]}", "tone: {gain: lpi.yaml}", "sheet: 13x19", "art: {fit: 7}",
        "dot: spot sin(x, y)", "dot: spot x", "dot: spot 1", "dot: spot 1/x", "dot: oval",
    ],
)  # fmt: skip
def test_what_is_told_of_a_text(text: str) -> None:
    with pytest.raises(ProfileError) as caught:
        read_profile(text, name="p", file="")
    assert not strange(str(caught.value), text)


@pytest.mark.parametrize("stem", ["status", "a?", "x" * 101])
def test_what_is_told_of_the_name_of_a_file(stem: str) -> None:
    assert not strange(" ".join(faults_of_name(stem)), stem)


@pytest.mark.parametrize(
    "text",
    ["", "lpi: 1\ndpi: 1\nmesh: 1", "trial: odd", "trial: {odd: 1}", "trial: {lpi: []}",
     "trial: {detail: 1}", "patch: odd", "pages: odd", "for: a #4", "for: []", "copies: odd",
     "gang: odd", "tone: {gain: odd}", "art: {fit: width 20 in}"],
)  # fmt: skip
def test_what_is_told_of_a_ticket(good: str, text: str) -> None:
    profile = read_profile(good, name="p", file="")
    with pytest.raises(Refused) as caught:
        read_ticket(text, profile=profile, file="")
    assert not strange(str(caught.value), text)


@pytest.mark.parametrize(
    "inside",
    ["7 inn", "7in, odd", "7 in, 9 in", "line dots round", "80 lpi", "370 deg", "20 in", "7 dpi"],
)
def test_what_is_told_of_a_wish(good: str, inside: str) -> None:
    profile = read_profile(good, name="p", file="")
    with pytest.raises(Refused) as caught:
        wished_by_name(f"[{inside}].png", profile=profile)
    assert not strange(str(caught.value), f"{inside} png")


def test_what_the_record_tells_of_wishes(good: str) -> None:
    names = ["7 in", "9 in high", "A4", "own size", "full page", "line", "tone", "mirror", "trial",
             "negative", "positive", "30 lpi", "20 deg", "threshold 40", "round dots", "x3",
             "pages 2-5", "patch B2"]  # fmt: skip
    profile = read_profile(good, name="p", file="")
    for name in names:
        (note,) = notes_of(wished_by_name(f"[{name}].png", profile=profile)[1])
        assert not strange(note, "")
