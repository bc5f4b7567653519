"""The status page in a real browser: what can be read, reached and filtered, and how large it is.

Accessibility is judged by axe-core (https://github.com/dequelabs/axe-core), which checks the rules
of WCAG 2.2 that a program can check. Pictures of the page are left in ``tests/.screens``.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from filmhand.page.status_page import status_page
from filmhand.page.swatch import swatch_color

sync_api = pytest.importorskip("playwright.sync_api")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SCREENS = Path(__file__).parent.parent / ".screens"
AXE = Path(__file__).parent.parent / ".web" / "node_modules" / "axe-core" / "axe.min.js"
NOW = datetime(2026, 3, 8, 15, 30, tzinfo=UTC)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium")


def stamp(minutes: float) -> str:
    return (NOW - timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M:%SZ")


def made(number: int, *, warnings: tuple[str, ...] = ()) -> dict[str, Any]:
    stem = f"poster-{number}"
    film = {"folder": "class 4", "stem": stem, "files": [f"{stem}.pdf"], "warnings": warnings}
    return {
        "job": f"20260308T1000{number % 60:02d}-{number:08x}",
        "at": stamp(7 * number),
        "profile": "small" if number % 3 else "large-sheet-for-the-press-in-the-back-room",
        "name": f"class 4/{stem} of a rather long name that somebody gave to it.png",
        "films": [film],
        "original": f"class 4/{stem}.png",
    }


INKS = {"white underbase": [98.0, 0.0, 1.0], "process yellow": [89.0, -5.0, 93.0],
        "dark blue": [22.0, 12.0, -45.0], "black": [12.0, 0.0, 0.0]}  # fmt: skip


def set_made(number: int) -> dict[str, Any]:
    """A job of a set in four inks."""
    stem, films = f"shirt-{number}", []
    for k, (ink, color) in enumerate(INKS.items(), 1):
        own = f"{stem}-{k}-{ink.replace(' ', '-')}"
        place = {"id": stem, "k": k, "of": len(INKS), "ink": ink, "color": color, "stem": stem}
        films.append(made(number)["films"][0] | {"stem": own, "files": [f"{own}.pdf"],
                                                 "set": place})  # fmt: skip
    return made(number) | {"name": f"{stem}.png", "films": films, "profile": "small"}


def refused(number: int) -> dict[str, Any]:
    return {
        "job": f"20260308T1100{number % 60:02d}-{number:08x}",
        "at": stamp(11 * number + 1),
        "profile": "small",
        "name": f"tiny-{number}.png",
        "say": "It has 19 pixels per inch at the size of the sheet, and the screen needs 25.",
        "do": "Send a larger picture, or print it smaller.",
        "found": {"value": 19, "unit": "ppi"},
        "needed": {"value": 25, "unit": "ppi"},
        "kept": f"tiny-{number}.png",
        "after_all": number == 1,
    }


CURVE = {
    "name": "curves/2026-03-05-1.txt", "date": "2026-03-05", "print_at_50": 63.0,
    "smallest_dot_um": 315.0,
}  # fmt: skip


def status(count: int = 12, **changes: Any) -> dict[str, Any]:
    profile: dict[str, Any] = {
        "name": "small",
        "link": "small",
        "state": "working",
        "paused": None,
        "makes": "215.9 x 279.4 mm at 300 dpi, 25 lpi round, mesh 110 (43-80)",
        "usual_s": 2.5,
        "in_work": [{"name": "busy.png", "seconds": 1.2, "step": "screening", "behind": 0.3}],
        "waiting": [{"name": f"w{n}.png", "why": "it is next", "in_s": 2.5 * n} for n in range(40)],
        "waiting_count": 40,
        "hosts": [{"name": "shop-0011aabb", "silent_s": 4.2, "in_hand": 3}],
        "left_alone": [{"name": "pipe", "why": "a pipe, not a file"}],
        "curve": CURVE,
        "ink_curves": [
            CURVE | {"ink": "red", "name": "curves/red/2026-03-05-1.txt", "date": None},
            {"ink": "process-yellow", "name": None},
        ],
    }
    quiet = {"waiting": [], "waiting_count": 0, "in_work": [], "hosts": [], "left_alone": []}
    quiet |= {"curve": {"name": None}, "ink_curves": []}
    other = profile | quiet | {"name": "large-sheet-for-the-press-in-the-back-room", "link": None}
    warned = ("Some dots may print unevenly: smallest dot 250 µm, wanted at least 312.6 µm.",)
    base = {
        "station": "/srv/films",
        "station_name": "films",
        "at": stamp(0),
        "running": True,
        "faults": ["The state folder's disk is nearly full."],
        "counts": {"waiting": 40, "working": 1, "made": count, "refused": count},
        "profiles": [profile, other],
        "made": [made(n, warnings=warned if n == 2 else ()) for n in range(count)],
        "refused": [refused(n) for n in range(count)],
    }
    return base | changes


def holding() -> dict[str, Any]:
    """A profile of which a set is held."""
    inks = [film["set"] for film in set_made(7)["films"]]
    held = {
        "job": "h", "name": "shirt-7.png", "film": "shirt-7", "for": "", "at": stamp(5),
        "proof": "shirt-7.jpg", "why": "It waits for somebody to release it.",
        "until": "it is released", "inks": inks,
    }  # fmt: skip
    return {**status()["profiles"][0], "held": [held], "held_count": 1}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_api.sync_playwright() as play:
        started = play.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-background-networking",
                "--disable-component-update",
            ],
        )
        yield started
        started.close()


class Reader:
    """Somebody who looks at a station's page."""

    def __init__(self, browser: Any, folder: Path, **options: Any) -> None:
        self.path = folder / "status.html"
        proofs = folder / "small" / "proofs" / "class 4"
        proofs.mkdir(parents=True, exist_ok=True)
        for number in range(3):
            Image.new("L", (600, 800), 90 * number).save(proofs / f"poster-{number}.jpg")
        for film in set_made(1)["films"]:
            Image.new("L", (600, 800), 120).save(proofs / f"{film['stem']}.jpg")
        Image.new("RGB", (600, 1600), (180, 90, 40)).save(proofs / "shirt-1.jpg")
        (folder / "small" / "curves" / "red").mkdir(parents=True, exist_ok=True)
        for place in ("curves", "curves/red"):
            plot = folder / "small" / place / "2026-03-05-1.png"
            Image.new("RGB", (480, 480), (240, 240, 240)).save(plot)
        options = {"viewport": {"width": 1100, "height": 800}, "locale": "en-US"} | options
        context = browser.new_context(timezone_id="America/New_York", **options)
        self.page = context.new_page()
        self.wrong: list[str] = []
        # A picture that is not there is no fault of the page.
        self.page.on(
            "console",
            lambda said: (
                self.wrong.append(said.text)
                if said.type == "error" and "ERR_FILE_NOT_FOUND" not in said.text
                else None
            ),
        )
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.clock.install(time=NOW)

    def open(self, told: dict[str, Any]) -> None:
        self.path.write_text(status_page(told))
        self.page.goto(self.path.as_uri())
        assert self.wrong == []

    def shows(self, words: str) -> bool:
        return bool(self.page.get_by_text(words, exact=False).first.is_visible())

    def screen(self, name: str) -> None:
        SCREENS.mkdir(exist_ok=True)
        self.page.screenshot(path=SCREENS / f"{name}.png", full_page=True)


@pytest.fixture
def reader(browser: Any, tmp_path: Path) -> Reader:
    return Reader(browser, tmp_path)


LOOKS = {
    "light": {},
    "dark": {"color_scheme": "dark"},
    "narrow": {"viewport": {"width": 390, "height": 844}},
    "narrow-dark": {"viewport": {"width": 390, "height": 844}, "color_scheme": "dark"},
}


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("what", ["busy", "sets", "empty", "stopped"])
def test_axe_finds_nothing(browser: Any, tmp_path: Path, look: str, what: str) -> None:
    if not AXE.is_file():
        pytest.skip("needs axe-core: npm install --prefix tests/.web axe-core")
    changes: dict[str, Any] = {
        "empty": {"made": [], "refused": []},
        "stopped": {"running": False},
        "sets": {"made": [set_made(1), made(2)], "profiles": [holding()]},
    }
    reader = Reader(browser, tmp_path, bypass_csp=True, **LOOKS[look])
    reader.open(status(**changes.get(what, {})))
    for older in reader.page.locator("details").all():
        older.evaluate("one => { one.open = true; }")
    reader.screen(f"status-{what}-{look}")
    # A page that loads itself again takes what looks at it with it.
    reader.page.get_by_role("button", name="Hold still").click()
    reader.page.evaluate(AXE.read_text())
    found = reader.page.evaluate("axe.run()")
    assert [(one["id"], one["help"]) for one in found["violations"]] == []
    assert len(found["passes"]) > 20


@pytest.mark.parametrize("look", LOOKS)
def test_nothing_is_cut_off_and_four_hundred_entries_stay_short(
    browser: Any, tmp_path: Path, look: str
) -> None:
    reader = Reader(browser, tmp_path, **LOOKS[look])
    reader.open(status(200))
    wide, high = reader.page.evaluate(
        "[document.documentElement.scrollWidth - innerWidth, document.documentElement.scrollHeight]"
    )
    assert wide <= 0
    assert high < 12_000
    cut = reader.page.evaluate(
        "[...document.querySelectorAll('main *')].filter(one => one.scrollWidth > one.clientWidth "
        "+ 1 && getComputedStyle(one).overflowX !== 'visible').map(one => one.tagName)"
    )
    assert cut == []
    reader.screen(f"status-many-{look}")


def test_a_set_is_seen_as_one_entry_with_its_inks(browser: Any, tmp_path: Path) -> None:
    reader = Reader(browser, tmp_path, **LOOKS["narrow"])
    reader.open(status(made=[set_made(1)], refused=[]))
    assert reader.page.locator("[data-list=latest] [data-entry]").count() == 1
    fields = reader.page.locator(".swatch rect")
    colors = fields.evaluate_all("all => all.map(one => getComputedStyle(one).fill)")
    assert colors == [f"rgb{swatch_color(color)}" for color in INKS.values()]
    drawn = reader.page.locator(".swatch").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().width)"
    )
    assert min(drawn) > 10
    reader.page.fill("#search", "dark blue")
    assert reader.page.locator("[data-entry]:visible").count() == 1


def test_times_are_the_readers(reader: Reader) -> None:
    reader.open(status())
    written = reader.page.locator("#written")
    assert written.inner_text().replace("\u202f", " ") == "Mar 8, 2026, 11:30 AM"
    assert "2026-03-08 15:30" in str(written.get_attribute("title")) or "UTC" not in str(
        written.get_attribute("title")
    )


def test_search_and_choices_filter_all_lists(reader: Reader) -> None:
    reader.open(status())
    assert reader.shows("poster-1 of")
    reader.page.fill("#search", "POSTER-11")  # an older one, behind a summary
    shown = reader.page.locator("[data-entry]:visible")
    assert shown.count() == 1
    assert "poster-11 of" in shown.first.text_content()
    reader.page.reload()
    assert reader.page.input_value("#search") == "POSTER-11"
    assert reader.page.locator("[data-entry]:visible").count() == 1
    reader.page.fill("#search", "")
    reader.page.get_by_label("with a warning").check()
    assert reader.page.locator("[data-list=latest] [data-entry]:visible").count() == 1
    reader.page.get_by_label("everything").check()
    reader.page.get_by_label("large-sheet-for-the-press-in-the-back-room").check()
    profiles = reader.page.locator("[data-entry]:visible").evaluate_all(
        "all => [...new Set(all.map(one => one.dataset.profile))]"
    )
    assert profiles == ["large-sheet-for-the-press-in-the-back-room"]
    assert (
        not reader.shows("Nothing waits.")
        or reader.page.locator("[data-part]:visible").count() == 1
    )


def test_a_refusal_that_was_put_away_stays_away_and_comes_back_when_looked_for(
    reader: Reader,
) -> None:
    reader.open(status())
    look = reader.page.locator("[data-list=look]")
    first = look.locator("[data-entry]").first
    assert "tiny-0.png" in first.inner_text()
    first.get_by_role("button", name="Put away").click()
    assert not first.is_visible()
    reader.page.reload()
    assert not first.is_visible()
    reader.page.fill("#search", "tiny-0")
    assert first.is_visible()
    first.get_by_role("button", name="Put back").click()
    reader.page.fill("#search", "")
    assert first.is_visible()


def test_a_page_that_nobody_writes_says_so_within_half_a_minute(reader: Reader) -> None:
    stale = reader.page.locator("#stale")
    reader.open(status())
    reader.page.clock.run_for(12_000)
    assert not stale.is_visible()
    reader.path.write_text(status_page(status(at=stamp(-0.2))))
    reader.page.clock.run_for(5_000)
    reader.page.wait_for_selector("#written[datetime$='30:12Z']")
    assert not stale.is_visible()
    for _ in range(6):
        reader.page.clock.run_for(5_000)
        reader.page.wait_for_load_state()
    stale.wait_for(timeout=120_000)
    assert not reader.page.locator("header .good").is_visible()
    # Held still it says so too.
    reader.open(status(at=stamp(-1)))
    reader.page.get_by_role("button", name="Hold still").click()
    reader.page.clock.run_for(30_000)
    stale.wait_for(timeout=120_000)


def test_a_stopped_service_is_told_and_not_called_stale(reader: Reader) -> None:
    reader.open(status(running=False, at=stamp(600)))
    assert reader.shows("not running")
    assert not reader.page.locator("#stale").is_visible()


def test_all_can_be_reached_by_keyboard(reader: Reader) -> None:
    reader.open(status())
    reader.page.get_by_role("button", name="Hold still").click()
    reached = set()
    for _ in range(120):
        reader.page.keyboard.press("Tab")
        reached.add(
            reader.page.evaluate(
                "(() => { const one = document.activeElement; "
                "return one.id || one.className || one.name || one.tagName; })()"
            )
        )
    assert {"pause", "search", "kind", "profile", "away", "A", "SUMMARY"} <= reached


def test_without_a_script_all_entries_are_there(browser: Any, tmp_path: Path) -> None:
    reader = Reader(browser, tmp_path, java_script_enabled=False)
    reader.open(status())
    assert reader.shows("tiny-0.png") and reader.shows("poster-0 of")
    assert not reader.page.locator("#choose").is_visible()
