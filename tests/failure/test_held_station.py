"""Held films of a station: what its commands, status and page tell and do about them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from job_harness import assert_invariants, files_in
from test_service_station import PROFILE, Shop, stop, wait_until

from filmhand.cli.main import main


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()


def ask(shop: Shop, command: str, *words: str) -> Result:
    told = [str(shop.station), *words, "--state", str(shop.state)]
    return CliRunner().invoke(main, [command, *told])


def films(shop: Shop) -> list[str]:
    around = shop.root() / "positives"
    found = [path.relative_to(around).as_posix() for path in files_in(around)]
    return [name for name in found if name.endswith(".pdf")]


def test_once_ends_with_0_and_tells_of_held_films(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\n")
    shop.drop("anna/photo.jpg", b"art of anna")
    assert shop.once() == 0
    (told,) = shop.said("left held")
    assert (told["name"], told["profile"]) == ("anna/photo.jpg", "small")
    assert "approves" in told["why"]
    report = ask(shop, "status").output
    assert (
        "held" in report and "anna/photo for anna: It waits until somebody approves it." in report
    )
    (held,) = shop.status()["profiles"][0]["held"]
    assert (held["film"], held["for"]) == ("anna/photo", "anna")
    assert held["until"] == "somebody releases it"
    page = (shop.station / "status.html").read_text()
    assert "small/held/anna/photo.jpg" in page and "small/held/anna/photo.why.txt" in page
    assert "It waits until somebody approves it." in page
    assert (shop.root() / "release").is_dir()
    history = json.loads(ask(shop, "history", "photo.jpg", "--json").output)
    assert [one["outcome"] for one in history] == ["in hand (held)"]


def test_released_and_given_up_by_commands_while_the_service_runs(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\n")
    service = shop.serve()
    shop.drop("anna/photo.jpg", b"art of anna")
    shop.drop("ben/photo.jpg", b"art of ben")
    wait_until(lambda: [one["held_count"] for one in shop.status()["profiles"]] == [2])
    several = ask(shop, "release", "photo")
    assert several.exit_code == 1
    assert "Several held films are called photo: small/anna/photo (" in several.output
    released = ask(shop, "release", "anna/photo.jpg")
    assert released.output == "anna/photo of small is released and goes on.\n"
    wait_until((shop.root() / "originals/anna/photo.jpg").exists)
    assert films(shop) == ["anna/photo.pdf"]
    given_up = ask(shop, "discard", "photo")
    assert (given_up.exit_code, given_up.output) == (
        0, "ben/photo of small is given up. Its art goes to rejected/.\n",
    )  # fmt: skip
    wait_until((shop.root() / "rejected/ben/photo.jpg").exists)
    nobody = ask(shop, "discard", "photo")
    assert nobody.exit_code == 1 and "No film called photo is held here" in nobody.output
    note = (shop.root() / "rejected/ben/photo.jpg.why.txt").read_text()
    assert "somebody gave it up" in note
    wait_until(lambda: shop.status()["counts"]["refused"] == 1)
    assert shop.status()["refused"][0]["reason"] == "discarded"
    assert stop(service) == 0


def test_without_a_service_it_is_done_at_the_next_start(shop: Shop) -> None:
    shop.profile("small", PROFILE + "budget: {person: 1}\n")
    for number in range(3):
        shop.drop(f"anna/{number}.jpg", b"art %d" % number)
        assert shop.once() == 0
    assert films(shop) == ["anna/0.pdf"]
    assert "not running here" in ask(shop, "release", "1.jpg").output
    assert "not running here" in ask(shop, "discard", "small/anna/2").output
    assert shop.once() == 1
    assert films(shop) == ["anna/0.pdf", "anna/1.pdf"]
    assert (shop.root() / "rejected/anna/2.jpg").exists()
    assert files_in(shop.root() / "held") == files_in(shop.root() / "release") == []
    assert shop.once() == 0


def test_usage_is_csv_that_no_spreadsheet_takes_for_formulas(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: false\nbudget: {day: 100}\n")
    shop.profile("plain")
    shop.drop('=cmd|"x", y/poster, large.jpg', b"art")
    shop.drop("book.tif", b"pages")
    shop.drop("uncounted.jpg", b"art too", profile="plain")
    assert shop.once() == 0
    told = ask(shop, "usage")
    rows = list(csv.reader(io.StringIO(told.stdout)))
    assert rows[0] == ["date", "person", "profile", "film", "sheets"]
    today = rows[1][0]
    assert sorted(rows[1:]) == [
        [today, "", "small", "book", "2"],
        [today, "'=cmd|\"x\", y", "small", "'=cmd|\"x\", y/poster, large", "1"],
    ]  # fmt: skip
    assert "Not counted: the films of plain" in told.stderr
    as_json = json.loads(CliRunner().invoke(
        main, ["usage", str(shop.station), "--state", str(shop.state), "--json"]
    ).stdout)  # fmt: skip
    assert {(one["person"], one["sheets"]) for one in as_json} == {("", 2), ('=cmd|"x", y', 1)}
    later = ask(shop, "usage", "--since", "2999-01-01")
    assert later.stdout.splitlines() == ["date,person,profile,film,sheets"]
    wrong = ask(shop, "usage", "--since", "yesterday")
    assert wrong.exit_code == 2 and "a day as 2026-03-01" in wrong.output


def test_a_profile_that_neither_holds_nor_prints_has_neither_folder(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    assert_invariants(shop.root(), [b"art"])
    assert not (shop.root() / "held").exists() and not (shop.root() / "release").exists()


def test_a_proof_moved_under_the_running_service_goes_on_at_once(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\nbudget: {day: 1}\n")
    service = shop.serve()
    shop.drop("poster.png", b"art")
    wait_until((shop.root() / "held/poster.jpg").exists)
    wait_until(lambda: [one["held_count"] for one in shop.status()["profiles"]] == [1])
    (shop.root() / "held/poster.jpg").rename(shop.root() / "release/poster.jpg")
    wait_until(lambda: shop.made("poster.png"), 8)  # without any event it takes 15 s
    wait_until(lambda: [one["held_count"] for one in shop.status()["profiles"]] == [0])
    assert stop(service) == 0
    assert_invariants(shop.root(), [b"art"], besides={"sheets"})
