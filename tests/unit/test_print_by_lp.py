"""The watcher for lp prints each film once, with a command of ours in place of lp."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "deploy" / "print-by-lp.sh"
NAMES = ("plain.pwg", "two words.pwg", "it's; $(touch here) *.pwg", "-n.pwg", "Größe\nzwei.pwg")


class Shop:
    """Folders of films and notes, and a command that keeps what it is told to print."""

    def __init__(self, folder: Path) -> None:
        self.films, self.notes = folder / "my films", folder / "my notes"
        self.films.mkdir()
        self.notes.mkdir()
        self.paper = folder / "paper"
        self.paper.mkdir()
        self.command = folder / "lp"
        self.write_command('cp -- "$3" "$paper/$(ls "$paper" | wc -l)"')

    def write_command(self, body: str) -> None:
        text = f"#!/bin/sh\nset -eu\npaper='{self.paper}'\n[ \"$1 $2\" = '-d film' ]\n{body}\n"
        self.command.write_text(text)
        self.command.chmod(0o755)

    def start(self, **environment: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            ["sh", str(SCRIPT), str(self.films), str(self.notes), str(self.command), "-d", "film"],
            env=os.environ | {"ONCE": "yes"} | environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def look(self, **environment: str) -> str:
        """One look of the watcher; what it says."""
        process = self.start(**environment)
        out, words = process.communicate(timeout=60)
        assert (process.returncode, out) in ((0, ""), (-9, ""))
        return words

    def printed(self) -> list[bytes]:
        return sorted(sheet.read_bytes() for sheet in self.paper.iterdir())


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    if shutil.which("sh") is None:
        pytest.skip("there is no sh")
    return Shop(tmp_path)


def test_each_film_is_printed_once_whatever_its_name(shop: Shop) -> None:
    for name in NAMES:
        (shop.films / name).write_bytes(name.encode())
    (shop.films / "poster.pdf").write_bytes(b"another format")
    (shop.films / ".half.pwg").write_bytes(b"hidden")
    (shop.films / "folder.pwg").mkdir()
    (shop.films / "link.pwg").symlink_to(shop.command)
    assert [shop.look() for _ in range(3)] == ["", "", ""]
    assert shop.printed() == sorted(name.encode() for name in NAMES)
    assert shop.look(PATTERN="*.pdf") == ""
    assert b"another format" in shop.printed()


def test_no_film_is_none(shop: Shop) -> None:
    assert shop.look() == ""
    assert shop.printed() == []


def test_a_film_of_the_same_name_is_printed_if_it_is_another(shop: Shop) -> None:
    film = shop.films / "poster.pwg"
    film.write_bytes(b"first")
    shop.look()
    os.utime(film, (film.stat().st_mtime + 60,) * 2)  # restored without its times
    shop.look()
    assert shop.printed() == [b"first"]
    film.write_bytes(b"second")
    os.utime(film, (film.stat().st_mtime + 120,) * 2)
    assert [shop.look(), shop.look()] == ["", ""]
    assert shop.printed() == [b"first", b"second"]


@pytest.mark.parametrize("before", [True, False])
def test_after_a_crash_nothing_is_printed_twice_and_it_is_said(shop: Shop, before: bool) -> None:
    film = shop.films / "one film.pwg"
    film.write_bytes(b"film")
    sheet = 'cp -- "$3" "$paper/sheet"'
    shop.write_command(f"kill -9 $PPID\n{sheet}" if not before else "kill -9 $PPID; exit 1")
    shop.look()
    shop.write_command('cp -- "$3" "$paper/again"')
    for _ in range(2):
        words = shop.look()
        assert "not known whether" in words and str(film) in words
    assert not (shop.paper / "again").exists()
    (shop.notes / "one film.pwg.begun").unlink()
    assert shop.look() == ""
    assert (shop.paper / "again").read_bytes() == b"film"


def test_a_command_that_fails_is_told_and_the_next_film_is_printed(shop: Shop) -> None:
    for name in ("a", "b"):
        (shop.films / f"{name}.pwg").write_bytes(name.encode())
    shop.write_command(
        'case $3 in */a.pwg) echo "lp: no such queue" >&2; exit 1 ;; esac\ncp -- "$3" "$paper/b"'
    )
    words = shop.look()
    assert "lp: no such queue" in words and "a.pwg was printed" in words
    assert shop.printed() == [b"b"]


def test_two_at_a_time_print_each_film_once(shop: Shop) -> None:
    for number in range(12):
        (shop.films / f"{number:02}.pwg").write_bytes(b"%02d" % number)
    shop.write_command('sleep 0.05; cp -- "$3" "$(mktemp "$paper/XXXXXX")"')
    both = [shop.start(), shop.start()]
    for process in both:
        process.communicate(timeout=60)
    assert shop.printed() == [b"%02d" % number for number in range(12)]


@pytest.mark.parametrize("words", [[], ["/nonexistent", ".", "lp"], [".", "/nonexistent", "lp"]])
def test_what_is_wrong_is_said_in_one_sentence(words: list[str]) -> None:
    done = subprocess.run(
        ["sh", str(SCRIPT), *words], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 64
    assert done.stderr.splitlines()[-1].startswith("print-by-lp.sh: ")
