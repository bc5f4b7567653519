"""install.sh and the unit under a systemd of their own: a film, an upgrade, a removal.

systemd-nspawn boots this computer's own system over a layer in memory, which is all that is
written to; it has no network, so that filmhand is installed from wheels. Needs Linux, root,
Debian's package systemd-container, a /usr/bin/python3 for which the wheels fit, and a network for
these.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
PYTHON = "/usr/bin/python3"
pytestmark = pytest.mark.slow

# A test in which nothing else of the usual start takes part; its end is the end of the system.
UNIT = """\
[Unit]
SuccessAction=exit
FailureAction=exit
[Service]
Type=oneshot
ExecStart=/bin/sh /trial/trial.sh
StandardOutput=file:/trial/log
StandardError=inherit
TimeoutStartSec=20min
"""
TRIAL = f"""\
install="sh /trial/sources/deploy/install.sh --wheels /trial/wheels --python {PYTHON}"
told() {{ echo "$1: $2"; }}
wait_for() {{
    tries=0
    until ls $1 >/dev/null 2>&1 || [ "$tries" -gt 600 ]; do tries=$((tries + 1)); sleep 0.2; done
}}
told begins "$(cat /proc/1/comm)"
$install; told installed $?
told active "$(systemctl is-active filmhand)"
told enabled "$(systemctl is-enabled filmhand)"
wait_for /srv/films/small-sheet/drop
cp /trial/ramp.png /srv/films/small-sheet/drop/
wait_for '/srv/films/small-sheet/records/ramp.json'
wait_for '/srv/films/small-sheet/originals/ramp.png'
told film "$(cd /srv/films/small-sheet/positives && stat -c '%A %U %G %n' *)"
before=$(readlink /opt/filmhand/bin)
$install; told upgraded $?
[ "$before" != "$(readlink /opt/filmhand/bin)" ]; told changed $?
told active_again "$(systemctl is-active filmhand)"
told user "$(systemctl show filmhand -P User)"
told restarts "$(systemctl show filmhand -P NRestarts)"
sed -i 's/^ExecStart=.*/ExecStart=false/' /trial/sources/deploy/filmhand.service
kept=$(readlink /opt/filmhand/bin)
$install; told upgraded_to_what_fails $?
[ "$kept" = "$(readlink /opt/filmhand/bin)" ]; told put_back $?
told active_after_that "$(systemctl is-active filmhand)"
sh /trial/sources/deploy/install.sh --remove; told removed $?
told active_at_last "$(systemctl is-active filmhand)"
told left "$(ls -d /opt/filmhand /etc/systemd/system/filmhand.service 2>/dev/null)"
told films "$(ls /srv/films/small-sheet/positives)"
journalctl -b -u filmhand --no-pager | tail -n 40
"""


def run(*words: str, **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload,no-any-return]


@pytest.fixture
def system(tmp_path: Path) -> Iterator[Path]:
    """The root of a system over this one's, which is not written to."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("a system of its own needs root")
    if shutil.which("systemd-nspawn") is None or not Path("/lib/systemd/systemd").exists():
        pytest.skip("systemd-nspawn is not installed")
    layer = tmp_path / "layer"
    layer.mkdir()
    if (done := run("mount", "-t", "tmpfs", "tmpfs", str(layer))).returncode != 0:
        pytest.skip(f"nothing can be mounted here: {done.stderr}")
    try:
        for name in ("upper", "work", "root"):
            (layer / name).mkdir()
        options = f"lowerdir=/,upperdir={layer}/upper,workdir={layer}/work"
        done = run("mount", "-t", "overlay", "overlay", "-o", options, str(layer / "root"))
        if done.returncode != 0:
            pytest.skip(f"no layer can be laid over the system: {done.stderr}")
        try:
            yield layer / "root"
        finally:
            run("umount", str(layer / "root"))
    finally:
        run("umount", str(layer))


def prepare(system: Path) -> None:
    trial = system / "trial"
    (trial / "sources").mkdir(parents=True)
    for name in ("deploy", "profiles", "daemon"):
        shutil.copytree(ROOT / name, trial / "sources" / name)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, trial / "sources" / name)
    if run(
        PYTHON, "-c", "import sys, venv, ensurepip; assert sys.version_info >= (3, 11)"
    ).returncode:
        pytest.skip(f"{PYTHON} is not there, too old or without venv")
    same = f"import sys; assert sys.version_info[:2] == {sys.version_info[:2]}"
    if run(PYTHON, "-c", same).returncode:
        pytest.skip(f"{PYTHON} is of another version than {sys.executable}, which makes the wheels")
    done = run(
        "sh",
        str(ROOT / "deploy/wheels.sh"),
        str(trial / "wheels"),
        env=os.environ | {"PYTHON": sys.executable},
    )
    if done.returncode != 0:
        pytest.skip(f"no wheels can be had: {done.stderr}")
    Image.linear_gradient("L").resize((1200, 1500)).save(trial / "ramp.png")
    (trial / "trial.sh").write_text(TRIAL)
    (system / "etc/systemd/system/trial.service").write_text(UNIT)
    # What an administrator of this computer may have installed is not what is tried here.
    for path in ("opt/filmhand", "etc/filmhand", "srv/films", "var/lib/filmhand"):
        if (system / path).exists():
            pytest.skip(f"/{path} is there already")


def test_a_film_an_upgrade_and_a_removal(system: Path) -> None:
    prepare(system)
    # On a layer over another one a file and its folder seem to lie on two disks: not so in memory.
    done = run(
        *("systemd-nspawn", "--quiet", "--register=no", "--keep-unit", f"--directory={system}"),
        *("--tmpfs=/srv:mode=755", "--tmpfs=/var/lib/filmhand:mode=755", "--private-network"),
        *("--machine=filmhand-trial", "--boot", "systemd.unit=trial.service"),
        timeout=1300,
        stdin=subprocess.DEVNULL,
    )
    log = system / "trial/log"
    words = log.read_text() if log.exists() else ""
    if "begins: systemd" not in words:
        pytest.skip(f"systemd cannot start here: {done.stdout[-500:]}{done.stderr[-500:]}")
    told = dict(line.split(": ", 1) for line in words.splitlines() if ": " in line)
    assert (told["installed"], told["active"], told["enabled"]) == ("0", "active", "enabled"), words
    assert told["film"] == "-rw-rw-r-- filmhand filmhand ramp.pdf", words
    assert (told["upgraded"], told["changed"], told["active_again"]) == ("0", "0", "active"), words
    assert (told["user"], told["restarts"]) == ("filmhand", "0"), words
    failed = (told["upgraded_to_what_fails"], told["put_back"], told["active_after_that"])
    assert failed == ("1", "0", "active"), words
    assert (told["removed"], told["active_at_last"], told["left"]) == ("0", "inactive", ""), words
    assert told["films"] == "ramp.pdf", words
