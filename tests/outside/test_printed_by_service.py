"""A station's films at a real simulator of an IPP Everywhere printer (PWG 5100.14, by CUPS).

The simulator keeps each document that it prints; they are held against the film, bit for bit, and
counted after the service was killed on the way.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image
from printer_simulator import Simulator, simulators

from filmhand.cli import main
from filmhand.film.read import read_film

__all__ = ["simulators"]

PROFILE = """
sheet: a4
dpi: 600
lpi: 40
dot: round
threshold: 50
mesh: none
margin: 6 mm
settle: 100 ms
write: tiff
print: {{printer: "{uri}", media: stationery}}
"""
STEPS = ["print begun", "print job created", "print number noted", "sending noted", "document sent",
         "sent noted", "print end noted", "print told"]  # fmt: skip


class Shop:
    """A station with one printer, worked through by processes of its own."""

    def __init__(self, folder: Path, simulator: Simulator) -> None:
        self.simulator = simulator
        self.station, self.state = folder / "station", folder / "state"
        (self.station / "profiles").mkdir(parents=True)
        text = PROFILE.format(uri=simulator.uri)
        (self.station / "profiles" / "small.yaml").write_text(text)
        self.root = self.station / "small"

    def once(self, *, die_at: str = "") -> int:
        command = [sys.executable, "-m", "filmhand", "once", self.station, "--state", self.state]
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(sys.path),
            "FILMHAND_DIE_AT": die_at,
        }
        return subprocess.run(command, env=environment, check=False, timeout=120).returncode

    def say(self, *words: str) -> str:
        done = CliRunner().invoke(
            main, [words[0], str(self.station), *words[1:], "--state", str(self.state)]
        )
        assert done.exit_code == 0, done.output
        return done.output

    def documents(self) -> list[bytes]:
        paths = sorted(self.simulator.folder.glob("doc.*"), key=lambda path: int(path.suffix[1:]))
        return [path.read_bytes() for path in paths]

    def events(self) -> list[dict[str, object]]:
        lines = (self.root / "records" / "prints.jsonl").read_bytes().splitlines()
        return [json.loads(line) for line in lines]


@pytest.fixture
def shop(tmp_path: Path, simulators: None) -> Iterator[Shop]:
    folder = tmp_path / "simulator"
    folder.mkdir()
    conf = Path(__file__).with_name("film_printer.conf")
    simulator = Simulator(folder, ["-a", str(conf)])
    try:
        yield Shop(tmp_path, simulator)
    finally:
        simulator.close()


def drop(shop: Shop) -> None:
    (shop.root / "drop").mkdir(parents=True, exist_ok=True)
    ramp = np.linspace(0, 255, 900, dtype=np.uint8)
    Image.fromarray(np.tile(ramp, (1200, 1))).save(shop.root / "drop" / "ramp.png")


def bits_of(path: Path, scratch: Path) -> bytes:
    bits, dpi = read_film(path, scratch)
    with bits:
        assert dpi is not None and (dpi.x, dpi.y) == (600, 600)
        return bytes(bits.read(0, bits.height).tobytes())


def test_the_bits_of_the_film_arrive_and_again_the_same(shop: Shop, tmp_path: Path) -> None:
    drop(shop)
    assert shop.once() == 0
    received = tmp_path / "received.pwg"
    (first,) = shop.documents()
    received.write_bytes(first)
    film = shop.root / "positives" / "ramp.tif"
    assert bits_of(received, tmp_path) == bits_of(film, tmp_path)
    told = shop.events()
    assert [one["state"] for one in told if one["state"] != "printing"] == ["sent", "printed"]
    assert {one["printer"] for one in told} == {shop.simulator.uri}
    record = json.loads((shop.root / "records" / "ramp.json").read_bytes())
    assert list(record["film"]["files"]) == ["tiff"]  # the printer's documents are nobody's films
    assert "printed again" in shop.say("reprint", "ramp")
    assert shop.once() == 0
    assert shop.documents() == [first, first]
    assert [one["state"] for one in shop.events()].count("printed") == 2


def test_printed_once_though_killed_at_each_step(shop: Shop) -> None:
    drop(shop)
    assert shop.once() == 0
    for count, step in enumerate(STEPS, 1):
        shop.say("reprint", "ramp")
        assert shop.once(die_at=step) == -signal.SIGKILL, step
        assert shop.once() == 0, step
        states = [one["state"] for one in shop.events()]
        assert len(shop.documents()) == states.count("printed") == 1 + count, step
    assert "doubtful" not in states
    assert states.count("sent") == 1 + len(STEPS)
