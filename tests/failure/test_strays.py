"""Art that nobody takes: of profiles that are gone or clash, or dropped beside the drop folder."""

# ruff: noqa: F811  (the fixtures of another module)
from __future__ import annotations

import shutil

import pytest
from test_service_station import PROFILE, Shop, shop, stop, wait_until  # noqa: F401

from filmhand.service.doctor.doctor_words import Level
from filmhand.service.station import Station


def told(shop: Shop) -> list[str]:
    return list(shop.status()["faults"])


def found(shop: Shop) -> list[str]:
    findings = Station(shop.station, state=shop.state).doctor()
    return [one.say for one in findings if one.what == "art for nobody"]


@pytest.mark.parametrize("how", ["removed", "renamed", "faulty"])
def test_art_of_a_profile_that_is_gone_is_named(shop: Shop, how: str) -> None:
    shop.profile("other")
    assert shop.once() == 0
    path = shop.station / "profiles" / "small.yaml"
    if how == "renamed":
        path.rename(path.with_name("new.yaml"))
    elif how == "faulty":
        path.write_text("sheet: 1\n")
    else:
        path.unlink()
    shop.drop("a.png", b"art")
    shop.drop("class 4/b.png", b"art")
    (say,) = found(shop)
    assert str(shop.root()) in say and "in its drop folder: 2; jobs in hand: 0" in say
    process = shop.start("serve")
    wait_until(lambda: any("in its drop folder: 2;" in fault for fault in told(shop)))
    assert not shop.made("a.png")
    if how == "renamed":
        path.with_name("new.yaml").rename(path)
    else:
        shop.profile("small")
    wait_until(lambda: shop.made("a.png") and shop.made("class 4/b.png"))
    assert stop(process) == 0


def test_the_folder_elsewhere_of_a_profile_that_is_gone(shop: Shop) -> None:
    share = shop.station.with_name("share")
    shop.profile("other")
    shop.profile("small", f"{PROFILE}folder: {share}\n")
    list(Station(shop.station, state=shop.state).doctor(init=True))
    assert shop.once() == 0
    (shop.station / "profiles" / "small.yaml").unlink()
    (share / "drop" / "a.png").write_bytes(b"art")
    (say,) = found(shop)
    assert str(share) in say and "in its drop folder: 1;" in say


@pytest.mark.parametrize("newcomer", ["aaa", "zzz"])
def test_a_copied_profile_never_takes_the_folder_from_the_one_that_has_it(
    shop: Shop, newcomer: str
) -> None:
    """Whichever comes first in the alphabet, over a reload and over a restart."""
    share = shop.station.with_name("share")
    link = shop.station.with_name("link to it")
    share.mkdir()
    link.symlink_to(share)
    shop.profile("small", f"{PROFILE}folder: {share}\n")
    list(Station(shop.station, state=shop.state).doctor(init=True))
    process = shop.start("serve")
    wait_until(lambda: shop.status()["running"] and shop.status()["profiles"])
    shop.profile(newcomer, f"{PROFILE}folder: {link}\n")
    wait_until(lambda: any("already has" in fault for fault in told(shop)))
    (fault,) = [fault for fault in told(shop) if "already has" in fault]
    assert fault.startswith(str(shop.station / "profiles" / f"{newcomer}.yaml"))
    assert "small.yaml" in fault
    assert stop(process) == 0
    process = shop.start("serve")
    (share / "drop" / "a.png").write_bytes(b"art")
    wait_until((share / "originals" / "a.png").exists)
    assert [one["name"] for one in shop.status()["profiles"]] == ["small"]
    wait_until(lambda: {line["profile"] for line in shop.said("made")} == {"small"})
    assert stop(process) == 0


def test_a_host_that_remembers_nothing_leaves_the_folder_to_the_profile_of_its_name(
    shop: Shop,
) -> None:
    """As after the loss of its state; two hosts of one station must decide alike."""
    shop.profile("copy", f"{PROFILE}folder: {shop.root('small')}\n")
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    assert {line["profile"] for line in shop.said("made")} == {"small"}
    (fault,) = [fault for fault in told(shop) if "already has" in fault]
    assert fault.startswith(str(shop.station / "profiles" / "copy.yaml"))


def test_of_two_nested_folders_the_newcomer_is_the_fault(shop: Shop) -> None:
    outer = shop.station.with_name("share")
    inner = outer / "drop" / "deep"
    shop.profile("small", f"{PROFILE}folder: {inner}\n")
    inner.parent.mkdir(parents=True)
    list(Station(shop.station, state=shop.state).doctor(init=True))
    assert shop.once() == 0
    shop.profile("aaa", f"{PROFILE}folder: {outer}\n")
    assert shop.once() == 0
    assert [one["name"] for one in shop.status()["profiles"]] == ["small"]
    (fault,) = [fault for fault in told(shop) if "aaa.yaml" in fault]
    assert "holds the folder of the profile small" in fault


def test_pictures_in_the_wrong_folders_are_named_and_not_moved(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    wrong = {
        "the top of the station": shop.station / "logo.JPG",
        "the top of small's folder": shop.root() / "scan.tiff",
        "positives/ of small": shop.root() / "positives" / "class 4" / "photo.heic",
        "proofs/ of small": shop.root() / "proofs" / "photo.png",
    }
    for path in wrong.values():
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"art")
    (shop.station / "README.txt").write_text("how to drop art")
    said = found(shop)
    assert len(said) == len(wrong)
    for where, path in wrong.items():
        (say,) = [one for one in said if where in one]
        assert path.name in say and "a.pdf" not in say and "README" not in say
    process = shop.serve()
    wait_until(lambda: sum("nothing takes them" in fault for fault in told(shop)) == len(wrong))
    assert stop(process) == 0
    assert all(path.read_bytes() == b"art" for path in wrong.values())


def test_a_station_in_order_has_no_strays(shop: Shop) -> None:
    for name in ("a.png", "class 4/b.png"):
        shop.drop(name, b"pages")
    shop.drop("c.png", b"refuse")
    assert shop.once() == 1
    assert found(shop) == []
    shutil.rmtree(shop.root() / "drop" / "class 4", ignore_errors=True)
    levels = {one.what: one.level for one in Station(shop.station, state=shop.state).doctor()}
    assert levels["left over"] is Level.OK
