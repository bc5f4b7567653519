"""Real pictures through the real worker onto one sheet, with a station and by hand."""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from filmhand.art.files.completeness import completeness_of
from filmhand.cli.make import FilmMaker
from filmhand.cli.station import print_status
from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import load_profile
from filmhand.request import GangResult, JobRequest
from filmhand.service import rendering
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station import Station
from filmhand.service.station_mark import StationMark
from filmhand.service.supervisor import Supervisor
from filmhand.worker.parent import WorkerDied, WorkerLimits, run_gang, run_sheet_space

PROFILE = """
sheet: 4 x 4 in
dpi: 150
lpi: 15
dot: round
threshold: 50
mesh: none
margin: 0.1 in
settle: 50 ms
gang: 1 h
art: {fit: width 25 mm}
marks: {ruler: false}
"""


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    path = tmp_path / "profiles" / "small.yaml"
    path.parent.mkdir()
    path.write_text(PROFILE)
    return path


def draw(path: Path, shade: int, size: tuple[int, int] = (200, 140)) -> Path:
    picture = Image.new("L", size, 255)
    ImageDraw.Draw(picture).rectangle((20, 20, size[0] - 60, size[1] - 30), fill=shade)
    path.parent.mkdir(parents=True, exist_ok=True)
    picture.save(path)
    os.utime(path, (1_700_000_000 + shade, 1_700_000_000 + shade))
    return path


def requests(profile: Path, arts: list[Path], inside: Path) -> list[JobRequest]:
    for part in ("out", "work"):
        (inside / part).mkdir(parents=True)
    return [
        JobRequest(
            art=art,
            name=art.name,
            profile=load_profile(profile),
            out=inside / "out",
            scratch=inside / "work",
        )
        for art in arts
    ]


def test_once_lays_what_waits_on_one_sheet(
    tmp_path: Path, profile: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    station = tmp_path / "station"
    root = station / "small"
    for number in range(3):
        draw(root / "drop" / f"art{number}.png", number)
    (root / "drop" / "art1.png.ticket.yaml").write_text("for: class 4\n")
    (root / "drop" / "words.png").write_text("no picture at all " * 20)
    shop = Station(station, profile.parent, tmp_path / "state")
    assert shop.once() == 1
    assert [path.name for path in (root / "positives").iterdir()] == ["art0-and-2-more.pdf"]
    found = {path.name: json.loads(path.read_bytes()) for path in (root / "records").iterdir()}
    assert sorted(found) == ["art0-and-2-more.json", "art1.json", "art2.json"]
    assert found["art1.json"]["for"] == "class 4"
    assert found["art1.json"]["gang"]["film"] == "art0-and-2-more.pdf"
    assert found["art1.json"]["gang"]["with"] == ["art0.png", "art2.png"]
    assert sorted(path.name for path in (root / "proofs").iterdir()) == [
        "art0-and-2-more.jpg",
        "art1.jpg",
        "art2.jpg",
    ]
    assert len(list((root / "originals").iterdir())) == 4
    assert (root / "rejected" / "words.png.why.txt").is_file()
    assert list((root / ".filmhand").glob("*/*/job.json")) == []
    (told,) = shop.history("art2.png").found
    assert [film["file"] for film in told["films"]] == ["art0-and-2-more.pdf"]
    assert told["films"][0]["there"]
    for film in ("art0-and-2-more.pdf", "art0-and-2-more"):
        assert sorted(one["name"] for one in shop.history(film).found) == [
            f"art{n}.png" for n in range(3)
        ]
    print_status(shop.status())
    assert "small: art2.png as art0-and-2-more.pdf\n" in capsys.readouterr().out


def test_by_hand_they_are_laid_out_at_once(tmp_path: Path, profile: Path) -> None:
    arts = [draw(tmp_path / f"art{number}.png", number) for number in range(2)]
    gone = tmp_path / "gone.png"
    out = tmp_path / "films"
    out.mkdir()
    with FilmMaker() as hand:
        made = dict(hand.make_all([*arts, gone], load_profile(profile), out))
    assert isinstance(made[gone], Refused)
    assert made[gone].reason is Reason.NOT_ART
    assert sorted(path.name for path in out.iterdir()) == [
        "art0-and-1-more.json",
        "art0-and-1-more.pdf",
        "art0-and-1-more.proof.jpg",
        "art1.json",
        "art1.proof.jpg",
    ]
    record = json.loads((out / "art1.json").read_bytes())
    assert record["film"]["files"] == {"pdf": "art0-and-1-more.pdf"}
    assert record["gang"]["film"] == "art0-and-1-more.pdf"


def test_room_is_found_with_sizes_that_are_known(tmp_path: Path, profile: Path) -> None:
    arts = [draw(tmp_path / f"art{number}.png", number) for number in range(2)]
    asked = requests(profile, [*arts, tmp_path / "not opened.png"], tmp_path / "room")
    limits = WorkerLimits(seconds=60, memory=2**30)
    # 25 mm at 150 dpi are 148 pixels; the third needs nearly the whole sheet.
    room = run_sheet_space(asked, {2: (500, 400)}, limits=limits)
    assert room.sizes == [(148, 103), (148, 103), (500, 400)]
    assert room.chosen == [0, 1]
    assert room.full
    assert not run_sheet_space(asked[:2], {}, limits=limits).full


@pytest.mark.parametrize(
    "answer",
    [
        "{}",
        '{"placed": {}, "refused": {}, "alone": {}, "left": []}',
        '{"placed": {}, "refused": {}, "alone": {"0": "x"}, "left": [0, 1]}',
        '{"placed": {"0": 1}, "refused": {}, "alone": {}, "left": [1]}',
    ],
)
def test_an_answer_that_makes_no_sense_is_a_death(
    tmp_path: Path, profile: Path, answer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "nonsense_worker.py").write_text(
        "from filmhand.worker.child import answer_parent\n"
        f"answer_parent(lambda question: {answer})\n"
    )
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(tmp_path), *sys.path]))
    arts = [draw(tmp_path / f"art{number}.png", number) for number in range(2)]
    asked = requests(profile, arts, tmp_path / "work")
    with pytest.raises(WorkerDied, match="makes no sense"):
        run_gang(asked, limits=WorkerLimits(seconds=60, memory=2**30), module="nonsense_worker")


def test_no_more_sheets_at_once_than_this_computer_makes_films(
    tmp_path: Path, profile: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A profile on a large cluster has a large pool, and its sheets are made here all the same."""
    registry = ProfileRegistry(profile.parent, tmp_path)
    registry.read()
    (tmp_path / "state").mkdir()
    state = tmp_path / "state"
    mark = StationMark(tmp_path, state)
    one = Supervisor(tmp_path, state, mark, registry, [], completeness_of, None, patient=True)
    lock, busy, most = threading.Lock(), [0], [0]

    def pretend(*_: object, **__: object) -> GangResult:
        with lock:
            busy[0] += 1
            most[0] = max(most[0], busy[0])
        time.sleep(0.05)
        with lock:
            busy[0] -= 1
        return GangResult()

    monkeypatch.setattr(rendering, "run_gang", pretend)
    request = JobRequest(tmp_path, "a.png", load_profile(profile), tmp_path, tmp_path, workers="x")
    size = one.rendering.engines.at(None).room()
    threads = [
        threading.Thread(target=one.rendering.gang, args=([request],)) for _ in range(4 * size)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most[0] == size
    one.ledger.close()
    one.log.close()
