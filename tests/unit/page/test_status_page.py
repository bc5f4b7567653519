from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote

import pytest

from filmhand.page.status_page import KEPT, status_page

EVIL = "<script>alert(1)</script>\"'&\u202e\x1b.png"


def status(**changes: Any) -> dict[str, Any]:
    base: dict[str, Any] = {
        "station_name": "shop",
        "at": "2026-03-01T10:00:00Z",
        "running": True,
        "faults": [],
        "counts": {"waiting": 1, "working": 1, "made": 1, "refused": 1},
        "profiles": [
            {
                "name": "small",
                "link": "small",
                "paused": None,
                "waiting": [{"name": "w.png", "why": "it is settling"}],
                "working": ["busy.png"],
                "left_alone": [{"name": "pipe", "why": "a pipe, not a file"}],
            }
        ],
        "made": [made("m.png", "m")],
        "refused": [refused("r.png")],
    }
    return base | changes


def made(name: str, stem: str, folder: str = "", profile: str = "small") -> dict[str, Any]:
    film = {"folder": folder, "stem": stem, "files": [f"{stem}.pdf"]}
    return {"at": "2026-03-01T10:00:00Z", "profile": profile, "name": name, "films": [film]}


def refused(name: str) -> dict[str, Any]:
    return {
        "at": "2026-03-01T10:00:00Z",
        "profile": "small",
        "name": name,
        "say": "It is too small.",
        "do": "Send a larger one.",
        "found": {"value": 19, "unit": "ppi"},
        "needed": {"value": 25, "unit": "ppi"},
    }


class Page(HTMLParser):
    """What a browser would see: tags with attributes, text, and the open tags of each."""

    VOID = ("meta", "img")

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
        "pipe", "a pipe, not a file", "2026-03-01 10:00:00 UTC",
    ):  # fmt: skip
        assert words in page.text, words


def test_the_title_begins_with_the_counts() -> None:
    assert "<title>2 to do, 1 made, 1 refused - shop</title>" in status_page(status())


def test_proofs_are_relative_links() -> None:
    page = Page(status_page(status(made=[made("a.png", "a b#1", "class 4/100%")])))
    (picture,) = page.all("img")
    assert picture["src"] == "small/proofs/class%204/100%25/a%20b%231.jpg"
    assert picture["alt"] == "Proof of a b#1"
    assert page.all("a")[0]["href"] == picture["src"]


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
                "paused": EVIL,
                "waiting": [{"name": EVIL, "why": EVIL}],
                "working": [EVIL],
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
        "html", "head", "meta", "title", "style", "body", "header", "h1", "h2", "p", "span", "time",
        "button", "ul", "li", "b", "section", "div", "table", "caption", "thead", "tbody", "tr",
        "th", "td", "bdi", "a", "img", "script",
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


def test_tables_can_be_read_aloud() -> None:
    page = Page(status_page(status()))
    tables = page.all("table")
    assert len(tables) == len(page.all("caption")) == 4
    assert all(one.get("scope") in {"col", "row"} for one in page.all("th"))
    assert [one.get("lang") for one in page.all("html")] == ["en"]
    assert any(one.get("role") == "status" for one in page.all("p"))


def test_empty_parts_say_so() -> None:
    zero = dict.fromkeys(("waiting", "working", "made", "refused"), 0)
    page = Page(status_page(status(profiles=[], made=[], refused=[], counts=zero, running=False)))
    assert page.all("table") == []
    assert "not running" in page.text
    assert "No film yet." in page.text


@pytest.mark.parametrize("part", ["made", "refused", "waiting"])
def test_the_last_200_are_kept(part: str) -> None:
    many = [made(f"a{n}.png", f"a{n}") for n in range(KEPT + 50)]
    if part == "refused":
        many = [refused(f"a{n}.png") for n in range(KEPT + 50)]
    changes: dict[str, Any] = {part: many}
    if part == "waiting":
        waiting = [{"name": f"a{n}.png", "why": "it is next"} for n in range(KEPT + 50)]
        changes = {"profiles": [status()["profiles"][0] | {"waiting": waiting}]}
    page = Page(status_page(status(**changes)))
    assert "a150.png" in page.text
    assert f"a{KEPT + 20}.png" not in page.text


@pytest.mark.parametrize("stem", [EVIL, 'x" onerror="alert(1)', "x' onerror='alert(1)", "a&amp;b"])
def test_a_name_cannot_end_the_attribute_that_it_stands_in(stem: str) -> None:
    page = Page(status_page(status(made=[made("m.png", stem, 'a"b&c', profile="small")])))
    (picture,) = [attributes for tag, attributes in page.tags if tag == "img"]
    assert set(picture) == {"src", "alt", "loading"}
    shown = "".join(c if c.isprintable() else "\ufffd" for c in stem)
    assert picture["alt"] == f"Proof of {shown}"
    assert picture["src"] == f"small/proofs/a%22b%26c/{quote(stem)}.jpg"
    assert not set("<>\"'& ") & set(str(picture["src"]))
