"""What a command does not need is not imported: so many modules at most, Python's own included.

The limits lie a little above what is needed: who passes one imports something that can wait until
it is asked for.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import click
import pytest

import filmhand
from filmhand.cli.main import main

ROOT = Path(filmhand.__file__).parent.parent
PROFILE = Path(__file__).parents[2] / "profiles" / "a4.yaml"
RUN = """
import contextlib, io, json, sys
before = set(sys.modules)
with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
    {lines}
print(json.dumps(sorted(set(sys.modules) - before)))
"""
COMMAND = """\
from filmhand.cli import main
    with contextlib.suppress(SystemExit):
        main({words!r})"""
ARRAYS = {"numpy", "PIL"}
NETWORK = {"asyncio", "email", "http", "smtplib", "ssl", "sqlite3", "structlog", "multiprocessing"}
STARTING = {"subprocess", "concurrent.futures", "yaml"}


def imported(lines: str) -> set[str]:
    """All modules that these lines import, in a Python of their own."""
    done = subprocess.run(
        [sys.executable, "-c", RUN.format(lines=lines)],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(ROOT)},
    )
    return set(json.loads(done.stdout))


@pytest.mark.parametrize(
    ("words", "most", "spared"),
    [
        ("--help", 115, ARRAYS | NETWORK | STARTING),
        ("guide", 130, ARRAYS | NETWORK | STARTING),
        ("status {folder}", 180, ARRAYS | NETWORK | STARTING),
        ("make art.png --profile none.yaml", 200, ARRAYS | NETWORK | {"socket"}),
        (f"check {PROFILE}", 495, NETWORK),
    ],
)
def test_a_command_imports_what_it_needs(
    words: str, most: int, spared: set[str], tmp_path: Path
) -> None:
    given = words.format(folder=tmp_path).split()
    found = imported(COMMAND.format(words=given))
    assert "filmhand.cli.main" in found
    assert not found & spared
    assert len(found) <= most, sorted(found)


def test_medians_and_numbers_once_each_do_without_the_module_for_masked_arrays() -> None:
    found = imported(
        "import numpy as np\nfrom filmhand.arrays import distinct, distinct_rows\n"
        "from filmhand.art.raster import median_of\n"
        "median_of([3.0, 1.0]), distinct(np.arange(3)), distinct_rows(np.ones((2, 2), int))"
    )
    assert "numpy" in found
    assert "numpy.ma" not in found


def test_a_process_is_started_ahead_by_little() -> None:
    found = imported("import filmhand.worker.ahead")
    assert not found & {"pathlib", "typing", "filmhand.errors"}
    assert len(found) <= 45, sorted(found)


def test_art_is_opened_before_the_rest_of_the_program_is_there() -> None:
    found = imported("import filmhand.worker.child, filmhand.pipeline.make")
    assert "filmhand.art.files.open_art" in found
    later = {
        "filmhand.pipeline.finished",
        "filmhand.pipeline.record",
        "filmhand.pipeline.render.render",
        "filmhand.pipeline.verdict.judge",
        "filmhand.page.proof",
        "filmhand.film.write",
    }
    assert not found & later
    assert not found & {"tempfile", "PIL.TiffImagePlugin"}
    assert len(found) <= 350, sorted(found)


def test_a_job_imports_what_an_ordinary_film_needs() -> None:
    found = imported("import filmhand.worker.child, filmhand.pipeline.finished")
    assert "filmhand.pipeline.render.render" in found
    assert not found & NETWORK
    assert not found & {"subprocess", "click", "numpy.ma", "numpy.testing", "numpy.random"}
    rare = {
        "filmhand.pipeline.trial.trial_sheet",
        "filmhand.pipeline.verdict.remedies",
        "filmhand.pipeline.predict.predict_print",
        "filmhand.pipeline.printer_films.device_film",
        "filmhand.film.foreign_pdf",
        "filmhand.film.png",
        "filmhand.film.pwg",
        "filmhand.film.tiff",
        "filmhand.art.drawings.pdf",
        "filmhand.art.drawings.svg",
    }
    assert not found & rare
    rare = {"xml", "pyvips", "imagecodecs", "yaml", "zipfile", "difflib", "email"}
    assert not {name.partition(".")[0] for name in found} & rare
    assert "importlib.resources" not in found
    assert {name for name in found if name.endswith("Plugin")} <= {"PIL.TiffImagePlugin"}
    assert len(found) <= 450, sorted(found)


def test_the_list_of_commands_is_what_each_says_of_itself() -> None:
    listed = main.get_help(click.Context(main, info_name="filmhand", terminal_width=80))
    widest = max(map(len, main.commands))
    for name, command in main.commands.items():
        assert command.name == name
        short = command.get_short_help_str(80 - 6 - widest)
        assert f"  {name.ljust(widest)}  {short}\n" in f"{listed}\n"
