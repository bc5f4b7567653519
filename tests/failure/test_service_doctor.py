"""`doctor`, `history` and `health` as commands: what they find, say, and leave behind."""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from pathlib import Path
from typing import Any

from click.testing import CliRunner
from test_service_station import PROFILE, Shop, shop, stop, wait_until

from filmhand.cli import main

__all__ = ["shop"]


def filmhand(shop: Shop, command: str, *words: object) -> Any:
    state = ["--state", str(shop.state)]
    done = CliRunner().invoke(main, [command, str(shop.station), *map(str, words), *state])
    assert "Traceback" not in done.stderr
    return done


def doctor(shop: Shop, *words: str) -> tuple[int, list[dict[str, Any]]]:
    done = filmhand(shop, "doctor", "--json", *words)
    return done.exit_code, json.loads(done.stdout)


def wrong(findings: list[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(one["where"], one["what"]) for one in findings if one["level"] == "wrong"]


def everything(folder: Path) -> set[Path]:
    return set(folder.rglob("*"))


# --- doctor --------------------------------------------------------------------------------------


def test_a_new_station_is_well_and_stays_as_it_is(shop: Shop) -> None:
    before = everything(shop.station.parent)
    code, findings = doctor(shop)
    assert (code, wrong(findings)) == (0, [])
    assert everything(shop.station.parent) == before
    for one in findings:
        assert one["level"] in {"ok", "note", "wrong"}
        assert one["say"].endswith(".")
        assert one["level"] == "ok" or one["do"]


def test_a_running_station_is_well_and_not_disturbed(shop: Shop) -> None:
    service = shop.serve()
    code, findings = doctor(shop)
    assert (code, wrong(findings)) == (0, [])
    assert "runs." in next(one["say"] for one in findings if one["what"] == "service")
    assert not [path for path in shop.station.rglob("*") if "trial" in path.name]
    assert stop(service) == 0
    assert not shop.said("paused")


def test_every_line_is_for_people(shop: Shop) -> None:
    (shop.station / "profiles" / "bad.yaml").write_text("lpi: many\n")
    done = filmhand(shop, "doctor")
    assert done.exit_code == 1
    lines = done.stdout.splitlines()
    assert {line[:8].strip() for line in lines} == {"ok", "wrong", ""}
    assert "bad.yaml line 1" in " ".join(done.stdout.split())  # however it is broken into lines


def test_only_init_prepares_a_folder_elsewhere(shop: Shop, tmp_path: Path) -> None:
    share = tmp_path / "share" / "films"
    shop.profile("away", PROFILE + f"folder: {share}\n")
    code, findings = doctor(shop)
    assert (code, wrong(findings)) == (1, [("away", "marker")])
    assert not share.parent.exists()
    code, findings = doctor(shop, "--init")
    assert (code, wrong(findings)) == (1, [("away", "prepared")])  # the folder above is missing
    assert not share.parent.exists()
    share.parent.mkdir()
    code, findings = doctor(shop, "--init")
    assert (code, wrong(findings)) == (0, [])
    assert (share / ".filmhand" / "folder.json").is_file()
    assert not shop.root().exists()  # folders under the station are the service's to make
    assert doctor(shop)[0] == 0
    shop.drop("a.png", b"art")
    (share / "drop" / "b.png").write_bytes(b"art b")
    assert shop.once() == 0
    assert (share / "originals" / "b.png").is_file()


def test_an_output_folder_inside_a_drop_folder_is_refused(shop: Shop) -> None:
    drop = shop.root() / "drop"
    shop.profile("round", PROFILE + f"folder: {drop / 'again'}\n")
    code, findings = doctor(shop)
    assert code == 1
    (fault,) = [one["say"] for one in findings if one["level"] == "wrong"]
    assert "round" in fault and "lies inside" in fault
    drop.mkdir(parents=True)
    assert shop.once() == 0  # the other profile is served, this one is not
    assert not (drop / "again").exists()


def test_an_output_folder_that_leads_into_a_drop_folder_is_told(shop: Shop) -> None:
    shop.profile("large")
    assert shop.once() == 0
    (shop.root("large") / "positives").rmdir()
    (shop.root("large") / "positives").symlink_to(shop.root() / "drop")
    code, findings = doctor(shop)
    assert code == 1
    assert ("large", "folders") in wrong(findings)


def test_silent_hosts_stuck_jobs_and_forgotten_files_are_told(shop: Shop) -> None:
    assert shop.once() == 0
    other = shop.root() / ".filmhand" / "other-0000000a"
    (other / "20260301T100000-00000001").mkdir(parents=True)
    (other / "alive").write_text("{}")
    (shop.root() / "drop" / "poster.png.part").write_bytes(b"x")
    for path in (*everything(other), shop.root() / "drop" / "poster.png.part"):
        os.utime(path, (1_700_000_000, 1_700_000_000))
    code, findings = doctor(shop)
    notes = {one["what"]: one["say"] for one in findings if one["level"] == "note"}
    assert code == 0
    assert "other-0000000a gave its last sign of life" in notes["other host"]
    assert "days ago and has 1 job in hand" in notes["other host"]
    assert "20260301T100000-00000001" in notes["job"]
    assert "poster.png.part" in notes["left in drop"]


def test_without_profiles_it_says_where_it_looked(shop: Shop) -> None:
    shutil.rmtree(shop.station / "profiles")
    code, findings = doctor(shop)
    assert (code, wrong(findings)) == (1, [("profiles", "profile")])


# --- history -------------------------------------------------------------------------------------


def history(shop: Shop, name: str) -> list[tuple[str, str]]:
    done = filmhand(shop, "history", name, "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == (0 if told else 1)
    return [(one["outcome"], one["name"]) for one in told]


def test_history_is_told_from_the_folders_alone(shop: Shop) -> None:
    shop.drop("class/a.png", b"art")
    shop.drop("b.png", b"refuse")
    assert shop.once() == 1
    shop.drop("class/a.png", b"art once more")
    assert shop.once() == 0
    shop.drop("class/a.png", b"art that waits")
    shutil.rmtree(shop.state)
    for name in ("a.png", "class/a.png", "a"):
        found = history(shop, name)
        assert found[-1] == ("waiting", "class/a.png")
        assert [outcome for outcome, _ in found] == ["made", "made", "waiting"]
    assert history(shop, "a-2.pdf") == [("made", "class/a.png")]
    assert history(shop, "b.png") == [("refused", "b.png")]
    assert history(shop, "c.png") == []
    record = json.loads((shop.root() / "records" / "class" / "a.json").read_bytes())
    assert history(shop, record["job"]) == [("made", "class/a.png")]


def test_history_remembers_what_was_taken_away(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    shutil.rmtree(shop.root())
    assert history(shop, "a.png") == [("made", "a.png")]
    plain = filmhand(shop, "history", "a.png").stdout
    assert "a.pdf (no longer in positives)" in plain


def test_history_takes_in_a_ledger_that_is_no_ledger(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    for path in shop.state.glob("ledger.sqlite*"):
        path.unlink()
    (shop.state / "ledger.sqlite").write_bytes(b"garbage" * 1000)
    assert history(shop, "a.png") == [("made", "a.png")]


# --- health --------------------------------------------------------------------------------------


def test_health_of_a_service_that_runs_and_of_one_that_was_killed(shop: Shop) -> None:
    assert filmhand(shop, "health").exit_code == 1
    service = shop.serve()
    wait_until((shop.state / "heartbeat.json").exists)
    done = filmhand(shop, "health", "--json")
    assert done.exit_code == 0
    assert set(json.loads(done.stdout)["look_age_s"]) == {"small"}
    service.kill()
    service.wait()
    done = filmhand(shop, "health")
    assert (done.exit_code, done.stdout) == (1, "Filmhand is not running for this station.\n")


def test_a_lock_without_a_sign_of_life_is_no_health(shop: Shop) -> None:
    shop.state.mkdir()
    with (shop.state / "lock").open("ab") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert filmhand(shop, "health").exit_code == 1


# --- all of them ---------------------------------------------------------------------------------


def test_every_command_of_a_station_has_help_with_an_example() -> None:
    for command in ("serve", "once", "status", "doctor", "history", "retry", "health"):
        done = CliRunner().invoke(main, [command, "--help"], prog_name="filmhand")
        assert done.exit_code == 0
        assert f"Example:\n    filmhand {command}" in done.stdout


def test_wrong_words_are_usage_errors(shop: Shop) -> None:
    assert filmhand(shop, "history").exit_code == 2
    assert filmhand(shop, "doctor", "--inti").exit_code == 2
    done = filmhand(shop, "retry", "20260301T100000-00000000")
    assert done.exit_code == 1
    assert "No refused file or job" in done.stderr
