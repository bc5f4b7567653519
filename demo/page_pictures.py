"""Takes the guide's pictures of the status page: of the demo's station, wide and as on a phone.

Run it with a Python that has filmhand and playwright, where there is Chromium; it takes a minute::

    python demo/page_pictures.py daemon/filmhand/guide/pictures

:mod:`pictures` draws all other pictures of the guide.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import show
from pictures import save_all
from PIL import Image
from playwright.sync_api import sync_playwright

SHOTS = (("page", 1000, 1600), ("page-narrow", 390, 1000))  # name, width and height in pixels
COLORS = 32
LANGUAGE, ZONE = "en-US", "America/Chicago"


def photographed(page: str, folder: Path) -> list[tuple[str, Image.Image, int]]:
    """What a reader sees of the page at first, at each of the sizes."""
    taken = []
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=["--no-sandbox", "--disable-gpu"],
        )
        for name, width, height in SHOTS:
            reader = browser.new_page(
                viewport={"width": width, "height": height}, locale=LANGUAGE, timezone_id=ZONE
            )
            reader.goto(page, wait_until="networkidle")
            reader.screenshot(path=folder / f"{name}.png")
            taken.append((name, Image.open(folder / f"{name}.png").convert("RGB"), COLORS))
        browser.close()
    return taken


def rests(station: Path) -> bool:
    """Whether the status tells of all that the demo dropped."""
    counts = json.loads((station / ".state" / "status.json").read_bytes())["counts"]
    return bool(counts["made"] + counts["refused"] == len(show.DROPS))


def main() -> None:
    """Take them into the folder that the command line names."""
    target = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        art, station = folder / "art", folder / "print shop"
        art.mkdir()
        draw = [sys.executable, "-P", str(Path(show.HERE, "draw_art.py")), str(art)]
        subprocess.run(draw, check=True)
        show.prepare(station)
        with show.service(station) as running:
            for drop in show.DROPS:
                show.put(drop, art, station)
            show.check_outcomes(station, show.wait(station, set(), running))
            show.wait_for(lambda: rests(station), 60, running, "The page did not tell of all films")
            save_all(photographed(show.page_address(station), folder), target)


if __name__ == "__main__":
    main()
