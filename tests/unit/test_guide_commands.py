"""Every command that the guide and the README show is run, in their order, in a folder of its own.

What stands indented in a page and is a command of this program or of the shell is found here; a
line that nobody runs and nobody excuses in :data:`ELSEWHERE` fails.
"""

from __future__ import annotations

import json
import os
import pty
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import filmhand
from filmhand.cli.main import main
from filmhand.guide import page_names, read_page
from filmhand.profile.read.load import load_profile
from press.scans import Scanner
from press.wedges import AS_FILM, print_of

REPOSITORY = Path(__file__).parents[2]
PROFILE = """\
sheet: 5 x 5 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
angle: 22.5
settle: 50 ms
"""
COMMAND = re.compile(r"^ {4,}((?:[^\s=]*/)?(?:filmhand|python3?|pip|sh)\b(?!/\s).*)$")
# What cannot be run here, and what holds it instead.
ELSEWHERE = {
    "sh demo/run.sh": "tests/failure/test_demo_script.py",
    "sh tests/run.sh": "tests/run.sh",  # is running now
    "sh print-by-lp.sh STATION/poster/positives /var/lib/film-notes":
        "tests/unit/test_print_by_lp.py",
}  # fmt: skip
# Exit codes where no service runs meanwhile and no profile names a printer.
CODES = {
    "status": {3}, "health": {1}, "once": {0, 1}, "cancel": {1}, "reprint": {1},
    "doctor --printers": {0, 1},  # no printer need announce itself here
}  # fmt: skip
# What was refused, and what waits for approval.
NAMES = {"retry": "note.png", "release": "waiting.jpg", "discard": "unwanted.jpg"}
STANDS_FOR = {
    "STATION": "station", "FOLDER": "profiles", "NAME": "poster.jpg", "WORD": "mesh",
    "FILE": "figures.txt", "HOST:PORT": "127.0.0.1:0", "film.pdf": "positives/poster.pdf",
    "film.tif": "positives/poster.pdf", "FILM": "positives/poster.pdf",
}  # fmt: skip


def texts() -> dict[str, str]:
    pages = {name: read_page(name) for name, _ in page_names()}
    return pages | {"README": (REPOSITORY / "README.md").read_text(encoding="utf-8")}


def commands_in(text: str) -> Iterator[str]:
    """The commands of indented blocks without what explains them, and longer ones inline."""
    for line in text.splitlines():
        found = COMMAND.match(line)
        if found and not line.lstrip().startswith("filmhand_"):
            yield re.split(r"\s{2,}|\s#|\s\\$", found[1])[0]
    for inline in re.findall(r"`(filmhand\s+[a-z-]+\s+[^`]+)`", text):
        yield " ".join(inline.split())


SHOWN = {name: list(commands_in(text)) for name, text in texts().items()}


class Shop:
    """A folder with what the pages take for granted: art, profiles, a station that has worked."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        home = folder / "home"
        home.mkdir()
        path = [str(Path(filmhand.__file__).parents[1]), *sys.path]
        self.env = os.environ | {
            "HOME": str(home), "XDG_STATE_HOME": str(home / "state"),
            "XDG_CACHE_HOME": str(home / "cache"), "PYTHONPATH": os.pathsep.join(path),
        }  # fmt: skip
        ramp = np.tile(np.linspace(0, 255, 600).astype(np.uint8), (600, 1))
        for name in ("poster.jpg", "art.jpg"):
            Image.fromarray(ramp).save(folder / name)
        for profiles in (folder / "profiles", folder / "station" / "profiles"):
            profiles.mkdir(parents=True)
            (profiles / "small-sheet.yaml").write_text(PROFILE)
        self.job = ""

    def fill_station(self) -> None:
        drop = self.folder / "station" / "small-sheet" / "drop"
        drop.mkdir(parents=True)
        for name in ("poster.jpg", "logo.png"):
            shutil.copy(self.folder / "poster.jpg", drop / name)
        (drop / "note.png").write_text("only words")
        profile = self.folder / "station" / "profiles" / "approved.yaml"
        profile.write_text(PROFILE + "approve: true\n")
        held = self.folder / "station" / "approved" / "drop"
        (held / "anna").mkdir(parents=True)
        for name in ("waiting.jpg", "unwanted.jpg", "anna/photo.jpg"):
            shutil.copy(self.folder / "poster.jpg", held / name)
        assert self.run(["once", "station"]) == 1
        log = drop.parent / "rejected" / "rejections.jsonl"
        self.job = json.loads(log.read_text())["job"]
        shutil.copytree(drop.parent / "positives", self.folder / "positives")

    def scan_wedge(self) -> None:
        """A picture of the wedge as a press prints it that adds nothing."""
        profile = load_profile(self.folder / "profiles" / "small-sheet.yaml")
        scan = print_of(profile, AS_FILM).scanned(Scanner(ppi=300))
        Image.fromarray(scan).save(self.folder / "scan.png")

    def run(self, words: list[str]) -> int:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "filmhand", *words],
            cwd=self.folder, env=self.env, capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        assert "Traceback" not in done.stderr
        self.said = done.stdout + done.stderr
        return done.returncode

    def serve(self, words: list[str]) -> int:
        """Until the page is there; then stopped as Ctrl-C does."""
        page = self.folder / "station" / "status.html"
        page.unlink(missing_ok=True)
        child = subprocess.Popen(
            [sys.executable, "-P", "-m", "filmhand", *words],
            cwd=self.folder, env=self.env, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        until = time.monotonic() + 120
        while not page.exists() and child.poll() is None and time.monotonic() < until:
            time.sleep(0.05)
        child.send_signal(signal.SIGINT)
        _, self.said = child.communicate(timeout=120)
        assert page.exists(), self.said
        return child.returncode

    def answer(self, words: list[str]) -> int:
        """On a pseudo-terminal, pty(7), where each question is answered with Enter."""
        ours, theirs = pty.openpty()
        child = subprocess.Popen(
            [sys.executable, "-P", "-m", "filmhand", *words],
            cwd=self.folder, env=self.env, stdin=theirs, stdout=theirs, stderr=theirs,
        )  # fmt: skip
        os.close(theirs)
        self.said = ""
        try:
            while piece := os.read(ours, 1000):
                self.said += piece.decode()
                if self.said.endswith("]: "):
                    os.write(ours, b"\n")
        except OSError:  # Linux says so when the last writer has gone
            pass
        os.close(ours)
        return child.wait(60)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def words_of(command: str, job: str) -> list[str]:
    """What is typed behind `filmhand`, with what the capitals stand for."""
    _, *words = shlex.split(command)
    stand = STANDS_FOR | {"JOB": job}
    stand["NAME"] = NAMES.get(words[0], stand["NAME"])
    return [stand.get(word, word) for word in words]


def run_one(shop: Shop, command: str) -> None:
    words = words_of(command, shop.job)
    assert words[0] in main.commands, command
    if words[0] == "serve":
        code, may = shop.serve(words), {0}
    elif words[0] == "new-profile" and not any(word.startswith("--") for word in words):
        code, may = shop.answer(words), {0}
    else:
        code, may = shop.run(words), CODES.get(" ".join(words[:2]), CODES.get(words[0], {0}))
    assert code in may, f"{command}\n{shop.said}"


def is_ours(command: str) -> bool:
    return command.startswith("filmhand ")


@pytest.mark.slow
@pytest.mark.parametrize(
    "page", [name for name, shown in SHOWN.items() if any(map(is_ours, shown))]
)
def test_what_a_page_tells_to_type_works_in_its_order(shop: Shop, page: str) -> None:
    shown = [command for command in SHOWN[page] if is_ours(command)]
    if any(re.search(r"(?i)\bstation\b|positives|film\.pdf", command) for command in shown):
        shop.fill_station()
    if any("scan.png" in command for command in shown):
        shop.scan_wedge()
    for command in dict.fromkeys(shown):
        run_one(shop, command)


def others() -> list[str]:
    return [command for shown in SHOWN.values() for command in shown if not is_ours(command)]


@pytest.mark.parametrize("command", sorted(set(others())))
def test_what_else_there_is_to_type(shop: Shop, command: str) -> None:
    words = shlex.split(command)
    if "install" in words and Path(words[0]).name == "pip":
        _installs_what_there_is(words[words.index("install") + 1 :])
    elif words[:3] == ["python3", "-m", "venv"]:
        made = shop.folder / "made"
        subprocess.run([sys.executable, "-m", "venv", "--without-pip", made], check=True)
        assert (made / "bin" / "python").exists()
    else:
        assert command in ELSEWHERE, f"nothing runs {command}"
        assert (REPOSITORY / ELSEWHERE[command]).is_file()


def _installs_what_there_is(words: list[str]) -> None:
    """The network is not asked; what is named is this project and one of its extras."""
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]
    wanted = [word for word in words if word != "--upgrade"]
    found = re.fullmatch(rf"(?:\.|{project['name']})(?:\[(\w+)\])?", " ".join(wanted))
    assert found, words
    assert found[1] is None or found[1] in project["optional-dependencies"]


def test_commands_are_found_in_blocks_and_in_sentences() -> None:
    text = "    filmhand check a.yaml  tells all\n\n    pip install .  # here\n"
    text += "    KEY=/etc/filmhand/a.pem\nor `filmhand log\nstation` too\n"
    assert list(commands_in(text)) == [
        "filmhand check a.yaml",
        "pip install .",
        "filmhand log station",
    ]
    assert len([command for shown in SHOWN.values() for command in shown]) > 40


@pytest.mark.parametrize("page", SHOWN)
def test_commands_that_are_named_exist(page: str) -> None:
    named = set(re.findall(r"`filmhand ([a-z][a-z-]*)", texts()[page]))
    assert named <= set(main.commands)


@pytest.mark.parametrize("page", SHOWN)
def test_pictures_that_are_shown_exist_and_are_small(page: str) -> None:
    folder = REPOSITORY if page == "README" else Path(filmhand.__file__).parent / "guide"
    for name in re.findall(r"!\[[^]]+\]\(([^)]+)\)", texts()[page]):
        assert 1000 < (folder / name).stat().st_size < 260_000, name
        with Image.open(folder / name) as picture:
            assert picture.width <= 1600


def test_every_picture_is_shown() -> None:
    pictures = {path.name for path in (Path(filmhand.__file__).parent / "guide/pictures").iterdir()}
    shown = {
        Path(name).name
        for text in texts().values()
        for name in re.findall(r"\]\((\S+\.png)\)", text)
    }
    assert pictures <= shown and len(pictures) >= 6
