"""What a station answers when it was killed, has its profiles elsewhere, or art comes again."""

from __future__ import annotations

import json

from test_service_doctor import doctor, filmhand, wrong
from test_service_station import PROFILE, Shop, shop, stop, wait_until

from filmhand.service.station import Station

__all__ = ["shop"]


def test_art_in_hand_is_not_lost_from_sight_when_the_service_is_killed(shop: Shop) -> None:
    service = shop.serve(RENDER_SECONDS="60")
    shop.drop("anna/a.png", b"slow art")
    wait_until(lambda: shop.status()["counts"]["working"] == 1)
    shop.drop("b.png", b"art that waits")
    service.kill()
    service.wait()
    told = shop.status()
    assert told["counts"] == {"waiting": 2, "working": 0, "made": 0, "refused": 0}
    (profile,) = told["profiles"]
    assert [one["name"] for one in profile["waiting"]] == ["anna/a.png", "b.png"]
    report = " ".join(filmhand(shop, "status").stdout.split())
    assert "a.png, taken and not finished; filmhand goes on with it when it runs" in report
    assert [one["name"] for one in Station(shop.station, state=shop.state).status("anna")[
        "profiles"][0]["waiting"]] == ["anna/a.png"]  # fmt: skip
    assert shop.once() == 0
    assert shop.made("anna/a.png") and shop.made("b.png")
    assert shop.status()["counts"] == {"waiting": 0, "working": 0, "made": 2, "refused": 0}


def test_what_other_computers_have_in_hand_is_not_told_as_ours(shop: Shop) -> None:
    service = shop.serve(RENDER_SECONDS="60")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: shop.status()["counts"]["working"] == 1)
    service.kill()
    service.wait()
    (shop.state / "host").write_text("else-00000000")
    assert shop.status()["counts"]["waiting"] == 0


def test_a_held_film_is_told_once_when_the_service_is_gone(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\n")
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    (profile,) = shop.status()["profiles"]
    assert (profile["held_count"], profile["waiting"]) == (1, [])
    status = json.loads((shop.state / "status.json").read_bytes())
    status["profiles"][0]["held"] = []  # as when it was killed before it told of it
    (shop.state / "status.json").write_text(json.dumps(status))
    assert [one["name"] for one in shop.status()["profiles"][0]["waiting"]] == ["a.png"]


def test_the_folder_of_profiles_is_known_from_the_service(shop: Shop) -> None:
    elsewhere = shop.station.parent / "my profiles"
    (shop.station / "profiles").rename(elsewhere)
    service = shop.serve(PROFILES=str(elsewhere))
    wait_until(lambda: doctor(shop)[0] == 0)  # folders come after the sign that it runs
    assert wrong(doctor(shop)[1]) == []
    here = Station(shop.station, state=shop.state)
    assert set(here.print_counter().profiles) == {"small"}
    assert here.held_films().uncounted() == ["small"]
    assert stop(service) == 0
    assert wrong(doctor(shop)[1]) == []
    named = shop.station.parent / "none"
    assert wrong(doctor(shop, "--profiles", str(named))[1]) == [("profiles", "profile")]
    assert shop.once() == 78  # a service takes those that it is given
    elsewhere.rename(named)
    assert wrong(doctor(shop)[1]) == [("profiles", "profile")]  # STATION/profiles again


def test_a_refusal_that_is_tried_again_needs_nobody(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\n")
    shop.drop("bad one.png", b"refuse")
    assert shop.once() == 1
    assert "data-refusal" in (shop.station / "status.html").read_text()
    assert filmhand(shop, "retry", "bad one").exit_code == 0  # its ending may be left out
    (shop.root() / "drop" / "bad one.png").write_bytes(b"art now")
    assert shop.once() == 0
    (refused,) = shop.status()["refused"]
    assert (refused["after_all"], refused["tried_again"]) == (False, True)
    page = (shop.station / "status.html").read_text()
    assert "data-refusal" not in page and "has come again and is on its way" in page
    assert "Send a larger one." not in filmhand(shop, "status").stdout


def test_a_pause_is_no_illness_but_is_told(shop: Shop) -> None:
    service = shop.serve()
    wait_until((shop.state / "heartbeat.json").exists)
    assert json.loads(filmhand(shop, "health", "--json").stdout)["paused"] == []
    away = shop.root().with_name("away")
    shop.root().rename(away)
    shop.root().touch()  # something that is no folder stands in its place
    wait_until(lambda: shop.status()["profiles"][0]["paused"])
    done = filmhand(shop, "health")
    assert (done.exit_code, done.stdout.splitlines()[0]) == (0, "healthy")
    assert "paused    small: " in done.stdout
    assert stop(service) == 0


def test_a_film_that_was_held_is_listed_once_in_its_history(shop: Shop) -> None:
    shop.profile("small", PROFILE + "approve: true\n")
    shop.drop("ana/photo.png", b"art")
    assert shop.once() == 0
    assert filmhand(shop, "release", "photo").exit_code == 0
    assert shop.once() == 0
    (told,) = json.loads(filmhand(shop, "history", "photo.png", "--json").stdout)
    assert [film["file"] for film in told["films"]] == ["ana/photo.pdf", "ana/photo.tif"]
    assert shop.status()["profiles"][0]["usual_s"] is None  # this run made none
