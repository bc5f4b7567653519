"""What goes wrong at a printer, on the disk and with the clock while films are printed."""

from __future__ import annotations

import errno
import json
import os
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import sha256, work_through
from print_harness import ADDRESS, FolderPrinter, events, orders, print_all, printing
from sharing import SmallDisk, small_disk
from test_service_station import wait_until

from filmhand.disk.beneath import Beneath
from filmhand.jobs import publish
from filmhand.jobs.failpoints import FAILPOINTS_PRINT
from filmhand.jobs.print_order import HALF_WRITTEN, Order, OrderState
from filmhand.language import spoken
from filmhand.prints import printer_queue, steps
from filmhand.prints.print_desk import PrintDesk
from filmhand.prints.print_requests import PrintAsked, ask_of_print, find_orders
from filmhand.prints.printer_queue import PrinterQueue
from filmhand.prints.profile_orders import PrintingProfile
from filmhand.profile.printing import PrintWishes
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue
from filmhand.timing import backoff

__all__ = ["small_disk"]


class Dies(BaseException):
    """The process ends here, as by a kill; nothing of it goes on."""


class Shop:
    """A folder, a printer, and clocks that move when told; each `begin` is a new process."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, **options: Any) -> None:
        self.folder, self.root = folder, folder / "small"
        self.printer = FolderPrinter(options.pop("printer", folder / "printer"))
        self.monkeypatch, self.options = monkeypatch, options
        self.now, self.wall = 0.0, datetime(2026, 3, 1, tzinfo=UTC)
        self.said: list[str] = []
        self.begin()

    def begin(self) -> None:
        self.queue: JobQueue = job_harness.make_queue(
            self.root,
            self.folder / "state",
            say=lambda event, **facts: self.said.append(event),
            now=lambda: self.wall,
            **self.options,
        )
        self.desk: PrinterQueue = printing(self.queue, self.printer, clock=lambda: self.now)
        self.queue.look()

    def drop(self, *contents: bytes) -> None:
        for number, data in enumerate(contents):
            path = self.root / "drop" / f"{number}-{sha256(data)[:4]}.png"
            path.write_bytes(data)
        work_through(self.queue)

    def step(self, rounds: int = 1) -> None:
        for _ in range(rounds):
            self.desk._wake.clear()
            self.desk.step()
            self.now += 400

    def at(self, step: str, do: Callable[[], Any]) -> None:
        """Do something when the order comes as far as `step`, once."""
        waiting = [step]

        def passing(name: str) -> None:
            if waiting and name == waiting[0]:
                waiting.clear()
                do()

        self.monkeypatch.setattr(steps, "failpoint", passing)

    def finish(self) -> None:
        for _ in range(30):
            self.step()
            if not orders(self.root):
                return
        raise AssertionError(self.desk.status())

    def states(self) -> list[str]:
        return [line["state"] for line in events(self.root)]


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    return Shop(tmp_path, monkeypatch)


ART = b"print this to the printer"
MORE = [b"print %d to the printer" % number for number in range(3)]
DOCUMENT = f"document of {sha256(ART)}"
TO_THE_NUMBER = ["print begun", "print job created", "print number noted"]
PASSED = [step for step in FAILPOINTS_PRINT if step not in {"doubt noted", "print event written"}]


def dies() -> None:
    raise Dies


# --- the printer ----------------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["print number noted", "sending noted", "sent noted"])
def test_a_printer_that_forgets(shop: Shop, step: str) -> None:
    shop.drop(ART)
    shop.printer.mood = "slow"
    shop.at(step, shop.printer.forget)
    shop.step(6)
    if step != "sent noted":  # certainly nothing was sent
        assert shop.printer.sheets() == [DOCUMENT]
        assert shop.states()[-1] == "printed"
        return
    (folder,) = orders(shop.root)
    assert json.loads((folder / "order.json").read_text())["state"] == "doubtful"
    assert shop.printer.sheets() == []
    assert Counter(shop.states())["doubtful"] == 1
    shop.drop(MORE[0])  # is not held up by it
    shop.step(4)
    assert len(shop.printer.sheets()) == 1
    (order,) = find_orders(shop.queue.context.folders, "small", folder.name)
    ask_of_print(order, PrintAsked.AGAIN)
    shop.finish()
    assert DOCUMENT in shop.printer.sheets()
    assert len(shop.printer.sheets()) == 2


@pytest.mark.parametrize("mood", ["", "whole", "shy", "slow"])
@pytest.mark.parametrize("deaths", [1, 2])
@pytest.mark.parametrize("step", PASSED)
def test_killed_at_a_step_with_printers_of_every_kind(
    shop: Shop, step: str, deaths: int, mood: str
) -> None:
    """Printed once; or not at all, told as doubtful, and never printed twice."""
    shop.drop(ART)
    shop.printer.mood = mood
    for _ in range(deaths):
        shop.at(step, dies)
        try:
            shop.step(4)
        except Dies:
            shop.begin()
    shop.at("", dies)
    shop.step(12)
    printed, doubtful = shop.printer.sheets(), Counter(shop.states())["doubtful"]
    assert printed in ([DOCUMENT], []) and doubtful <= 1
    assert len(orders(shop.root)) == doubtful
    assert printed or doubtful
    assert Counter(shop.states())["printed"] == 1 - doubtful
    assert Counter(shop.states())["sent"] <= 1
    if mood in {"", "slow"}:  # it can be asked for everything, so nothing is doubtful
        assert (printed, doubtful) == ([DOCUMENT], 0)


def test_an_empty_job_canceled_at_the_panel(shop: Shop) -> None:
    shop.drop(ART)
    shop.at("print number noted", lambda: shop.printer.cancel(1))
    shop.finish()
    assert shop.states() == ["canceled"]
    assert shop.printer.sheets() == []


def test_a_jam_stops_the_next(shop: Shop) -> None:
    shop.printer.mood = "jam"
    shop.drop(*MORE)
    shop.step(5)
    assert len(shop.printer.jobs()) == 1
    assert shop.states() == ["sent", "stopped"]
    told = shop.desk.status()
    assert (told["state"], told["why"], told["waiting"]) == ("stopped", "paper jam", 2)
    shop.printer.mood = ""
    shop.finish()
    assert len(shop.printer.sheets()) == 3


def test_out_of_film_in_the_middle_of_a_document(shop: Shop) -> None:
    shop.printer.mood = "starved"
    shop.drop(MORE[0])
    shop.finish()
    assert shop.states()[:2] == ["stopped", "sent"]
    assert shop.states()[-1] == "printed"
    assert len(shop.printer.sheets()) == 1


def test_in_the_order_of_publication(shop: Shop) -> None:
    for data in MORE:
        shop.drop(data)
        shop.wall += timedelta(seconds=1)
    shop.finish()
    assert shop.printer.sheets() == [f"document of {sha256(data)}" for data in MORE]


def test_a_busy_printer_is_asked_ever_more_seldom(shop: Shop) -> None:
    shop.printer.mood = "busy"
    shop.drop(ART)
    for _ in range(1000):
        shop.desk.step()
        shop.now += 1
    assert 6 <= shop.printer.asked["create"] <= 12
    assert shop.states() == ["waiting"]
    shop.printer.mood = ""
    shop.finish()
    assert shop.printer.sheets() == [DOCUMENT]
    assert Counter(shop.said)["printer waits"] <= 8


def test_another_sheet_in_the_tray_holds_only_what_needs_it(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.printer.mood = "other-sheet"
    shop.drop(ART, MORE[0])
    folder = orders(shop.root)[1]
    path = folder / "order.json"
    other = json.loads(path.read_text()) | {"size": [21000, 29700]}
    path.write_text(json.dumps(other))
    shop.step(3)
    assert len(shop.printer.sheets()) == 1
    assert "waiting" in shop.states()
    (held,) = shop.desk.status()["held"]
    assert "holds 210 x 297 mm (8.27 x 11.69 in) and the film needs 215.9 x" in held["why"]
    assert shop.desk.settled()
    shop.printer.mood = ""
    shop.finish()
    assert len(shop.printer.sheets()) == 2


def test_films_are_told_of_in_the_language_of_their_profile(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[str] = []
    able = shop.printer.capabilities

    def capabilities() -> Any:
        heard.append(spoken())
        return able()

    monkeypatch.setattr(shop.printer, "capabilities", capabilities)
    wishes = PrintWishes(printer=ADDRESS)
    profile = PrintingProfile(
        "small", shop.queue.context, wishes, lambda uri, digest: shop.printer, language="es"
    )
    shop.desk.arrange([profile])
    shop.drop(ART)
    shop.finish()
    assert set(heard) == {"es"}
    assert spoken() == "en"


def test_the_profile_names_another_printer_now(shop: Shop) -> None:
    shop.printer.mood = "jam"
    shop.drop(ART, MORE[0])
    shop.step(3)
    wishes = PrintWishes(printer="ipp://other.local/ipp/print")
    other = FolderPrinter(shop.folder / "other")
    profile = PrintingProfile("small", shop.queue.context, wishes, lambda uri, digest: other)
    desk = PrinterQueue(str(wishes.printer), lambda event, **facts: None, clock=lambda: shop.now)
    desk.arrange([profile])
    for _ in range(4):
        desk.step()
    assert len(other.sheets()) == 1  # what waited goes to the new one
    (folder,) = orders(shop.root)
    assert Order.load(Beneath(folder.parent) / folder.name).state is OrderState.DOUBTFUL
    assert shop.printer.sheets() == []


def test_several_profiles_share_a_printer_and_one_has_no_disk(shop: Shop, tmp_path: Path) -> None:
    other = job_harness.make_queue(tmp_path / "large", tmp_path / "state-2")
    other.look()
    (tmp_path / "large" / "drop" / "o.png").write_bytes(MORE[1])
    work_through(other)
    shop.drop(ART)
    wishes = PrintWishes(printer=ADDRESS)
    shop.desk.arrange(
        PrintingProfile(name, queue.context, wishes, lambda uri, digest: shop.printer)
        for name, queue in (("small", shop.queue), ("large", other))
    )
    hidden = shop.root / ".filmhand" / "here-00000000" / "prints"
    hidden.rename(hidden.with_name("away"))
    hidden.symlink_to("away")
    shop.step(4)
    assert shop.printer.sheets() == [f"document of {sha256(MORE[1])}"]
    hidden.unlink()
    hidden.with_name("away").rename(hidden)
    shop.finish()
    assert len(shop.printer.sheets()) == 2


@pytest.mark.parametrize("step", PASSED)
def test_asleep_at_a_step_while_another_host_takes_over(shop: Shop, step: str) -> None:
    """The printer's number is a fence: whoever wakes up sends nothing into a job that is full."""
    shop.drop(ART)
    other = job_harness.make_queue(shop.root, shop.folder / "state-2", "two-00000002")
    other.look()

    def taken_over() -> None:
        other.peers.adopt("here-00000000")
        print_all(printing(other, shop.printer))

    shop.at(step, taken_over)
    shop.step(6)
    assert shop.printer.sheets() == [DOCUMENT]
    assert orders(shop.root) == []
    assert Counter(shop.states())["printed"] == 1
    assert "doubtful" not in shop.states()


# --- the disk -------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["print begun", "print job created", "sending noted"])
def test_no_room_for_the_number(shop: Shop, step: str) -> None:
    """Where the notes cannot be written nothing is sent."""
    shop.drop(ART)
    full = []
    truly = Order.save

    def save(order: Order) -> None:
        if full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(order.folder))
        truly(order)

    shop.monkeypatch.setattr(Order, "save", save)
    shop.at(step, lambda: full.append(step))
    shop.step(4)
    if step != "sending noted":
        assert shop.printer.asked["send"] == 0
    assert "printing paused" in shop.said
    full.clear()
    shop.finish()
    assert shop.printer.sheets() == [DOCUMENT]
    assert shop.states() == ["sent", "printed"]


@pytest.mark.parametrize("step", [step for step in PASSED if step != "order removed"])
def test_a_full_disk_from_a_step_on(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    shop = Shop(small_disk.folder, monkeypatch, printer=tmp_path / "printer")
    shop.drop(ART, MORE[0])
    shop.at(step, small_disk.fill)
    shop.step(5)
    small_disk.free()
    shop.finish()
    assert Counter(shop.printer.sheets()) == {DOCUMENT: 1, f"document of {sha256(MORE[0])}": 1}
    assert Counter(shop.states())["printed"] == 2
    assert Counter(shop.states())["sent"] == 2


def test_a_document_that_the_disk_spoiled_is_not_printed(shop: Shop) -> None:
    shop.drop(ART)
    (folder,) = orders(shop.root)
    (folder / "film.pwg").write_bytes(b"something else")
    shop.step(3)
    assert shop.printer.jobs() == {}
    (held,) = shop.desk.status()["held"]
    assert "the disk may be failing" in held["why"]
    (order,) = find_orders(shop.queue.context.folders, "small", folder.name)
    ask_of_print(order, PrintAsked.CANCEL)
    shop.finish()
    assert shop.states() == ["waiting", "canceled"]


# --- the art --------------------------------------------------------------------------------------


def test_art_that_changed_is_printed_of_its_whole_form_only(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    half, whole = b"print half to the printer", b"print the whole to the printer"
    held = [HeldFile(shop.root)]

    def write_on(step: str) -> None:
        if step == "publishing recorded" and held:
            held.pop().write_bytes(whole)

    monkeypatch.setattr(publish, "failpoint", write_on)
    (shop.root / "drop" / "a.png").write_bytes(half)
    work_through(shop.queue)
    shop.finish()
    assert shop.printer.sheets() == [f"document of {sha256(whole)}"]
    record = json.loads((shop.root / "records" / "a.json").read_bytes())
    assert "unfinished" not in record


def test_art_that_changed_after_it_was_printed_is_printed_again_and_told(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    half, whole = b"print half to the printer", b"print the whole to the printer"
    held = [HeldFile(shop.root)]

    def write_on(step: str) -> None:
        if step == "publishing recorded" and held:
            print_all(shop.desk)
            held.pop().write_bytes(whole)

    monkeypatch.setattr(publish, "failpoint", write_on)
    (shop.root / "drop" / "a.png").write_bytes(half)
    work_through(shop.queue)
    shop.finish()
    assert shop.printer.sheets() == [f"document of {sha256(data)}" for data in (half, whole)]
    first, second = (
        json.loads((shop.root / "records" / name).read_bytes()) for name in ("a.json", "a-2.json")
    )
    assert first["unfinished_art"] is True
    assert second["unfinished"] == ["a.pdf", "a.tif"]


@pytest.mark.parametrize("began", [False, True])
def test_killed_while_an_order_is_taken_back(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, began: bool
) -> None:
    """Whether or not the printer had it: nothing is printed twice, and the whole form once."""
    half, whole = b"print half to the printer", b"print the whole to the printer"
    held = [HeldFile(shop.root)]

    def write_on(step: str) -> None:
        if step == "publishing recorded" and held:
            if began:
                shop.printer.mood = "jam"
                shop.step(2)
                shop.printer.mood = ""
            held.pop().write_bytes(whole)
        if step == "order taken back":
            raise Dies

    monkeypatch.setattr(publish, "failpoint", write_on)
    (shop.root / "drop" / "a.png").write_bytes(half)
    with pytest.raises(Dies):
        work_through(shop.queue)
    monkeypatch.setattr(publish, "failpoint", lambda step: None)
    shop.begin()
    work_through(shop.queue)
    shop.finish()
    wanted = [f"document of {sha256(data)}" for data in ((half, whole) if began else (whole,))]
    assert shop.printer.sheets() == wanted


class HeldFile:
    """The customer's file in the hands of the only job."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def write_bytes(self, data: bytes) -> None:
        (path,) = (self.root / ".filmhand").rglob("held/*")
        before = path.stat()
        path.write_bytes(data)
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def test_a_sheet_that_several_share_is_printed_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = Shop(tmp_path, monkeypatch, gang=GangWishes(0.0), room=None)
    shop.drop(*MORE)
    shop.finish()
    assert len(shop.printer.sheets()) == 1
    assert [line["film"] for line in events(shop.root) if line["state"] == "printed"]


# --- the clock ------------------------------------------------------------------------------------


def test_a_clock_that_jumps(shop: Shop) -> None:
    for data, days in zip(MORE, (0, 400, -800), strict=True):
        shop.wall += timedelta(days=days)
        shop.drop(data)
    shop.printer.mood = "slow"
    for days in (-3000, 6000, -1):
        shop.wall += timedelta(days=days)
        shop.step(2)
    shop.finish()
    assert Counter(shop.printer.sheets()) == Counter(f"document of {sha256(d)}" for d in MORE)
    assert Counter(shop.states())["printed"] == 3


# --- what others put there ------------------------------------------------------------------------


def test_forged_orders_hold_up_nobody(shop: Shop, tmp_path: Path) -> None:
    shop.drop(ART)
    (sound,) = orders(shop.root)
    prints, outside = sound.parent, tmp_path / "outside.json"
    outside.write_bytes((sound / "order.json").read_bytes())
    told = json.loads(outside.read_text())
    names = [f"20200101T000000000000-{number:08x}-00001" for number in range(8)]
    forged = [
        {},
        told,  # the id of another
        told | {"id": names[2], "state": "created"},
        told | {"id": names[3], "documents": {"pwg": told["documents"]["pwg"] | {"name": "../x"}}},
        told | {"id": names[4], "sheets": 10**9},
        told | {"id": names[5], "state": "ending"},
    ]  # fmt: skip
    for name, data in zip(names, forged, strict=False):
        (prints / name).mkdir()
        (prints / name / "order.json").write_text(json.dumps(data))
    (prints / names[6]).mkdir()
    (prints / names[6] / "order.json").symlink_to(outside)
    (prints / names[7]).symlink_to(sound)
    (prints / "zzz").mkdir()
    (prints / f"{sound.name}.cancel").mkdir()
    (prints / f"{sound.name}.shout").touch()
    shop.finish()
    assert shop.printer.sheets() == [DOCUMENT]
    assert list(prints.iterdir()) == []
    assert len(list((shop.root / ".filmhand" / "set-aside").iterdir())) == len(names) + 3
    assert outside.read_bytes()


@pytest.mark.parametrize("at", ["at once", *PASSED[:-1]])
def test_a_folder_in_the_way_of_the_notes_is_set_aside_and_the_film_printed_once(
    shop: Shop, at: str
) -> None:
    shop.drop(ART)
    (order,) = orders(shop.root)

    def put_in_the_way() -> None:
        if order.is_dir() and not (order / HALF_WRITTEN).exists():
            (order / HALF_WRITTEN / "inside").mkdir(parents=True)

    if at == "at once":
        put_in_the_way()
    else:
        shop.at(at, put_in_the_way)
    shop.finish()
    assert shop.printer.sheets() == [DOCUMENT]
    assert Counter(shop.states())["printed"] == 1


def test_a_log_that_is_a_link_is_not_written_through(shop: Shop, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("mine")
    (shop.root / "records" / "prints.jsonl").symlink_to(secret)
    shop.drop(ART)
    shop.finish()
    assert secret.read_text() == "mine"
    assert shop.states() == ["sent", "printed"]


# --- many -----------------------------------------------------------------------------------------


def test_many_that_wait_cost_the_next_one_little(shop: Shop) -> None:
    """The first look reads each once; then each film costs a look at the names."""
    shop.drop(ART)
    (sound,) = orders(shop.root)
    told = json.loads((sound / "order.json").read_text())
    for number in range(300):
        name = f"2030010{number % 10}T000000000000-{number:08x}-00001"
        folder = sound.with_name(name)
        folder.mkdir()
        (folder / "order.json").write_text(json.dumps(told | {"id": name}))
        for document in ("film.pwg", "film.pdf"):
            os.link(sound / document, folder / document)
    read = []
    truly = Order.load
    shop.monkeypatch.setattr(
        Order, "load", staticmethod(lambda folder: read.append(folder) or truly(folder))
    )
    shop.desk.step()
    assert len(read) <= 310
    read.clear()
    for _ in range(10):
        shop.desk.step()
    assert len(read) <= 40
    assert shop.desk.status()["waiting"] > 280


def test_a_fault_of_the_program_does_not_end_the_printing(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.drop(ART)
    monkeypatch.setattr(backoff, "FIRST", 0.0)
    monkeypatch.setattr(printer_queue, "AT_REST", 0.01)
    monkeypatch.setattr(printer_queue, "FOLLOWED_EVERY", 0.01)
    truly, faults = FolderPrinter.capabilities, [RuntimeError("a bug")]

    def capabilities(self: FolderPrinter) -> Any:
        if faults:
            raise faults.pop()
        return truly(self)

    monkeypatch.setattr(FolderPrinter, "capabilities", capabilities)
    shop.desk.start()
    wait_until(lambda: shop.printer.sheets() == [DOCUMENT])
    shop.desk.stop()
    shop.desk.join(120)
    assert "filmhand itself failed" in shop.said


def test_a_desk_has_one_queue_a_printer(shop: Shop) -> None:
    desk = PrintDesk(lambda event, **facts: None, clock=lambda: shop.now)

    def profile(name: str, printer: str | None) -> PrintingProfile:
        wishes = PrintWishes(printer=printer)
        return PrintingProfile(name, shop.queue.context, wishes, lambda uri, digest: shop.printer)

    desk.arrange([profile("a", ADDRESS), profile("b", ADDRESS), profile("c", None)])
    try:
        assert [sorted(one["printer"] for one in desk.status())] == [[ADDRESS]]
        desk.arrange([profile("a", "ipp://other/")])
        assert [one["printer"] for one in desk.status()] == ["ipp://other/"]
    finally:
        desk.stop()
        desk.join(120)
