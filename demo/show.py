"""The demo itself: starts the service on a station, drops art, waits, and tells what happened.

Usage: show.py STATION       (demo/run.sh makes the surroundings and calls this)

Ends with 0 if every art became what it should have become and no byte of it was lost; otherwise
with 1 and a sentence. The service is stopped in any case, also by Ctrl-C.
"""

from __future__ import annotations

import hashlib
import json
import select
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, NoReturn

from filmhand.kernels.loops import compiled
from filmhand.profile.read.load import load_profile
from filmhand.units import size_text

HERE = Path(__file__).resolve().parent
SETTLE = "1 s"
START_WITHIN, HANDLED_WITHIN, FOLLOWS_WITHIN, STOP_WITHIN = 60.0, 300.0, 30.0, 60.0  # seconds


@dataclass(frozen=True)
class Drop:
    """One art, where it goes, how it gets there, and what should become of it."""

    art: str
    profile: str
    how: str
    outcome: str  # "film", or the reason of the refusal
    sub: str = ""
    companions: tuple[str, ...] = ()


DROPS = (
    Drop("moon snail.jpg", "small-sheet", "slowly", "film"),
    Drop("half arrived.jpg", "small-sheet", "at once", "damaged"),
    Drop("from a web page.jpg", "small-sheet", "at once", "too-small"),
    Drop(
        "beach poster.png",
        "small-sheet",
        "at once",
        "film",
        sub="hut 3",
        companions=("beach poster.png.ticket.yaml", "beach poster.png.clear.png"),
    ),
    Drop("reel scan.jpg", "line-art", "at once", "film"),
    Drop(
        "kite day logo.png",
        "laser-fine",
        "at once",
        "film",
        companions=("kite day logo.png.ticket.yaml",),
    ),
    Drop(
        "three kites shirt.png",
        "small-sheet",
        "at once",
        "film",
        companions=("three kites shirt.png.ticket.yaml",),
    ),
)


class Unexpected(Exception):
    """Something is not as it should be; the text is a sentence for whoever runs the demo."""


def main() -> int:
    """Run the demo; 0 if all went as it should."""
    station = Path(sys.argv[1]).absolute()
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _leave)
    try:
        with tempfile.TemporaryDirectory(prefix="filmhand-demo-") as folder:
            show(station, Path(folder))
    except Unexpected as trouble:
        sys.stderr.write(f"\n{trouble}\n")
        return 1
    except OSError as trouble:
        sys.stderr.write(f"\n{trouble.filename or 'The disk'}: {trouble.strerror}.\n")
        return 1
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped; the service is stopped too.\n")
        return 130
    return 0


def _leave(number: int, _: FrameType | None) -> NoReturn:
    sys.exit(128 + number)


def show(station: Path, art: Path) -> None:
    """Draw, start, drop, wait, stop, check, tell."""
    say(f"The station is {station}")
    prepare(station)
    if compiled() is None:
        say("The inner loops run in NumPy; where a C compiler is found they run compiled.")
    else:
        say("The inner loops run compiled.")
    say("Drawing the art ...")
    run = [sys.executable, "-P", str(HERE / "draw_art.py"), str(art)]
    if subprocess.run(run, check=False).returncode:
        raise Unexpected("The art could not be drawn; the lines above tell why.")
    say("Starting the service ...")
    with service(station) as running:
        before = {*made(station), *refused(station)}
        for drop in DROPS:
            put(drop, art, station)
        results = wait(station, before, running)
        tell(station, results)
        check_outcomes(station, results)
        check_bytes(station, art)
        where_to_look(station)
        show_page(station, running)
        say("Stopping the service ...")


def prepare(station: Path) -> None:
    """Copy the profiles that the demo uses, unless the station has its own of that name."""
    folder = station / "profiles"
    folder.mkdir(parents=True, exist_ok=True)
    for name in sorted({drop.profile for drop in DROPS}):
        target = folder / f"{name}.yaml"
        if not target.exists():
            text = (HERE.parent / "profiles" / target.name).read_text(encoding="utf-8")
            wait_less = (
                f"\n# The demo is in a hurry; without this line art rests 2 s.\nsettle: {SETTLE}\n"
            )
            target.write_text(text + wait_less, encoding="utf-8")


@contextmanager
def service(station: Path) -> Iterator[subprocess.Popen[bytes]]:
    """The service, running inside the block and stopped in order at its end."""
    state = station / ".state"
    state.mkdir(exist_ok=True)
    log = said(station)
    command = [sys.executable, "-P", "-m", "filmhand", "serve", str(station), "--state", str(state)]
    command += ["--page", "127.0.0.1:0"]
    with log.open("wb") as voice:
        # A session of its own, so that Ctrl-C reaches us alone and the service is asked once.
        running = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=voice, stderr=voice, start_new_session=True
        )
    try:
        wait_for(lambda: is_up(station), START_WITHIN, running, "The service did not start")
        yield running
    finally:
        stop(running, log)


def said(station: Path) -> Path:
    """Where everything is kept that the service says."""
    return station / ".state" / "said.txt"


def is_up(station: Path) -> bool:
    """Whether the service has made the drop folders."""
    return all((station / drop.profile / "drop").is_dir() for drop in DROPS)


def stop(running: subprocess.Popen[bytes], log: Path) -> None:
    """Ask the service to stop; it finishes the job in hand first."""
    if running.poll() is None:
        running.terminate()
        try:
            running.wait(STOP_WITHIN)
        except subprocess.TimeoutExpired:
            running.kill()
            running.wait()
            raise Unexpected(
                f"The service did not stop within {STOP_WITHIN:.0f} s and was ended by force; "
                f"what it said is in {log}."
            ) from None
    if running.returncode:
        raise Unexpected(
            f"The service ended with {running.returncode}. It said:\n{last_lines(log)}"
        )


def last_lines(log: Path) -> str:
    """The end of what the service said."""
    return "\n".join(log.read_text(encoding="utf-8", errors="replace").splitlines()[-10:])


def wait_for(ready: Any, seconds: float, running: subprocess.Popen[bytes], trouble: str) -> None:
    """Look again and again until it is ready; Unexpected if time is over or the service gone."""
    until = time.monotonic() + seconds
    while not ready():
        if running.poll() is not None:
            raise Unexpected(f"{trouble}: it ended by itself.")
        if time.monotonic() > until:
            raise Unexpected(f"{trouble} within {seconds:.0f} s.")
        time.sleep(0.2)


def put(drop: Drop, art: Path, station: Path) -> None:
    """Drop one art, with its ticket and mask before it."""
    folder = station / drop.profile / "drop" / drop.sub
    folder.mkdir(exist_ok=True)
    for name in (*drop.companions, drop.art):
        # What ends in .part is left alone until it has its own name.
        part = folder / f"{name}.part"
        if drop.how == "slowly" and name == drop.art:
            copy_slowly(art / name, folder / name)
        else:
            shutil.copyfile(art / name, part)
            part.rename(folder / name)
    how = "copied slowly" if drop.how == "slowly" else "dropped at once"
    brought = [name.rsplit(".", 1)[0][len(drop.art) + 1 :] for name in drop.companions]
    kinds = [{"clear": "a mask"}.get(kind, f"a {kind}") for kind in brought]
    beside = " with " + " and ".join(kinds) if kinds else ""
    say(f"  {how}: {Path(drop.profile) / 'drop' / drop.sub / drop.art}{beside}")


def copy_slowly(source: Path, target: Path) -> None:
    """Copy as over a bad line: in pieces, once with a pause far longer than the settle time."""
    data = source.read_bytes()
    piece = -(-len(data) // 6)
    with target.open("wb") as slow:
        for number in range(6):
            slow.write(data[number * piece : (number + 1) * piece])
            slow.flush()
            time.sleep(3 if number == 3 else 0.3)


def made(station: Path) -> dict[Path, dict[str, Any]]:
    """All records, by file."""
    found = {}
    for path in sorted(station.glob("*/records/**/*.json")):
        found[path] = json.loads(path.read_bytes())
    return found


def refused(station: Path) -> dict[str, dict[str, Any]]:
    """All refusals, by job."""
    found = {}
    for path in sorted(station.glob("*/rejected/rejections.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            refusal = json.loads(line)
            found[refusal["job"]] = refusal
    return found


@dataclass
class Results:
    """What this run's art became: records and refusals."""

    made: dict[Path, dict[str, Any]]
    refused: list[dict[str, Any]]

    def outcome_of(self, drop: Drop) -> str | None:
        """``film``, the reason of a refusal, or None as long as there is neither."""
        films = [
            record
            for record in self.made.values()
            if record["source"]["name"] == drop.art and record["profile"]["name"] == drop.profile
        ]
        # Of several inks each has a film.
        if films and len(films) == films[0].get("set", {"of": 1})["of"]:
            return "film"
        for refusal in self.refused:
            if Path(refusal["name"]).name == drop.art and refusal["profile"] == drop.profile:
                return str(refusal["reason"])
        return None


def wait(station: Path, before: set[Any], running: subprocess.Popen[bytes]) -> Results:
    """Wait until every drop became something, and tell how many have."""
    results = Results({}, [])
    told = -1

    def all_done() -> bool:
        nonlocal told
        results.made = {path: one for path, one in made(station).items() if path not in before}
        results.refused = [one for job, one in refused(station).items() if job not in before]
        done = sum(results.outcome_of(drop) is not None for drop in DROPS)
        if done != told:
            told = done
            say(f"  {done} of {len(DROPS)} handled")
        return done == len(DROPS) and not left_in_drop(station)

    say("Waiting for the films; the half copy gets its time to arrive ...")
    wait_for(all_done, HANDLED_WITHIN, running, "Not all art was handled")
    return results


def left_in_drop(station: Path) -> list[Path]:
    """Files of the demo that still lie in a drop folder."""
    names = {name for drop in DROPS for name in (drop.art, *drop.companions)}
    return [path for path in station.glob("*/drop/**/*") if path.name in names]


def still(missing: Callable[[], list[str]]) -> list[str]:
    """What is missing also a while later: originals and the page follow the record of a film."""
    until = time.monotonic() + FOLLOWS_WITHIN
    while (found := missing()) and time.monotonic() < until:
        time.sleep(0.2)
    return found


def check_bytes(station: Path, art: Path) -> None:
    """Every byte that was dropped must lie in originals or rejected."""
    if missing := still(lambda: not_kept(station, art)):
        raise Unexpected(f"{missing[0]}, or not as it was dropped.")


def not_kept(station: Path, art: Path) -> list[str]:
    """What was dropped and does not lie where it should, and where that is."""
    missing = []
    for drop in DROPS:
        kind = "originals" if drop.outcome == "film" else "rejected"
        folder = station / drop.profile / kind / drop.sub
        kept = {digest(path) for path in folder.glob("*") if path.is_file()}
        dropped = (drop.art, *drop.companions)
        missing += [
            f"{name} is not in {folder}" for name in dropped if digest(art / name) not in kept
        ]
    return missing


def digest(path: Path) -> str:
    """SHA-256 of a file; empty where it is there no longer."""
    with suppress(FileNotFoundError), path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
    return ""


def check_outcomes(station: Path, results: Results) -> None:
    """Each art must have become what it should."""
    for drop in DROPS:
        outcome = results.outcome_of(drop)
        if outcome != drop.outcome:
            raise Unexpected(
                f"{drop.art} should have ended as {drop.outcome}, but ended as {outcome}; "
                f"what the service said is in {said(station)}."
            )


def tell(station: Path, results: Results) -> None:
    """A few plain lines for each art, with lengths in the unit of its profile's sheet."""
    profiles = (load_profile(path) for path in (station / "profiles").glob("*.yaml"))
    sheets = {profile.name: profile.sheet for profile in profiles}
    say(f"\nMade {len(results.made)} films:")
    for path, record in results.made.items():
        profile, sub = path.parts[len(station.parts)], path.parent.parts[len(station.parts) + 2 :]
        for name in record["film"]["files"].values():
            say(f"  {Path(profile, 'positives', *sub, name)}")
        art, screen = record["art"], record["screen"]
        how = "line art"
        if screen:
            lpi, angle = screen["lpi_asked"], screen["angle_asked"]
            how = f"{screen['dot']} dots, {lpi:g} lpi at {angle:g} degrees"
        if "set" in record:
            how += f", {record['set']['ink']} ink"
        owner = f", for {record['for']}" if record["for"] else ""
        size = size_text((art["width_mm"], art["height_mm"]), sheets[record["profile"]["name"]])
        say(f"      {size}, {how}{owner}")
    say(f"\nRefused {len(results.refused)}:")
    for refusal in results.refused:
        say(f"  {Path(refusal['profile'], 'rejected', refusal['name'])}")
        say(f"      {refusal['say']}\n      {refusal['do']}")


def where_to_look(station: Path) -> None:
    """Absolute paths of what is worth a look."""
    say("\nNothing that was dropped is lost: each file lies in originals or rejected.\nLook at")
    small = station / "small-sheet"
    for what, path in (
        ("films", small / "positives"),
        ("proofs", small / "proofs"),
        ("records", small / "records"),
        ("why-notes", small / "rejected"),
        ("status", station / "status.html"),
    ):
        say(f"  {what + ':':10} {path}")


def show_page(station: Path, running: subprocess.Popen[bytes]) -> None:
    """Serve the page for as long as somebody at a terminal looks at it."""
    address = page_address(station)
    if missing := still(lambda: not_shown(address)):
        raise Unexpected(f"The page at {address} does not show {' and '.join(missing)}.")
    if sys.stdin.isatty() and sys.stdout.isatty():
        say(f"\nOpen {address} in a browser; the service goes on, so drop something of your own.")
        say("Press Enter here to stop it.")
        while running.poll() is None and not select.select([sys.stdin], [], [], 1.0)[0]:
            pass
        return
    say(f"\nIts page was served at {address}. To have it served again:")
    command = (sys.executable, "-m", "filmhand", "serve", str(station), "--state")
    say(f"  {shlex.join([*command, str(station / '.state'), '--page', '127.0.0.1:8080'])}")
    say("and open http://127.0.0.1:8080/ in a browser.")


def not_shown(address: str) -> list[str]:
    """The art that the page does not tell of."""
    with urllib.request.urlopen(address, timeout=20) as answer:
        page = answer.read().decode("utf-8")
    return [drop.art for drop in DROPS if drop.art not in page]


def page_address(station: Path) -> str:
    """Where the service says that it serves the page."""
    for line in said(station).read_text(encoding="utf-8", errors="replace").splitlines():
        with suppress(ValueError):
            told = json.loads(line)
            if told.get("event") == "page":
                return str(told["address"])
    raise Unexpected(
        f"The service did not say where its page is; it said so far:\n{last_lines(said(station))}"
    )


def say(text: str) -> None:
    """A line to whoever runs the demo, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
