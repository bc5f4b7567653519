"""What deploy/ names is there: paths of the sources, commands and their options, extras, users."""

from __future__ import annotations

import ipaddress
import json
import plistlib
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest

from filmhand.cli.main import main

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())


def instructions() -> list[tuple[str, str]]:
    """Word and rest of each instruction of the Containerfile."""
    text = (DEPLOY / "Containerfile").read_text()
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    whole = re.sub(r"\\\n\s*", " ", "\n".join(lines))
    return [(line.split(" ", 1)[0], line.split(" ", 1)[1].strip()) for line in whole.splitlines()]


def of(word: str) -> list[str]:
    return [rest for first, rest in instructions() if first == word]


def parsed(words: list[str]) -> dict[str, object]:
    """What filmhand's own command line makes of the words, without doing it."""
    assert Path(words[0]).name == "filmhand"
    command = main.commands[words[1]]
    with click.Context(command, info_name=words[1]) as context:
        command.parse_args(context, words[2:])
        return dict(context.params)


def health_check() -> list[str]:
    return list(json.loads(of("HEALTHCHECK")[0].partition(" CMD ")[2]))


def unit_command() -> list[str]:
    unit = (DEPLOY / "filmhand.service").read_text()
    return shlex.split(re.findall(r"^ExecStart=(.*)$", unit, re.MULTILINE)[0])


def test_every_instruction_is_one_that_container_files_have() -> None:
    known = {"FROM", "COPY", "RUN", "USER", "VOLUME", "STOPSIGNAL", "HEALTHCHECK", "CMD"}
    words = [word for word, _ in instructions()]
    assert words[0] == "FROM"
    assert set(words) <= known
    assert (words.count("CMD"), words.count("HEALTHCHECK")) == (1, 1)


def test_the_sources_that_are_copied_suffice_to_build() -> None:
    copied = {name for rest in of("COPY") if "--from=" not in rest for name in rest.split()[:-1]}
    assert all((ROOT / name).exists() for name in copied)
    needed = {"pyproject.toml", PROJECT["project"]["readme"]}
    needed |= set(PROJECT["tool"]["setuptools"]["packages"]["find"]["where"])
    assert needed <= copied


@pytest.mark.parametrize("page", ["Containerfile", "install.sh", "wheels.sh"])
def test_the_extras_that_are_installed_exist(page: str) -> None:
    named = re.findall(r"pip (?:install|wheel)[^\n]*\[(\w+)\]", (DEPLOY / page).read_text())
    assert set(named) == {"all"}
    assert set(named) <= set(PROJECT["project"]["optional-dependencies"])


def test_the_image_has_a_python_that_filmhand_takes() -> None:
    found = re.search(r"python:(\d+)\.(\d+)", of("FROM")[0])
    least = re.search(r"(\d+)\.(\d+)", PROJECT["project"]["requires-python"])
    assert found is not None and least is not None
    assert tuple(map(int, found.groups())) >= tuple(map(int, least.groups()))


def test_wheels_are_made_for_the_common_platforms() -> None:
    for system, expected in {
        "linux": {"manylinux_x86_64", "manylinux_aarch64", "musllinux_x86_64", "musllinux_aarch64"},
        "macos": {"macosx_x86_64", "macosx_arm64"},
    }.items():
        told = subprocess.run(
            [
                *(sys.executable, "-P", "-m", "cibuildwheel", "--print-build-identifiers"),
                *("--config-file", str(DEPLOY / "cibuildwheel.toml"), "--platform", system),
            ],
            cwd=ROOT,
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        assert set(told.split()) == {f"cp311-{platform}" for platform in expected}


def test_nobody_is_root_and_the_folders_are_the_users() -> None:
    (user,) = of("USER")
    number, group = user.split(":")
    assert number.isdecimal() and int(number) > 0
    making = next(rest for rest in of("RUN") if "useradd" in rest)
    assert f"--uid {number} --gid {group}" in making
    for folder in json.loads(of("VOLUME")[0]):
        assert folder in making.partition("install -d")[2].split()


def test_the_container_is_asked_for_its_health_where_it_works() -> None:
    served = parsed(json.loads(of("CMD")[0]))
    asked = parsed(health_check())
    assert (asked["station"], asked["state"]) == (served["station"], served["state"])
    assert json.loads(of("VOLUME")[0]) == [str(served["station"]), str(served["state"])]


def test_the_health_check_leaves_time_to_start_and_to_answer() -> None:
    options = dict(re.findall(r"--([a-z-]+)=(\d+)", of("HEALTHCHECK")[0]))
    assert set(options) == {"interval", "timeout", "start-period", "retries"}
    assert int(options["timeout"]) < int(options["interval"])


def test_the_unit_names_options_that_exist() -> None:
    given = parsed(unit_command())
    assert str(given["station"]) == "/srv/films"


def test_the_unit_is_one_that_systemd_reads(tmp_path: Path) -> None:
    """systemd-analyze(1), verify; the program stands in for the one that is not installed here."""
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not installed")
    unit = tmp_path / "filmhand.service"
    text = (DEPLOY / "filmhand.service").read_text()
    unit.write_text(text.replace(unit_command()[0], "/bin/sh"))
    done = subprocess.run([tool, "verify", str(unit)], capture_output=True, text=True, check=False)
    if "SO_PASSCRED" in done.stderr or "Failed to initialize manager" in done.stderr:
        pytest.skip(f"systemd-analyze cannot work here: {done.stderr.strip()}")
    assert (done.returncode, done.stderr) == (0, "")


def test_a_unit_with_a_misspelled_key_is_noticed(tmp_path: Path) -> None:
    """The check above can fail."""
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not installed")
    unit = tmp_path / "filmhand.service"
    unit.write_text("[Service]\nExecStart=/bin/sh\nWatchdogSek=1\n")
    done = subprocess.run([tool, "verify", str(unit)], capture_output=True, text=True, check=False)
    assert "WatchdogSek" in done.stderr


def test_a_worker_that_is_ended_for_want_of_memory_leaves_the_service_running() -> None:
    """systemd.service(5): with `stop`, the usual one, the whole unit is stopped."""
    assert "OOMPolicy=continue" in (DEPLOY / "filmhand.service").read_text().splitlines()


def settings(name: str, key: str) -> list[str]:
    """All values of a key of a unit or drop-in, word by word."""
    lines = re.findall(rf"^{key}=(.*)$", (DEPLOY / name).read_text(), re.MULTILINE)
    return [word for line in lines for word in line.split()]


def exposure(file: Path) -> float:
    """By systemd-analyze(1), security."""
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not installed")
    command = [tool, "security", "--offline=true", "--no-pager", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = re.search(r"exposure level for \S+: ([\d.]+)", done.stdout)
    if found is None:
        pytest.skip(f"systemd-analyze cannot judge units without a manager: {done.stderr.strip()}")
    return float(found[1])


def test_the_unit_is_shut_in(tmp_path: Path) -> None:
    unit = DEPLOY / "filmhand.service"
    assert exposure(unit) <= 1.0
    open_one = tmp_path / "filmhand.service"
    open_one.write_text(unit.read_text().replace("PrivateMounts=yes\n", ""))
    assert exposure(open_one) > exposure(unit)


def test_the_unit_lets_the_processes_that_read_pictures_shut_themselves_in() -> None:
    allowed = settings("filmhand.service", "SystemCallFilter")
    for call in ("landlock_create_ruleset", "landlock_add_rule", "landlock_restrict_self"):
        assert call in allowed
    assert settings("filmhand.service", "SystemCallErrorNumber") == ["EPERM"]
    assert settings("filmhand.service", "CapabilityBoundingSet") == ["CAP_LEASE"]
    assert settings("filmhand.service", "AmbientCapabilities") == ["CAP_LEASE"]


def test_addresses_nearby_are_all_that_the_unit_allows() -> None:
    assert settings("filmhand.service", "IPAddressDeny") == ["any"]
    near = settings("filmhand.service", "IPAddressAllow")
    assert near[0] == "localhost"
    for network in map(ipaddress.ip_network, near[1:]):
        assert network.is_private or network.is_link_local or network.is_multicast
    assert settings("filmhand.service", "RestrictAddressFamilies") == ["AF_UNIX"]


@pytest.mark.parametrize(
    ("name", "allowed"), [("filmhand-network.conf", []), ("filmhand-outward.conf", ["any"])]
)
def test_drop_ins_open_what_they_say_and_tell_how_they_are_put_in(
    tmp_path: Path, name: str, allowed: list[str]
) -> None:
    assert settings(name, "RestrictAddressFamilies") == ["AF_INET", "AF_INET6"]
    assert settings(name, "IPAddressAllow") == allowed
    text = (DEPLOY / name).read_text()
    assert f"install -D -m 644 deploy/{name} /etc/systemd/system/filmhand.service.d/" in text
    assert f"({name})" in (DEPLOY / "README.md").read_text()
    tool = shutil.which("systemd-analyze")
    if tool is not None:
        unit = tmp_path / "filmhand.service"
        unit.write_text("[Service]\nExecStart=/bin/sh\n" + text.partition("[Service]\n")[2])
        done = subprocess.run(
            [tool, "verify", str(unit)], capture_output=True, text=True, check=False
        )
        assert "Unknown" not in done.stderr and "Failed to parse" not in done.stderr


def test_the_container_is_run_with_no_more_than_it_needs() -> None:
    text = (DEPLOY / "Containerfile").read_text()
    words = " ".join(line.lstrip("# ").rstrip("\\") for line in text.splitlines()).split()
    run = words[words.index("run") : words.index("filmhand-state:/state")]
    for option in ("--read-only", "--tmpfs", "--cap-drop", "no-new-privileges", "none"):
        assert option in run
    assert run[run.index("--cap-drop") + 1] == "all"
    assert "/etc/filmhand/profiles:/profiles:ro" in run


def test_the_file_for_launchd_starts_the_service_as_a_user_of_its_own() -> None:
    """launchd.plist(5)."""
    told = plistlib.loads((DEPLOY / "filmhand.plist").read_bytes())
    given, unit = parsed(told["ProgramArguments"]), parsed(unit_command())
    assert {key for key, value in given.items() if value} == {k for k, v in unit.items() if v}
    assert told["UserName"].startswith("_")
    assert told["Umask"] == 0o002
    assert told["HardResourceLimits"]["Core"] == 0
    assert told["ExitTimeOut"] >= 660
