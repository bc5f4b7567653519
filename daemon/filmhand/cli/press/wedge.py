"""``filmhand wedge`` and ``filmhand exposure``: films to measure a press by, and what steps say."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, replace
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.make import replace_file
from filmhand.disk.file_names import clean_stem
from filmhand.errors import ExitCode
from filmhand.sheet.exposure_layout import LAST_STEP, step_factor
from filmhand.units import read_seconds
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.pipeline.printer_films.exposure_advice import AdvisedExposure
    from filmhand.profile.model import Profile
    from filmhand.reading.read_exposure import StepReading

_MOST_GRAY_STEP = 21
_time_option = option(HelpWord.TIME_OF_LIGHT, "--time", "time_text")


@command(HelpWord.WEDGE, "filmhand wedge --profile profiles/small-sheet.yaml")
@option(HelpWord.PROFILE_OF_PRESS, "--profile", "profile_file", type=options.PATH, required=True)
@option(HelpWord.IT_GOES, "--out", type=options.PATH, default=Path())
@option(HelpWord.OF_WHICH_INK, "--ink")
@option(HelpWord.EXPOSURE_FILM, "--exposure", is_flag=True)
@_time_option
@options.json_option
def wedge(
    profile_file: Path,
    out: Path,
    *,
    ink: str | None,
    exposure: bool,
    time_text: str | None,
    as_json: bool,
) -> ExitCode:
    """Make a film whose print shows what the press does, or one to find the exposure by."""
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    seconds = options.read_option("--time", time_text, read_seconds)
    if seconds is not None and not exposure:
        raise click.UsageError(CommandWord.TIME_NEEDS_EXPOSURE.say())
    profile = load_profile(profile_file)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        asked = _Asked(profile, profile_file.name, profile.name, Path(scratch), out)
        if ink is not None:
            asked = _of_ink(asked, ink)
        told = _exposure_film(asked, seconds) if exposure else _wedge(asked)
    options.print_told(told, _print_wedge, as_json=as_json)
    return ExitCode.DONE


@dataclass(frozen=True, slots=True)
class _Asked:
    """A film as it is asked for: of which profile or ink, what it is called, where it goes."""

    profile: Profile
    source: str  # the name of the profile's file
    called: str
    scratch: Path
    out: Path
    ink: str | None = None  # as its folder is called


def _of_ink(asked: _Asked, ink: str) -> _Asked:
    """The film of one ink of the profile; Refused where there is none of that name."""
    from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink  # noqa: PLC0415
    from filmhand.profile.inks import folder_of_ink  # noqa: PLC0415

    whole = asked.profile
    return replace(
        asked,
        profile=profile_of_ink(whole, ink),
        called=f"{asked.called}-{clean_stem(ink)}",
        ink=folder_of_ink(ink, whole.inks, whole.underbase) or clean_stem(ink),
    )


def _wedge(asked: _Asked) -> dict[str, Any]:
    from filmhand.pipeline.printer_films.wedge_film import make_wedge  # noqa: PLC0415
    from filmhand.pipeline.printer_films.wedge_page import wedge_page  # noqa: PLC0415

    made, told = make_wedge(asked.profile, asked.scratch)
    stem = clean_stem(f"wedge-{asked.called}.film")
    files = [f"{stem}{kind.suffix}" for kind in made]
    page = wedge_page(told, asked.profile.name, files, asked.source, ink=asked.ink)
    return _put(asked, stem, made, {"schema": "filmhand-wedge/1"}, told, page)


def _exposure_film(asked: _Asked, seconds: float | None) -> dict[str, Any]:
    from filmhand.pipeline.printer_films.exposure_film import make_exposure_film  # noqa: PLC0415
    from filmhand.pipeline.printer_films.exposure_page import exposure_page, spell_seconds  # noqa: PLC0415

    made, told = make_exposure_film(asked.profile, asked.scratch)
    if seconds is not None:
        steps = told["steps"]
        spells = spell_seconds([one["factor"] for one in steps], seconds)
        for step, spell, light in zip(steps, spells, accumulate(spells), strict=True):
            step |= {"spell_s": round(spell, 3), "light_s": round(light, 3)}
    stem = clean_stem(f"exposure-{asked.called}.film")
    files = [f"{stem}{kind.suffix}" for kind in made]
    page = exposure_page(told, asked.profile.name, files, asked.source, seconds, ink=asked.ink)
    return _put(asked, stem, made, {"schema": "filmhand-exposure/1"}, told, page)


def _put(
    asked: _Asked,
    stem: str,
    made: Mapping[Any, Path],
    head: dict[str, Any],
    found: dict[str, Any],
    page: str,
) -> dict[str, Any]:
    """Put film, places and instructions where they are wanted, in place of older ones."""
    out = asked.out
    told = head | {"profile": asked.profile.name, "ink": asked.ink} | found
    out.mkdir(parents=True, exist_ok=True)
    files = {str(kind): str(out / f"{stem}{kind.suffix}") for kind in made}
    for kind, path in made.items():
        replace_file(Path(files[str(kind)]), path.read_bytes())
    instructions, places = out / f"{stem}.txt", out / f"{stem}.json"
    replace_file(instructions, page.encode())
    replace_file(places, json.dumps(told, indent=1, ensure_ascii=False).encode() + b"\n")
    return {"files": files, "instructions": str(instructions), "places": str(places), **told}


def _print_wedge(told: Mapping[str, Any]) -> None:
    for file in (*told["files"].values(), told["places"], told["instructions"]):
        click.echo(file)
    click.echo(f"\n{CommandWord.WEDGE.say(page=told['instructions'])}")


@command(HelpWord.EXPOSURE, "filmhand exposure --time 60s --gray-step 5")
@click.argument("scan", required=False, type=options.PATH)
@_time_option
@option(HelpWord.SOLID_STEP, "--solid", type=click.IntRange(0, LAST_STEP))
@option(HelpWord.OPEN_STEP, "--open", "open_", type=click.IntRange(0, LAST_STEP))
@option(HelpWord.GRAY_STEP, "--gray-step", type=click.IntRange(0, _MOST_GRAY_STEP))
@option(HelpWord.PROFILE_OF_EXPOSURE, "--profile", "profile_file", type=options.PATH)
@option(HelpWord.OF_WHICH_INK, "--ink")
@options.json_option
def exposure(
    scan: Path | None,
    time_text: str | None,
    solid: int | None,
    open_: int | None,
    gray_step: int | None,
    profile_file: Path | None,
    *,
    ink: str | None,
    as_json: bool,
) -> ExitCode:
    """Tell which time of light follows from a screen that was exposed in steps."""
    from filmhand.pipeline.printer_films.exposure_advice import (  # noqa: PLC0415
        advice_of_gray_scale,
        advice_of_scan,
        advice_of_steps,
    )

    seconds = options.read_option("--time", time_text, read_seconds)
    given = [solid is not None or open_ is not None, gray_step is not None, scan is not None]
    halves = (solid is None) != (open_ is None) or (scan is None) != (profile_file is None)
    if seconds is None or halves or sum(given) != 1 or (ink is not None and scan is None):
        raise click.UsageError(CommandWord.EXPOSURE_NEEDS.say())
    steps: list[dict[str, Any]] = []
    if scan is not None and profile_file is not None:
        read = _steps_of(scan, profile_file, ink)
        advised = advice_of_scan(seconds, [(one.number, one.held) for one in read])
        steps = [
            {
                "step": one.number,
                "factor": round(step_factor(one.number), 3),
                "smallest_held_um": {
                    kind: size and round(size, 1) for kind, size in asdict(one.held).items()
                },
            }
            for one in read
        ]
    elif gray_step is not None:
        advised = advice_of_gray_scale(seconds, gray_step)
    else:
        assert solid is not None and open_ is not None
        advised = advice_of_steps(seconds, solid=solid, open_=open_)
    told = _advice(advised, gray_step) | ({"steps": steps} if steps else {})
    options.print_told(told, _print_advice, as_json=as_json)
    return ExitCode.DONE


def _steps_of(scan: Path, profile_file: Path, ink: str | None) -> tuple[StepReading, ...]:
    from filmhand.cli.press.scan_process import steps_of_scan  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    return steps_of_scan(scan, load_profile(profile_file), ink)


def _advice(advised: AdvisedExposure, held: int | None) -> dict[str, Any]:
    shortest, longest = map(_seconds, advised.window or (advised.seconds, advised.seconds))
    parts = {"shortest": shortest, "longest": longest, "held": held}
    return {
        "seconds": round(advised.seconds, 2),
        "factor": round(advised.factor, 3),
        "window_seconds": [round(one, 2) for one in advised.window] if advised.window else None,
        "settled": advised.settled,
        "say": [row.say(time=_seconds(advised.seconds), **parts) for row in advised.say],
    }


def _seconds(seconds: float) -> str:
    """A time as a timer is set to it: seconds, from two minutes on with the minutes."""
    whole = round(seconds)
    if whole < 120:
        held = round(2 * seconds) / 2 if 1 <= seconds < 30 else seconds
        return f"{held:.3g} s" if seconds < 30 else f"{whole} s"
    return f"{whole // 60} min {whole % 60} s"


def _print_advice(told: Mapping[str, Any]) -> None:
    if "steps" in told:
        click.echo(CommandWord.EXPOSURE_HEAD.say())
        for step in told["steps"]:
            sizes = (
                f"{'-' if size is None else round(size):>10}"
                for size in step["smallest_held_um"].values()
            )
            click.echo(f"{step['step']:>4}  x {step['factor']:<5.2g}{''.join(sizes)}")
        click.echo()
    for sentence in told["say"]:
        click.echo(sentence)
    click.echo(f"\n{CommandWord.EXPOSURE_CAUTION.say()}")
