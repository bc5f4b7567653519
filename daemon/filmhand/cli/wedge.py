"""``filmhand wedge``: the film to measure a press by, with its places and its instructions."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.make import replace_file
from filmhand.disk.file_names import clean_stem
from filmhand.errors import ExitCode


@command(HelpWord.WEDGE, "filmhand wedge --profile profiles/small-sheet.yaml")
@option(HelpWord.PROFILE_OF_PRESS, "--profile", "profile_file", type=options.PATH, required=True)
@option(HelpWord.IT_GOES, "--out", type=options.PATH, default=Path())
@options.json_option
def wedge(profile_file: Path, out: Path, *, as_json: bool) -> ExitCode:
    """Make a film whose print shows what the press does."""
    from filmhand.pipeline.printer_films.wedge_film import make_wedge  # noqa: PLC0415
    from filmhand.pipeline.printer_films.wedge_page import wedge_page  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    profile = load_profile(profile_file)
    stem = clean_stem(f"wedge-{profile.name}.film")
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        made, told = make_wedge(profile, Path(scratch))
        files = {str(kind): str(out / f"{stem}{kind.suffix}") for kind in made}
        for kind, path in made.items():
            replace_file(Path(files[str(kind)]), path.read_bytes())
    page, places = out / f"{stem}.txt", out / f"{stem}.json"
    names = [Path(file).name for file in files.values()]
    replace_file(page, wedge_page(told, profile.name, names, profile_file.name).encode())
    told = {"schema": "filmhand-wedge/1", "profile": profile.name, **told}
    replace_file(places, json.dumps(told, indent=1, ensure_ascii=False).encode() + b"\n")
    told = {"files": files, "instructions": str(page), "places": str(places), **told}
    options.print_told(told, _print_wedge, as_json=as_json)
    return ExitCode.DONE


def _print_wedge(told: Mapping[str, Any]) -> None:
    for file in (*told["files"].values(), told["places"], told["instructions"]):
        click.echo(file)
    click.echo(f"\n{CommandWord.WEDGE.say(page=told['instructions'])}")
