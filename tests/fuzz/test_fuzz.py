"""Malformed art of every accepted format: a film or a refusal with a reason, and nothing else.

`fuzz.py` does the same with many more inputs and counts them. `kept/` holds small files of the
sorts that are known to hurt decoders (sizes that lie, rings, bombs, counts without end), and those
that hurt filmhand once (``bits-without-value.tif``); each is replayed.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from malformed import Recipe, recipes
from sound_files import NAMES, sound

from filmhand.art.files.file_types import READABLE
from fuzz import Taster, good

KEPT = sorted((Path(__file__).parent / "kept").glob("*.*"))
INPUTS = 1000 if os.environ.get("CI") else 150


@pytest.fixture(scope="module")
def taster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Taster]:
    made = Taster(tmp_path_factory.mktemp("taster"))
    yield made
    made.close()


def test_every_kind_that_is_read_is_spoiled() -> None:
    assert {kind for kind, _ in NAMES} == {kind.value for kind in READABLE}


@pytest.mark.parametrize(("kind", "form"), NAMES)
def test_the_sound_file_gives_a_film(taster: Taster, kind: str, form: str) -> None:
    outcome, detail = taster.taste(sound(kind, form), name=f"art.{kind.lower()}", film=True)
    # Some pictures of a few pixels are nothing for the screen; all the others become films.
    small = len(sound(kind, form)) < 1300 and detail in {"too-small", "blank"}
    assert outcome == "film" or small, detail


@settings(max_examples=INPUTS, deadline=None, derandomize=True, database=None)
@given(recipe=recipes())
def test_a_film_or_a_refusal_with_its_reason(taster: Taster, recipe: Recipe) -> None:
    outcome, detail = taster.taste(recipe.bake(), name=f"art.{recipe.kind.lower()}")
    assert good(outcome), detail


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.name)
@pytest.mark.parametrize("film", [False, True])
def test_a_kept_file_does_no_harm(taster: Taster, path: Path, film: bool) -> None:
    outcome, detail = taster.taste(path.read_bytes(), name=path.name, film=film)
    assert outcome in {"film", "opened", "refused"}, detail


@pytest.mark.parametrize(
    ("end", "seen"), [("os.abort()", ("signal", "SIGABRT")), ("os._exit(3)", ("signal", "exit 3"))]
)
def test_a_crash_is_seen_and_the_next_file_is_tasted_all_the_same(
    tmp_path: Path, end: str, seen: tuple[str, str]
) -> None:
    program = f"import os, sys; sys.stdin.readline(); {end}"
    taster = Taster(tmp_path, [sys.executable, "-c", program])
    for _ in range(2):
        assert taster.taste(b"art", name="art.png") == seen
    taster.close()
    assert not good("signal")
    assert not good("bug")
    assert not good("surroundings")
