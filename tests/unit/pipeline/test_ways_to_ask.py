"""What is offered in place of a refusal is read back as what was tried, wherever it is written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.pipeline.verdict import remedies
from filmhand.pipeline.verdict.refusals import CheckFailed, refuse_on, where_it_passes
from filmhand.pipeline.verdict.verdict_words import OfferWord
from filmhand.pipeline.verdict.ways_to_ask import ProfileChange, how_to_ask, name_asking
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.profile.ticket.ticket import read_ticket, wished_by_name
from filmhand.request import JobRequest
from filmhand.sheet.layout import Box, Layout

TEXT = "dpi: 600\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 5 mm\n"
SHEETS = ("sheet: a4\n", "sheet: 8.5 x 11 in\n")
KINDS = ("smaller", "larger", "coarser", "angle", "ruling", "mesh", "hold")
ALL = Box(0, 0, 4960, 7015)


def profile_of(sheet: str, more: str = "") -> Profile:
    return read_profile(sheet + TEXT + more, name="p", file="p.yaml")


def failed(name: CheckName, profile: Profile) -> CheckFailed:
    check = Check(name, 90.0, 309.0, 113.0, Verdict.FAIL)
    layout = Layout(ALL, ALL, ALL, ALL, 0, (83.7, 120.0), 100.0)
    with pytest.raises(CheckFailed) as caught:
        refuse_on([check], profile, layout)
    return caught.value


def changes_of(kind: str, profile: Profile) -> Iterator[ProfileChange]:
    few, thin = failed(CheckName.ART_RESOLUTION, profile), failed(CheckName.NARROWEST_GAP, profile)
    fine = failed(CheckName.SMALLEST_DOT, profile)
    of_kind: dict[str, Callable[[], Iterable[ProfileChange]]] = {
        "smaller": lambda: remedies._smaller(few, profile),
        "larger": lambda: remedies._larger(thin, profile),
        "coarser": lambda: remedies._coarser(profile, from_lpi=21.9),
        "angle": lambda: [remedies._angle(17.5, replace(profile, angle=17.5))],
        "ruling": lambda: [remedies._ruling(33.5, replace(profile, lpi=33.5))],
        "mesh": lambda: remedies._meshes(profile),
        "hold": lambda: next(remedies.families(fine, profile)),
    }
    return iter(of_kind[kind]())


def asked_of(
    profile: Profile, name: str = "banner.gif", ticket: str | None = None, mask: bool = False
) -> WishedPage:
    """The page of art of that name, and beside it a ticket and a mask."""
    request = JobRequest(
        Path("art"),
        name,
        profile,
        Path("out"),
        Path("scratch"),
        ticket=None if ticket is None else Path("ticket.yaml"),
        mask=Path("mask") if mask else None,
    )
    changed, wishes = wished_by_name(name, profile=profile)
    if ticket is not None:
        changed, wishes = read_ticket(ticket, profile=changed, file="t.yaml", base=wishes)
    return WishedPage(request, changed, wishes, "")


def written_with(text: str, setting: str) -> str:
    """The YAML with the setting written where the offer says, in place of what it said before."""
    plain, _, group = setting.partition(" under ")
    if group:
        inner = plain.partition(":")[0]
        found = re.search(rf"^{group} {{(.*)}}$", text, re.M)
        assert found is not None
        kept = [one for one in found[1].split(", ") if not one.startswith(f"{inner}:")]
        return text.replace(found[0], f"{group} {{{', '.join([*kept, plain])}}}")
    key = plain.partition(":")[0]
    lines = [line for line in text.splitlines() if not line.startswith(f"{key}:")]
    return "\n".join([*lines, plain]) + "\n"


def same(one: Profile, other: Profile) -> bool:
    """Whether both make the same film."""

    def wishes(profile: Profile) -> Any:
        return profile.lpi, profile.angle, profile.art, profile.tone, profile.mesh

    return bool(wishes(one) == wishes(other))


@pytest.mark.parametrize("sheet", SHEETS, ids=["mm", "in"])
@pytest.mark.parametrize("more", ["", "art: {treat: tone}\ntone: {hold: off, contrast: 1.2}\n"])
@pytest.mark.parametrize("kind", KINDS)
def test_each_offer_is_understood_where_it_says(kind: str, more: str, sheet: str) -> None:
    profile = profile_of(sheet, more if more or kind != "hold" else "tone: {hold: off}\n")
    changes = list(changes_of(kind, profile))
    assert changes
    for change in changes:
        assert not same(change.profile, profile)
        offer = how_to_ask(change, asked_of(profile))
        setting = re.search(r"write (.*) in the profile\)$", offer)
        assert setting is not None
        told = read_profile(written_with(profile.text, setting[1]), name="p", file="p.yaml")
        assert same(told, change.profile)
        name = re.search(r"\(rename it “(.*?)”", offer)
        assert (name is None) == (kind in {"mesh", "hold"})
        if name is not None:
            told, _ = wished_by_name(name[1], profile=profile)
            assert same(told, change.profile)


@pytest.mark.parametrize("ticket", ["copies: 2\n", "lpi: 30\nart: {treat: tone, fit: own}\n"])
@pytest.mark.parametrize("kind", KINDS)
def test_with_a_ticket_the_offer_is_for_the_ticket(kind: str, ticket: str) -> None:
    page = asked_of(profile_of(SHEETS[0], "tone: {hold: off}\n"), ticket=ticket)
    change = next(iter(changes_of(kind, page.profile)))
    offer = how_to_ask(change, page)
    if kind == "mesh":
        assert offer.endswith("in the profile)")
        return
    setting = re.search(r"write (.*) in its ticket\)$", offer)
    assert setting is not None
    told, _ = read_ticket(
        written_with(ticket, setting[1]), profile=page.request.profile, file="t.yaml"
    )
    assert same(told, change.profile)


@pytest.mark.parametrize(
    ("name", "new"),
    [
        ("banner.gif", "banner [20 lpi].gif"),
        ("banner [7 in, 35 lpi, line].gif", "banner [7 in, line] [20 lpi].gif"),
        ("banner [35 lpi].gif", "banner [20 lpi].gif"),
        ("photo [1].tar.gz", "photo [1].tar [20 lpi].gz"),
        ("no ending", "no ending [20 lpi]"),
    ],
)
def test_the_new_name_keeps_what_else_is_asked(name: str, new: str) -> None:
    assert name_asking(name, ("lpi",), "20", "20 lpi") == new


def test_a_wish_in_the_name_goes_before_the_profile() -> None:
    page = asked_of(profile_of(SHEETS[0]), "banner [24 lpi].gif")
    change = next(remedies._coarser(page.profile, from_lpi=20.0))
    assert how_to_ask(change, page) == "screen it at 20 lpi (rename it “banner [20 lpi].gif”)"


def test_a_name_that_would_be_too_long_or_has_a_mask_is_left_alone() -> None:
    profile = profile_of(SHEETS[0])
    change = next(remedies._coarser(profile, from_lpi=20.0))
    by_profile = "screen it at 20 lpi (write lpi: 20 in the profile)"
    assert how_to_ask(change, asked_of(profile, "x" * 250 + ".gif")) == by_profile
    assert how_to_ask(change, asked_of(profile, mask=True)) == by_profile
    assert name_asking("x" * 242 + ".gif", ("lpi",), "20", "20 lpi") is not None
    assert name_asking("x" * 243 + ".gif", ("lpi",), "20", "20 lpi") is None
    assert name_asking("banner.gif", ("lpi",), "20", "20 beans") is None


def passes_at(page: WishedPage) -> str:
    """What a warning of too few pixels says of art of 100 x 150 mm."""
    told = Check(CheckName.ART_RESOLUTION, 30.0, 36.0, 25.0, Verdict.WARN)
    layout = Layout(ALL, ALL, ALL, ALL, 0, (100.0, 150.0), 100.0)
    return where_it_passes(told, page.profile, layout, page.request, page.ticket)


def is_smaller(profile: Profile) -> bool:
    fit, passes = profile.art.fit, 100 * 30 / 36
    return fit.kind == "width" and fit.mm == pytest.approx(passes, abs=1.0) and fit.mm <= passes


@pytest.mark.parametrize("sheet", SHEETS, ids=["mm", "in"])
@pytest.mark.parametrize("name", ["a.png", "a [24 lpi].png", "a [5 in, line].png", "b [1] c.png"])
def test_what_a_warning_asks_for_is_understood_in_the_name(name: str, sheet: str) -> None:
    page = asked_of(profile_of(sheet), name)
    smaller, coarser = (
        wished_by_name(new, profile=page.request.profile)[0]
        for new in re.findall(r"“(.*?)”", passes_at(page))
    )
    assert is_smaller(smaller)
    assert smaller.lpi == page.profile.lpi
    assert coarser.lpi == pytest.approx((page.profile.lpi or 0) * 30 / 36, abs=1.0)
    assert coarser.art == page.profile.art


@pytest.mark.parametrize("sheet", SHEETS, ids=["mm", "in"])
@pytest.mark.parametrize("ticket", ["copies: 2\n", "art: {treat: tone, fit: own}\nlpi: 24\n"])
def test_what_a_warning_asks_for_is_understood_in_the_ticket(ticket: str, sheet: str) -> None:
    page = asked_of(profile_of(sheet), ticket=ticket)
    found = re.search(r"write (.*) or (.*) in its ticket\.$", passes_at(page))
    assert found is not None
    smaller, coarser = (
        read_ticket(written_with(ticket, one), profile=page.request.profile, file="t.yaml")[0]
        for one in found.groups()
    )
    assert is_smaller(smaller)
    assert smaller.art.treat == page.profile.art.treat
    assert coarser.lpi == 20.0


@pytest.mark.parametrize("page", [("x" * 250 + ".gif", False), ("banner.gif", True)])
def test_where_a_name_cannot_ask_a_warning_only_says_where_it_passes(
    page: tuple[str, bool],
) -> None:
    name, mask = page
    said = passes_at(asked_of(profile_of(SHEETS[0]), name, mask=mask))
    assert said.endswith("at 83 x 125 mm (3.28 x 4.92 in) or 20 lpi.")


def test_all_ways_to_ask_are_tried_here() -> None:
    ways = {OfferWord.BY_NAME, OfferWord.BY_NAME_OR_PROFILE, OfferWord.BY_PROFILE,
            OfferWord.BY_TICKET}  # fmt: skip
    assert {row for row in OfferWord if row.startswith("{change}")} == ways
