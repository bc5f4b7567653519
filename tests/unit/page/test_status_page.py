from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote

import pytest

from filmhand.page.page_profiles import KEPT
from filmhand.page.status_page import status_page
from filmhand.page.swatch import swatch_color

EVIL = "<script>alert(1)</script>\"'&\u202e\x1b.png"


def status(**changes: Any) -> dict[str, Any]:
    base: dict[str, Any] = {
        "station": "/srv/shop",
        "station_name": "shop",
        "at": "2026-03-01T10:00:00Z",
        "running": True,
        "faults": [],
        "counts": {"waiting": 1, "working": 1, "made": 1, "refused": 1},
        "profiles": [
            {
                "name": "small",
                "link": "small",
                "state": "working",
                "paused": None,
                "waiting": [{"name": "w.png", "why": "it is settling"}],
                "waiting_count": 1,
                "in_work": [{"name": "busy.png", "seconds": 3.2}],
                "left_alone": [{"name": "pipe", "why": "a pipe, not a file"}],
            }
        ],
        "made": [made("m.png", "m")],
        "refused": [refused("r.png")],
    }
    return base | changes


def made(name: str, stem: str, folder: str = "", profile: str = "small") -> dict[str, Any]:
    film = {"folder": folder, "stem": stem, "files": [f"{stem}.pdf"]}
    entry = {"job": "j", "at": "2026-03-01T10:00:00Z", "profile": profile, "name": name}
    return entry | {"films": [film], "original": f"{folder}/{name}".lstrip("/")}


INKS = [("red", [45.0, 60.0, 40.0]), ("dark blue", [32.0, 10.0, -45.0])]


def set_made(name: str, *stems: str, folder: str = "") -> dict[str, Any]:
    """A job of sets in two inks, with these stems."""
    films = [
        {
            "folder": folder,
            "stem": f"{stem}-{k}-{ink.replace(' ', '-')}",
            "files": [f"{stem}-{k}.pdf"],
            "set": {"id": stem, "k": k, "of": 2, "ink": ink, "color": color, "stem": stem},
        }
        for stem in stems
        for k, (ink, color) in enumerate(INKS, 1)
    ]
    return made(name, "", folder) | {"films": films}


def refused(name: str) -> dict[str, Any]:
    return {
        "job": "k",
        "at": "2026-03-01T10:00:00Z",
        "profile": "small",
        "name": name,
        "kept": name,
        "say": "It is too small.",
        "do": "Send a larger one.",
        "found": {"value": 19, "unit": "ppi"},
        "needed": {"value": 25, "unit": "ppi"},
    }


class Page(HTMLParser):
    """What a browser would see: tags with attributes, text, and the open tags of each."""

    VOID = ("meta", "img", "input")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.open: list[str] = []
        self.scripts: list[str] = []
        self.styles: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            if self.tags[-1][1].get("type") is None:
                self.scripts.append(data)
        elif self.open and self.open[-1] == "style":
            self.styles.append(data)
        else:
            self.text += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def test_it_tells_what_waits_what_was_made_and_what_was_refused() -> None:
    page = Page(status_page(status()))
    for words in (
        "w.png", "it is settling", "busy.png", "m.png", "m.pdf", "r.png", "It is too small.",
        "Send a larger one.", "Found: 19 pixels per inch.", "Needed: 25 pixels per inch.",
        "pipe", "a pipe, not a file", "2026-03-01 10:00 UTC",
    ):  # fmt: skip
        assert words in page.text, words


def test_the_title_begins_with_the_counts() -> None:
    assert "<title>2 to do, 1 made, 1 refused - shop</title>" in status_page(status())


def test_proofs_are_relative_links() -> None:
    page = Page(status_page(status(made=[made("a.png", "a b#1", "class 4/100%")])))
    (picture,) = page.all("img")
    assert picture["src"] == "small/proofs/class%204/100%25/a%20b%231.jpg"
    assert picture["alt"] == "Proof of a b#1"
    assert picture["src"] in [one["href"] for one in page.all("a")]


def test_a_folder_elsewhere_has_no_pictures() -> None:
    profiles = [status()["profiles"][0] | {"link": None}]
    page = Page(status_page(status(profiles=profiles)))
    assert page.all("img") == []
    assert "m.pdf" in page.text


def test_names_from_strangers_are_only_text() -> None:
    entry = made(EVIL, EVIL, EVIL)
    evil = status(
        station_name=EVIL,
        faults=[EVIL],
        made=[entry],
        refused=[refused(EVIL) | {"say": EVIL, "do": EVIL, "found": {"value": EVIL, "unit": EVIL}}],
        profiles=[
            {
                "name": "small",
                "link": "small",
                "state": "paused",
                "paused": EVIL,
                "waiting": [{"name": EVIL, "why": EVIL}],
                "waiting_count": 1,
                "in_work": [{"name": EVIL, "seconds": 3.2}],
                "left_alone": [{"name": EVIL, "why": EVIL}],
            }
        ],
    )
    text = status_page(evil)
    page = Page(text)
    assert len(page.scripts) == len(Page(status_page(status())).scripts) == 1
    assert "alert(1)" not in page.scripts[0]
    assert "\u202e" not in text
    assert "\x1b" not in text
    assert {tag for tag, _ in page.tags} <= {
        "html", "head", "meta", "title", "style", "body", "header", "main", "h1", "h2", "h3", "p",
        "span", "time", "button", "ul", "ol", "li", "b", "section", "div", "form", "fieldset",
        "legend", "label", "input", "details", "summary", "progress", "bdi", "a", "img", "script",
    }  # fmt: skip
    assert not any(key.startswith("on") for _, attributes in page.tags for key in attributes)


def test_the_policy_lets_in_nothing_but_the_pages_own_script_and_style() -> None:
    page = Page(status_page(status()))
    (policy,) = [
        one["content"] or ""
        for one in page.all("meta")
        if one.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    for kind, text in (("script-src", page.scripts[0]), ("style-src", page.styles[0])):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert rules[kind] == f"'sha256-{digest}'"
    # No inline style attributes, which the policy would not let through.
    assert not any("style" in attributes for _, attributes in page.tags)


def test_nothing_comes_from_outside_and_nothing_refreshes_by_itself_for_good() -> None:
    text = status_page(status())
    assert not re.search(r"(https?:)?//[a-z]", text.replace("// ", ""))
    assert "refresh" not in text.lower()
    assert '<button id="pause"' in text


def test_empty_parts_say_so() -> None:
    zero = dict.fromkeys(("waiting", "working", "made", "refused"), 0)
    page = Page(status_page(status(profiles=[], made=[], refused=[], counts=zero, running=False)))
    assert "not running" in page.text
    assert "Nothing yet." in page.text
    assert "Nothing was refused" in page.text


def test_a_film_with_a_warning_says_which_and_has_no_clean_tick() -> None:
    entry = made("m.png", "m")
    clean = status_page(status(made=[entry], refused=[]))
    assert "\u2713" in Page(clean).text and "\u26a0" not in Page(clean).text
    entry["films"][0]["warnings"] = ["Some dots may print unevenly."]
    warned = Page(status_page(status(made=[entry], refused=[])))
    assert "\u2713" not in warned.text
    assert "with a warning" in warned.text and "Some dots may print unevenly." in warned.text
    (item,) = [one for one in warned.all("li") if one.get("data-kind") == "made warned"]
    assert item["data-profile"] == "small"


def test_what_one_must_know_of_a_film_stands_there_and_is_no_warning() -> None:
    entry = made("m.png", "m")
    entry["films"][0]["reminders"] = ["This art has 2 colors beside its ground."]
    page = Page(status_page(status(made=[entry], refused=[])))
    assert "This art has 2 colors beside its ground." in page.text
    assert "\u2713" in page.text and "\u26a0" not in page.text


def test_each_entry_leads_to_all_that_there_is_of_it() -> None:
    page = Page(status_page(status(made=[made("m.png", "m", "class 4")])))
    assert {str(one["href"]) for one in page.all("a")} == {
        "small/positives/class%204/m.pdf",
        "small/proofs/class%204/m.jpg",
        "small/records/class%204/m.json",
        "small/originals/class%204/m.png",
        "small/rejected/r.png",
        "small/rejected/r.png.why.txt",
        "small/drop",
    }


def test_a_set_is_one_entry_with_its_films_and_inks_inside() -> None:
    page = Page(status_page(status(made=[set_made("m.png", "m", folder="class 4")], refused=[])))
    assert len([one for one in page.all("li") if one.get("data-kind") == "made"]) == 1
    assert "a set of 2 films" in page.text
    assert "1 of 2: red" in page.text and "2 of 2: dark blue" in page.text
    proofs = [f"small/proofs/class%204/m{end}.jpg" for end in ("", "-1-red", "-2-dark-blue")]
    assert [one["src"] for one in page.all("img")] == proofs
    links = [one["href"] for one in page.all("a")]
    assert set(proofs) < set(links) and links.count(proofs[0]) == 2
    assert {link for link in links if "/records/" in str(link)} == {
        "small/records/class%204/m-1-red.json", "small/records/class%204/m-2-dark-blue.json",
    }  # fmt: skip


def test_the_color_of_an_ink_is_seen_and_said() -> None:
    page = Page(status_page(status(made=[set_made("m.png", "m")])))
    colors = ["#" + bytes(swatch_color(color)).hex() for _, color in INKS]
    assert [one["fill"] for one in page.all("rect")] == colors
    assert [one["aria-label"] for one in page.all("svg")] == [
        f"color of the ink, {color}" for color in colors
    ]
    assert not [one for one in page.all("svg") + page.all("rect") if "style" in one]


def test_sets_of_several_pages_are_told_apart_in_one_entry() -> None:
    page = Page(status_page(status(made=[set_made("m.pdf", "m-p01", "m-p02")])))
    assert page.text.count("a set of 2 films") == 2
    assert "m-p01" in page.text and "m-p02" in page.text
    links = [one["href"] for one in page.all("a")]
    assert {"small/proofs/m-p01.jpg", "small/proofs/m-p02.jpg"} < set(links)


def test_the_inks_of_a_held_set_are_told() -> None:
    held = {"job": "h", "name": "h.png", "film": "h", "for": "", "why": "it waits", "until": "x",
            "at": "2026-03-01T10:00:00Z", "proof": "h.jpg"}  # fmt: skip
    inks = [film["set"] for film in set_made("h.png", "h")["films"]]
    (profile,) = status()["profiles"]
    page = Page(status_page(status(profiles=[profile | {"held": [held | {"inks": inks}]}])))
    assert "a set of 2 films" in page.text and "2 of 2: dark blue" in page.text
    assert "small/held/h.jpg" in [one["href"] for one in page.all("a")]


def test_a_warning_of_one_film_of_a_set_names_its_ink() -> None:
    entry = set_made("m.png", "m")
    entry["films"][0]["warnings"] = ["Dots are small.", "The mesh is coarse."]
    entry["films"][1]["warnings"] = ["The mesh is coarse.", "Bands may show."]
    text = Page(status_page(status(made=[entry]))).text
    assert "red: Dots are small." in text and "dark blue: Bands may show." in text
    assert text.count("The mesh is coarse.") == 1
    assert "red, dark blue: " not in text


def test_a_warning_of_one_ink_on_several_pages_names_it_once() -> None:
    entry = set_made("m.pdf", "m-p01", "m-p02")
    for film in entry["films"]:
        if film["set"]["ink"] == "red":
            film["warnings"] = ["Dots are small."]
    text = Page(status_page(status(made=[entry]))).text
    assert "red: Dots are small." in text and "red, red" not in text


def test_an_ink_of_a_stranger_is_only_text() -> None:
    entry = set_made("m.png", "m")
    entry["films"][0]["set"]["ink"] = EVIL
    page = Page(status_page(status(made=[entry])))
    assert len(page.all("script")) == len(Page(status_page(status())).all("script"))


def test_a_refusal_that_was_made_after_all_says_so() -> None:
    said = "A film of it was made after all."
    assert said not in Page(status_page(status())).text
    after = status_page(status(refused=[refused("r.png") | {"after_all": True}]))
    assert said in Page(after).text


@pytest.mark.parametrize("since", ["after_all", "tried_again"])
def test_a_refusal_of_art_that_has_come_again_is_not_to_be_looked_at(since: str) -> None:
    one = refused("r.png")
    assert "data-refusal" in status_page(status(refused=[one]))
    again = status_page(status(refused=[one | {since: True}]))
    assert "data-refusal" not in again
    assert "Nothing to look at" in Page(again).text or "r.png" in Page(again).text


def test_what_happened_is_in_the_order_of_time_whatever_it_is() -> None:
    many = [
        one | {"at": f"2026-03-0{day}T10:00:00Z"}
        for day, one in enumerate([made("m1", "a"), refused("r2"), made("m3", "b")], 1)
    ]
    text = Page(status_page(status(made=[many[2], many[0]], refused=[many[1]]))).text.partition(
        "newest first"
    )[2]
    assert text.index("m3") < text.index("r2") < text.index("m1")


def test_what_waits_stands_in_order_with_when_it_is_about_to_be_made() -> None:
    waiting = [{"name": f"w{n}.png", "why": "it is next", "in_s": 40.0 * (n + 1)} for n in range(3)]
    profile = status()["profiles"][0] | {"waiting": waiting, "waiting_count": 3, "usual_s": 40.0}
    text = Page(status_page(status(profiles=[profile]))).text
    assert "in about 40 s" in text and "in about 80 s" in text and "in about 2 min" in text
    assert text.index("w0.png") < text.index("w1.png") < text.index("w2.png")


def test_other_hosts_are_named() -> None:
    hosts = [{"name": "shop-0011aabb", "silent_s": 4.2, "in_hand": 3}]
    profile = status()["profiles"][0] | {"hosts": hosts}
    assert (
        "shop-0011aabb, heard from 4 s ago, 3 in hand"
        in Page(status_page(status(profiles=[profile]))).text
    )


def test_words_for_the_script_cannot_end_their_element() -> None:
    text = status_page(status())
    assert text.count("</script>") == text.count("<script") == 2


@pytest.mark.parametrize("part", ["made", "refused", "waiting"])
def test_the_last_200_are_kept(part: str) -> None:
    many = [made(f"a{n}.png", f"a{n}") for n in range(KEPT + 50)]
    if part == "refused":
        many = [refused(f"a{n}.png") for n in range(KEPT + 50)]
    changes: dict[str, Any] = {part: many}
    if part == "waiting":
        waiting = [{"name": f"a{n}.png", "why": "it is next"} for n in range(KEPT + 50)]
        changes = {
            "profiles": [status()["profiles"][0] | {"waiting": waiting, "waiting_count": 250}]
        }
    page = Page(status_page(status(**changes)))
    assert "a150.png" in page.text
    assert f"a{KEPT + 20}.png" not in page.text
    assert page.all("details")


@pytest.mark.parametrize("stem", [EVIL, 'x" onerror="alert(1)', "x' onerror='alert(1)", "a&amp;b"])
def test_a_name_cannot_end_the_attribute_that_it_stands_in(stem: str) -> None:
    page = Page(status_page(status(made=[made("m.png", stem, 'a"b&c', profile="small")])))
    (picture,) = [attributes for tag, attributes in page.tags if tag == "img"]
    assert set(picture) == {"src", "alt", "loading", "class", "width", "height"}
    shown = "".join(c if c.isprintable() else "\ufffd" for c in stem)
    assert picture["alt"] == f"Proof of {shown}"
    assert picture["src"] == f"small/proofs/a%22b%26c/{quote(stem)}.jpg"
    assert not set("<>\"'& ") & set(str(picture["src"]))


def test_names_that_are_no_text_are_linked_by_their_bytes() -> None:
    entry = made("m.png", "m")
    entry["films"][0]["files"] = ["a\udcff.pdf", "b\ud800.pdf"]
    addresses = {str(one["href"]) for one in Page(status_page(status(made=[entry]))).all("a")}
    assert {"small/positives/a%FF.pdf", "small/positives/b%3F.pdf"} <= addresses
