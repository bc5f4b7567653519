"""deploy/install.sh in a scratch root, with a small program in the place of filmhand."""

from __future__ import annotations

import base64
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
pytestmark = pytest.mark.slow

PROGRAM = """\
import sys
def main():
    if "--version" in sys.argv:
        print("filmhand, version {version}")
    return {code}
"""


def make_wheel(folder: Path, version: str, code: int = 0) -> None:
    """A wheel by the binary distribution format, with no more in it than what is looked at."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.whl"):
        old.unlink()
    info = f"filmhand-{version}.dist-info"
    files = {
        "filmhand.py": PROGRAM.format(version=version, code=code),
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: filmhand\nVersion: {version}\n"
        "Provides-Extra: all\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
        f"{info}/entry_points.txt": "[console_scripts]\nfilmhand = filmhand:main\n",
    }
    with zipfile.ZipFile(folder / f"filmhand-{version}-py3-none-any.whl", "w") as wheel:
        record = ""
        for name, text in files.items():
            wheel.writestr(name, text)
            digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest())
            record += f"{name},sha256={digest.decode().rstrip('=')},{len(text)}\n"
        wheel.writestr(f"{info}/RECORD", record + f"{info}/RECORD,,\n")


class Computer:
    """A scratch root whose path has spaces, and a folder of wheels."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "a scratch root; or two"
        self.root.mkdir()
        self.wheels = folder / "my wheels"
        self.place = self.root / "opt/filmhand"
        self.station = self.root / "srv/films"
        self.unit = self.root / "etc/systemd/system/filmhand.service"
        make_wheel(self.wheels, "1.0")

    def start(self, *more: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            ["sh", str(DEPLOY / "install.sh"), "--root", str(self.root), *more],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"PIP_NO_INDEX": "1"},
            start_new_session=True,
        )

    def run(self, *more: str, code: int = 0) -> str:
        """What it says, all of it."""
        process = self.start(*more)
        out, err = process.communicate(timeout=200)
        assert process.returncode == code, out + err
        return out + err

    def install(self, code: int = 0) -> str:
        return self.run("--wheels", str(self.wheels), "--python", sys.executable, code=code)

    def version(self) -> str:
        program = self.place / "bin/filmhand"
        apart = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
        done = subprocess.run(
            [program, "--version"], capture_output=True, text=True, check=True, env=apart
        )
        return done.stdout.split()[-1]

    def versions(self) -> list[Path]:
        return sorted(self.place.glob("version-*"))


@pytest.fixture
def computer(tmp_path: Path) -> Computer:
    if shutil.which("sh") is None or not sys.platform.startswith("linux"):
        pytest.skip("the script is for Linux")
    return Computer(tmp_path)


def everything(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def test_from_the_first_run_to_the_second_removal(computer: Computer) -> None:
    assert "systemd does not run here" in computer.install()
    assert computer.version() == "1.0"
    assert computer.unit.read_text() == (DEPLOY / "filmhand.service").read_text()
    wanted = computer.unit.parent / "multi-user.target.wants/filmhand.service"
    assert wanted.resolve() == computer.unit.resolve()
    profiles = computer.root / "etc/filmhand/profiles"
    assert [path.name for path in profiles.iterdir()] == ["small-sheet.yaml"]
    assert computer.station.stat().st_mode & 0o7777 == 0o2775
    film = computer.station / "film.pdf"
    film.write_bytes(b"a customer's")
    (profiles / "small-sheet.yaml").write_text("# mine\n")
    before = everything(computer.root) - everything(computer.place)

    computer.install()  # a second time
    assert computer.version() == "1.0" and len(computer.versions()) == 1
    assert (profiles / "small-sheet.yaml").read_text() == "# mine\n"

    make_wheel(computer.wheels, "2.0")  # an upgrade
    computer.install()
    assert computer.version() == "2.0" and len(computer.versions()) == 1

    make_wheel(computer.wheels, "3.0", code=3)  # what does not run is not taken
    assert "does not run" in computer.install(code=1)
    assert computer.version() == "2.0" and len(computer.versions()) == 1

    said = computer.run("--remove")
    assert "Kept: the station /srv/films" in said
    assert not computer.place.exists() and not computer.unit.exists()
    assert not wanted.is_symlink()
    assert film.read_bytes() == b"a customer's"
    assert (profiles / "small-sheet.yaml").read_text() == "# mine\n"
    assert "not installed" in computer.run("--remove")
    assert everything(computer.root) <= before


def test_killed_half_way_and_run_again(computer: Computer) -> None:
    computer.install()
    make_wheel(computer.wheels, "2.0")
    killed = 0
    for seconds in (0.3, 1.0, 2.0):
        process = computer.start("--wheels", str(computer.wheels), "--python", sys.executable)
        time.sleep(seconds)
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            killed += 1
        process.communicate(timeout=60)
        assert computer.version() in ("1.0", "2.0")
    assert killed
    computer.install()
    assert computer.version() == "2.0"
    assert len(computer.versions()) == 1


def test_a_station_elsewhere_is_kept_in_mind(computer: Computer) -> None:
    words = ("--wheels", str(computer.wheels), "--python", sys.executable)
    computer.run(*words, "--station", "/data/my-films", "--prefix", "/usr/local/lib/filmhand")
    text = computer.unit.read_text()
    assert "ExecStart=/usr/local/lib/filmhand/bin/filmhand serve /data/my-films " in text
    assert "ReadWritePaths=/data/my-films" in text
    assert "/srv/films" not in text and "/opt/" not in text
    computer.run(*words, "--prefix", "/usr/local/lib/filmhand")
    assert computer.unit.read_text() == text
    computer.unit.write_text(text + "# mine\n")
    said = computer.run(*words, "--prefix", "/usr/local/lib/filmhand")
    assert "changed by hand" in said and computer.unit.read_text() == text + "# mine\n"
    said = computer.run("--remove", "--prefix", "/usr/local/lib/filmhand")
    assert (computer.unit.parent / "filmhand.service.removed").read_text() == text + "# mine\n"
    assert (computer.root / "data/my-films").is_dir()


def test_a_virtual_environment_made_by_hand_is_kept_aside(computer: Computer) -> None:
    for name in ("pyvenv.cfg", "bin/filmhand"):
        (computer.place / name).parent.mkdir(parents=True, exist_ok=True)
        (computer.place / name).write_text("by hand")
        (computer.place / name).chmod(0o755)
    assert "made by hand" in computer.install()
    assert (computer.root / "opt/filmhand.by-hand/bin/filmhand").read_text() == "by hand"
    assert computer.version() == "1.0"


def test_a_folder_of_somebody_else_is_left_alone(computer: Computer) -> None:
    computer.place.mkdir(parents=True)
    (computer.place / "precious").write_text("mine")
    assert "choose another" in computer.install(code=1)
    assert "not installed" in computer.run("--remove")
    assert everything(computer.root) == {"opt", "opt/filmhand", "opt/filmhand/precious"}


@pytest.mark.parametrize(
    "prefix",
    ["/", "/opt", "opt/filmhand", "/opt/film hand", "/opt/../etc", "/opt/filmhand/", "//a/b"],
)
def test_paths_that_a_unit_cannot_name_are_refused(computer: Computer, prefix: str) -> None:
    assert "is not taken" in computer.run("--prefix", prefix, code=1)
    assert "is not taken" in computer.run("--prefix", prefix, "--remove", code=1)
    assert everything(computer.root) == set()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--remote"], 64),
        (["--prefix"], 64),
        (["--prefix", ""], 64),
        (["--wheels", "/nonexistent"], 1),
        (["--wheels", "/"], 1),
    ],
)
def test_what_is_wrong_is_said_before_anything_is_done(
    computer: Computer, words: list[str], code: int
) -> None:
    said = computer.run(*words, code=code)
    assert said.splitlines()[-1].startswith("install.sh: ")
    assert everything(computer.root) == set()


@pytest.mark.parametrize("station", ["/opt/filmhand", "/opt/filmhand/films"])
def test_station_and_program_are_kept_apart(computer: Computer, station: str) -> None:
    words = ("--wheels", str(computer.wheels), "--python", sys.executable)
    assert "keep them apart" in computer.run(*words, "--station", station, code=1)
    assert "keep them apart" in computer.run(
        *words, "--station", "/srv/films", "--prefix", "/srv/films/program", code=1
    )
    assert everything(computer.root) == set()


def test_without_rights_nothing_is_done() -> None:
    if not hasattr(os, "geteuid") or os.geteuid() != 0 or shutil.which("setpriv") is None:
        pytest.skip("only root can try out being somebody else, with setpriv(1)")
    script = (DEPLOY / "install.sh").read_bytes()
    done = subprocess.run(
        ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "sh", "-s"],
        input=script,
        capture_output=True,
        check=False,
        cwd="/",
    )
    assert done.returncode == 1
    assert b"only root can install" in done.stderr


def test_two_at_a_time(computer: Computer) -> None:
    if shutil.which("flock") is None:
        pytest.skip("flock is not installed")
    words = ("--wheels", str(computer.wheels), "--python", sys.executable)
    both = [computer.start(*words), computer.start(*words)]
    said = [process.communicate(timeout=200)[1] for process in both]
    codes = sorted(process.returncode for process in both)
    assert codes == [0, 1], said
    assert any("another installation" in words for words in said)
    assert computer.version() == "1.0"


@pytest.mark.parametrize("words", [[], ["full"]])
def test_wheels_go_into_a_new_folder_only(tmp_path: Path, words: list[str]) -> None:
    """What it makes is installed by tests/failure/test_under_systemd.py."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "old.whl").write_text("old")
    done = subprocess.run(
        ["sh", str(DEPLOY / "wheels.sh"), *words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1 and done.stderr.startswith("wheels.sh: ")
    assert everything(tmp_path) == {"full", "full/old.whl"}
