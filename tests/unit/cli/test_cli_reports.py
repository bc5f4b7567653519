"""What the commands print of what they are told, row by row, and the exit codes they end with."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from filmhand.cli import options
from filmhand.cli.check import print_profile
from filmhand.cli.main import main
from filmhand.cli.measure import print_measured
from filmhand.cli.predict import print_prediction
from filmhand.cli.report_words import ReportCaption
from filmhand.cli.station import print_status
from filmhand.errors import (
    AlreadyRunning,
    EnvironmentTrouble,
    ExitCode,
    Fault,
    FaultyFile,
    ProfileError,
    Reason,
    Refused,
)
from filmhand.service.doctor.doctor_words import Level, Topic
from filmhand.service.doctor.folder_probe import Finding
from filmhand.service.history import FileHistory


class Told:
    """A station that gives what it is told to, and notes how it was made and asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, **answers: Any) -> None:
        self.asked: list[Any] = []

        def answer(name: str) -> Any:
            def call(*given: object, **named: object) -> Any:
                self.asked.append((name, given, named))
                if isinstance(answers[name], Exception):
                    raise answers[name]
                return answers[name]

            return call

        def station(*given: object) -> SimpleNamespace:
            self.asked.append(given)
            return SimpleNamespace(**{name: answer(name) for name in answers})

        monkeypatch.setattr("filmhand.service.station.Station", station)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


STATUS: dict[str, Any] = {
    "running": True,
    "counts": {"waiting": 2, "working": 1, "made": 7, "refused": 3},
    "faults": ["f1", {"line": 3}],
    "profiles": [
        {
            "name": "small",
            "paused": None,
            "state": "working",
            "working": ["b.png"],
            "waiting": [{"name": "w.png", "why": "it is next", "in_s": 200.0}],
            "left_alone": [],
        },
        {
            "name": "large", "paused": "disk full", "state": "paused",
            "working": [], "waiting": [], "left_alone": [{"name": "pipe", "why": "a pipe"}],
        },
    ],
    "made": [
        {"profile": "small", "name": "a.png", "films": [{"files": ["a.pdf", "a.tif"]},
         {"files": ["a-p02.pdf"]}]},
    ],
    "refused": [{"profile": "small", "name": "r.png", "say": "Too small.", "do": "Send more."}],
}  # fmt: skip


def test_the_status_of_a_station(monkeypatch: pytest.MonkeyPatch) -> None:
    told = Told(monkeypatch, status=STATUS)
    done = run("status", "here", "--state", "there")
    assert told.asked == [(Path("here"), None, Path("there")), ("status", (None,), {})]
    assert done.exit_code == 0
    assert done.output.splitlines() == [
        "running",
        "  counts    2 waiting, 1 working, 7 made, 3 refused",
        "  fault     f1",
        '  fault     {"line": 3}',
        "small: working",
        "  working   b.png",
        "  waiting   w.png, it is next, in about 3 min",
        "large: disk full",
        "  left alone pipe, a pipe",
        "  made      small: a.png as a.pdf, a.tif, a-p02.pdf",
        "  refused   small: r.png: Too small. Send more.",
    ]
    Told(monkeypatch, status=STATUS | {"running": False})
    done = run("status", "here", "--json")
    assert (done.exit_code, json.loads(done.output)["running"]) == (3, False)
    assert run("status", "here").output.startswith("not running\n")
    stopped = [one | {"state": "not running"} for one in STATUS["profiles"]]
    Told(monkeypatch, status=STATUS | {"running": False, "profiles": stopped})
    lines = run("status", "here").output.splitlines()
    assert lines[0] == "not running" and "small" in lines and "large: disk full" in lines
    assert sum("not running" in line for line in lines) == 1


def test_a_person_of_whom_nothing_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    nothing = STATUS | {"counts": dict.fromkeys(STATUS["counts"], 0), "profiles": []}
    Told(monkeypatch, status=nothing | {"made": [], "refused": []}, people=["ana", "José Ñúñez"])
    done = run("status", "here", "jose")
    says = "Nothing here is art of jose. Those whose art is here: ana, José Ñúñez."
    assert says in done.output and done.exit_code == 0
    assert "Nothing here" not in run("status", "here", "ANA").output  # known: held, perhaps
    Told(monkeypatch, status=nothing | {"made": [], "refused": []}, people=[])
    assert (
        "Nothing here is art of jose, nor of anybody by name."
        in run("status", "here", "jose").output
    )


@pytest.mark.parametrize("count", [20, 21, 25])
def test_a_long_status_is_cut_at_twenty(capsys: pytest.CaptureFixture[str], count: int) -> None:
    part = STATUS["profiles"][0] | {"waiting": [f"w{n}.png" for n in range(count)]}
    made = [STATUS["made"][0]] * count
    refused = [STATUS["refused"][0]] * count
    print_status(STATUS | {"profiles": [part], "made": made, "refused": refused})
    lines = capsys.readouterr().out.splitlines()
    for head in ("  waiting ", "  made ", "  refused "):
        assert sum(line.startswith(head) for line in lines) == 20
    more = [line.strip() for line in lines if "more" in line and "and" in line]
    assert more == ([f"and {count - 20} more"] if count > 20 else [])


def test_where_a_film_lies_and_what_became_of_a_refusal(capsys: pytest.CaptureFixture[str]) -> None:
    made = {
        "profile": "small",
        "name": "bob/b.png",
        "films": [{"folder": "bob", "files": ["b.pdf"]}],
    }
    refused = STATUS["refused"][0]
    since = [refused | {"after_all": True}, refused | {"after_all": False, "tried_again": True}]
    print_status(STATUS | {"made": [made], "refused": since})
    assert capsys.readouterr().out.splitlines()[-3:] == [
        "  made      small: bob/b.png as bob/b.pdf",
        "  refused   small: r.png: A film of it was made after all.",
        "  refused   small: r.png: A file of this name has come again and is on its way.",
    ]


def test_the_history_of_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    films = [{"file": "small/a.pdf", "there": True}, {"file": "small/b.pdf", "there": False}]
    told = [
        {"outcome": "made", "name": "a.png", "profile": "small", "job": "j1", "at": "10:00",
         "films": films},
        {"outcome": "refused", "name": "a.png", "profile": "small", "job": "j2", "at": None,
         "say": "Too small.", "do": "Send more."},
        {"outcome": "in hand (held)", "name": "a.png", "profile": "small", "job": "j3", "at": None},
        {"outcome": "waiting", "name": "a.png", "profile": "small", "job": "", "at": None},
    ]  # fmt: skip
    station = Told(monkeypatch, history=SimpleNamespace(found=told, lacks=""))
    done = run("history", "here", "a", "--profiles", "p")
    assert station.asked == [(Path("here"), Path("p"), None), ("history", ("a",), {})]
    assert done.exit_code == 0
    assert done.output.splitlines() == [
        "made    a.png for small",
        "        job j1, 10:00",
        "        small/a.pdf",
        "        small/b.pdf (no longer in positives)",
        "refused a.png for small",
        "        j2",
        "        Too small. Send more.",
        "in hand (held) a.png for small",
        "        j3",
        "waiting a.png for small",
    ]
    assert json.loads(run("history", "here", "a", "--json").output) == told
    Told(monkeypatch, history=SimpleNamespace(found=[], lacks=""))
    done = run("history", "here", "a")
    assert done.exit_code == 1
    assert done.output.startswith("Nothing is known of 'a' at this station; filmhand status tells")
    Told(monkeypatch, history=SimpleNamespace(found=told, lacks="Not whole."))
    done = run("history", "here", "a", "--json")
    assert (json.loads(done.stdout), done.stderr) == (told, "Not whole.\n")


def test_what_doctor_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    def finding(level: str, do: str = "") -> Finding:
        return Finding(Level(level), "small", Topic.RIGHTS, "It is so.", do)

    station = Told(monkeypatch, doctor=[finding("ok"), finding("note", "Look.")])
    done = run("doctor", "here")
    wanted = ("doctor", (), {"init": False, "notify": False})
    assert station.asked == [(Path("here"), None, None), wanted]
    assert done.exit_code == 0
    assert done.output.splitlines() == [
        "ok      small, rights: It is so.",
        "note    small, rights: It is so.",
        "        Look.",
    ]
    station = Told(monkeypatch, doctor=[finding("wrong"), finding("ok")])
    done = run("doctor", "here", "--init", "--json")
    assert station.asked[1] == ("doctor", (), {"init": True, "notify": False})
    assert done.exit_code == 1
    assert [one["level"] for one in json.loads(done.output)] == ["wrong", "ok"]


def test_health_retry_serve_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    Told(monkeypatch, health={"healthy": True, "wrong": []})
    done = run("health", "here")
    assert (done.exit_code, done.output) == (0, "healthy\n")
    Told(monkeypatch, health={"healthy": True, "wrong": [], "paused": ["small: The disk is full."]})
    done = run("health", "here")
    assert (done.exit_code, done.output) == (0, "healthy\n  paused    small: The disk is full.\n")
    Told(monkeypatch, health={"healthy": False, "wrong": ["It hangs.", "It is late."]})
    done = run("health", "here")
    assert (done.exit_code, done.output) == (1, "It hangs.\nIt is late.\n")
    assert json.loads(run("health", "here", "--json").output)["healthy"] is False
    station = Told(monkeypatch, retry="It is tried again.")
    done = run("retry", "here", "j1", "--profiles", "p", "--state", "s")
    assert station.asked == [(Path("here"), Path("p"), Path("s")), ("retry", ("j1",), {})]
    assert (done.exit_code, done.output) == (0, "It is tried again.\n")
    station = Told(monkeypatch, serve=7, once=5)
    assert run("serve", "here", "--profiles", "p", "--metrics", "m").exit_code == 7
    assert run("once", "here", "--state", "s").exit_code == 5
    assert station.asked == [
        (Path("here"), Path("p"), None), ("serve", (), {"metrics": Path("m"), "page": None}),
        (Path("here"), None, Path("s")), ("once", (), {}),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("error", "code", "says"),
    [
        (Refused(Reason.BLANK, "Bare.", "Draw."), 1, "Bare. Draw."),
        (AlreadyRunning("It runs."), 75, "It runs."),
        (EnvironmentTrouble("The share is away."), 75, "The share is away."),
        (ProfileError(FaultyFile("p", (Fault(3, 1, "lpi", "lpi is odd"), Fault(4, 2, "", "b")))),
         78, "p line 3, column 1: lpi is odd\np line 4, column 2: b"),
        (FileNotFoundError(2, "No such file", "x/y"), 1,
         "x/y is not there: check how it is written."),
        (PermissionError(13, "Permission denied", "x/y"), 1,
         "You may not read or write x/y: check your rights to it."),
        (OSError(5, "Input/output error", "x/y"), 1,
         "x/y: Input/output error. Check the path and your rights to it."),
        (BrokenPipeError(), 0, ""),
        (click.UsageError("Say it otherwise."), 2, "Say it otherwise."),
    ],
)  # fmt: skip
def test_each_failure_has_its_exit_code_and_its_sentence(
    monkeypatch: pytest.MonkeyPatch, error: Exception, code: int, says: str
) -> None:
    Told(monkeypatch, once=error)
    done = run("once", "here")
    assert done.exit_code == code
    assert done.output.rstrip().endswith(says)
    assert "Traceback" not in done.output


@pytest.mark.parametrize("error", [OSError("odd"), ZeroDivisionError("odd")])
def test_a_failure_without_a_file_is_the_programs_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    Told(monkeypatch, once=error)
    done = run("once", "here")
    assert done.exit_code == 1
    assert f"this command ({type(error).__name__}: odd), which is not to blame" in done.output
    assert "Traceback" in (tmp_path / "filmhand" / "commands.log").read_text()


def test_the_log_of_a_users_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification: a relative path is to be ignored, ~/.local/state holds."""
    monkeypatch.setenv("HOME", str(tmp_path))
    for told in ("", "relative/path"):
        monkeypatch.setenv("XDG_STATE_HOME", told)
        log = tmp_path / ".local" / "state" / "filmhand" / "commands.log"
        assert str(options.program_failed("this", "it", "more\n\n")).endswith(f"are in {log}.")
    first, second, *_ = log.read_text().split("\n\n")
    assert first.endswith("Z this\nmore") and second.endswith("Z this\nmore")


@pytest.mark.parametrize(
    ("text", "read"), [(None, None), ("25", 25), ("2.5", "2.5"), ("43-80", "43-80")]
)
def test_options_are_read_as_a_profile_would(text: str | None, read: object) -> None:
    assert options.read_option("--x", text, lambda value: value) == read


def test_an_option_takes_the_unit_that_it_asks_for() -> None:
    for name, text, read in (("--mesh", "110 mesh", 110), ("--dpi", "600dpi", 600)):
        assert options.read_option(name, text, lambda value: value) == read
    assert options.read_option("--scale", "99 dpi", lambda value: value) == "99 dpi"


def test_make_says_what_a_profile_is_and_where_a_key_stands(tmp_path: Path) -> None:
    done = run("make", "my bee.jpg")
    text = " ".join(done.output.split())
    assert done.exit_code == 2
    assert "Name it: filmhand make 'my bee.jpg' --profile shirts.yaml." in text
    assert "filmhand new-profile shirts.yaml writes it" in text
    done = run("make", "bee.jpg", "--lpi", "45")
    assert done.exit_code == 2
    assert "--lpi is no option here: lpi stands in the profile" in " ".join(done.output.split())
    assert "No such option" in run("make", "bee.jpg", "--blue").output


def test_a_profile_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    wrong, right = tmp_path / "shirt.yaml", tmp_path / "shirts.yaml"
    done = run("check", str(wrong))
    assert done.output == (f"{wrong}: there is no such profile; filmhand new-profile writes one\n")
    right.touch()
    done = run("check", str(wrong))
    assert (done.exit_code, done.output) == (
        78, f"{wrong}: there is no such profile; did you mean {right}?\n"
    )  # fmt: skip


def test_an_option_that_cannot_be_read_says_what_is_allowed() -> None:
    def refuse(value: object) -> object:
        raise ValueError("a number")

    with pytest.raises(click.BadParameter, match="must be a number, not 'soft'") as caught:
        options.read_option("--mesh", "soft", refuse)
    assert caught.value.param_hint == "--mesh"


def test_rows_are_wrapped_beside_their_names(capsys: pytest.CaptureFixture[str]) -> None:
    options.print_row(ReportCaption.SHEET, ("a" * 33 + " ") * 3)
    options.print_row(None, "")
    options.print_line("ok", "b" * 71 + " cc")
    options.print_line("", "")
    options.print_line("long", "d" * 100)
    assert capsys.readouterr().out.splitlines() == [
        "  sheet     " + "a" * 33 + " " + "a" * 33,
        "            " + "a" * 33,
        "            ",
        "ok      " + "b" * 71,
        "        cc",
        "        ",
        "long    " + "d" * 100,
    ]
    assert (options.dpi_text([300, 300]), options.dpi_text([600, 300])) == ("300", "600 x 300")


CHECKED: dict[str, Any] = {
    "name": "small",
    "sheet": "210 x 297 mm",
    "sheet_mm": [210.0, 297.0],
    "unit": "mm",
    "sheet_px": [2480, 3507],
    "dpi": [300, 300],
    "scale_pct": [100.0, 100.0],
    "screen": {"lpi_made": 25.0012, "lpi_asked": 25, "angle_made": 22.4996, "angle_asked": 22.5,
               "dot": "round", "levels": 145},
    "mesh": {"label": "110 (43-80)", "assumed": False, "opening_um": 149, "open_area_pct": 40.5,
             "thickness_um": 130, "ink_volume_cm3_m2": 52.7, "stretch_pct": None},
    "holds": {"smallest_dot_um": 310.4, "smallest_shadow_dot_um": 309.6, "tone_min_pct": 7.25,
              "tone_max_pct": 92.75, "best_lpi": 28.4,
              "measured": ["Dots of 310 µm held."],
              "by_lpi": [{"lpi": 20, "ratio": 5.46, "tone_min_pct": 4.0, "tone_max_pct": 96.0},
                         {"lpi": 55, "ratio": 1.99, "tone_min_pct": None, "tone_max_pct": None}]},
    "moire": {"period_mm": 2.34, "worst_period_mm": 2.5, "strength_pct": 3.14,
              "visibility": 0.0123, "better_angles": [20]},
    "set": None,
    "bands": [{"period_mm": 2.5, "direction": 22.5, "strength_pct": 3.14, "visibility": 0.0123,
               "stretch_pct": 1.25, "mesh_order": [1, 0], "dot_order": [4, 1]}],
    "less_moire": [
        {"change": "angle", "value": 20, "worst_period_mm": 1.5, "strength_pct": 1.0,
         "visibility": 0.004, "sharpness_pct": 0.0, "passes": True},
        {"change": "mesh_angle", "value": 26.5, "worst_period_mm": 9.94, "strength_pct": 2.0,
         "visibility": 0.006, "sharpness_pct": 6.0, "passes": False},
        {"change": "lpi", "value": 23, "worst_period_mm": 9.94, "strength_pct": 2.0,
         "visibility": 0.006, "sharpness_pct": -8.0, "passes": False},
    ],
    "frame": None,
    "tone": "as it comes",
    "press": {"reach_pct": [0.0, 100.0], "gain": 18.0,
              "tones": [{"art_pct": 10, "film_pct": 4.4, "print_pct": 10.0},
                        {"art_pct": 50, "film_pct": 31.6, "print_pct": 50.0}]},
    "workers": "own",
    "warnings": [],
}  # fmt: skip


def test_the_report_of_check(capsys: pytest.CaptureFixture[str]) -> None:
    print_profile(CHECKED)
    assert capsys.readouterr().out.splitlines() == [
        "small",
        "  sheet     210 x 297 mm, 2480 x 3507 px, 300 dpi",
        "  screen    25.001 lpi (asked 25), 22.500 deg (asked 22.5), round, a dot can",
        "            take 145 sizes",
        "  mesh      110 (43-80), opening 149 µm, open area 40.5 %, thickness 130 µm, ink",
        "            volume 52.7 cm3/m2",
        "  holds     dots from 311 µm, shadow dots from 310 µm, tones 7.3 to 92.7 %;",
        "            finest advisable ruling 28 lpi",
        "  by lpi       20 lpi   5.46 : 1  tones 4.0 to 96.0 %",
        "               55 lpi   1.99 : 1  no tone that prints evenly",
        "  measured  Dots of 310 µm held.",
        "  moire     bands 2.5 mm (0.1 in) apart at 22 deg, changing the ink by 3.1 %,",
        "            visibility 0.012, at 1.2 % stretch (mesh/dot order 1,0/4,1)",
        "  less at   angle 20: visibility 0.004, bands 1.5 mm (0.06 in) apart changing",
        "            the ink by 1.0 %, as sharp",
        "            mesh angle 26.5: visibility 0.006, bands 9.9 mm (0.39 in) apart",
        "            changing the ink by 2.0 %, 6 % finer; still warns",
        "            lpi 23: visibility 0.006, bands 9.9 mm (0.39 in) apart changing the",
        "            ink by 2.0 %, 8 % softer; still warns",
        "  tone      as it comes",
        "            50 % in the art is 32 % on the film and 50 % in print, if the press",
        "            adds 18 points (tone.gain)",
        "            art %       10    50",
        "            film %       4    32",
        "            print %     10    50",
        "",
    ]


def test_the_scale_of_a_printer_is_told_below_its_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    print_profile({**CHECKED, "scale_pct": [99.6, 100.2]})
    assert capsys.readouterr().out.splitlines()[2:4] == [
        "  scale     99.6 % across, 100.2 % down: taken off, so lengths are right on film",
        "  screen    25.001 lpi (asked 25), 22.500 deg (asked 22.5), round, a dot can",
    ]


def test_a_print_that_no_film_can_give_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    for reach, words in (
        ([12.25, 96.5], "prints lighter than 12.25 % or darker than 96.5 %, but for bare and"),
        ([0.4, 99.5], "prints darker than 99.5 %, but"),
        ([0.5, 99.6], "prints lighter than 0.5 %, but"),
        ([0.4, 99.6], None),
    ):
        print_profile(CHECKED | {"press": CHECKED["press"] | {"reach_pct": reach}})
        text = " ".join(capsys.readouterr().out.split())
        assert words in text if words else "no film of this profile" not in text


def test_what_a_profile_has_not_is_not_told(capsys: pytest.CaptureFixture[str]) -> None:
    without = CHECKED | {"screen": None, "mesh": None, "holds": None, "press": None}
    without |= {"moire": CHECKED["moire"] | {"period_mm": None}}
    print_profile(without | {"workers": "dask://a:1", "warnings": ["w1", "w2"]})
    lines = capsys.readouterr().out.splitlines()
    assert lines[2:] == [
        "  screen    none: line art only",
        "  mesh      none: films are not judged",
        "  tone      as it comes",
        "  made by   the cluster at dask://a:1",
        "  warning   w1",
        "  warning   w2",
        "",
    ]
    more = CHECKED | {"mesh": CHECKED["mesh"] | {"assumed": True, "stretch_pct": 1.5}}
    more |= {"screen": CHECKED["screen"] | {"angle_made": None}}
    none = {"tone_min_pct": None, "tone_max_pct": None}
    more |= {"holds": CHECKED["holds"] | none | {"best_lpi": None, "by_lpi": []}}
    print_profile(more)
    text = " ".join(capsys.readouterr().out.split())
    assert "110 (43-80), thread assumed, opening" in text and "cm3/m2, stretched 1.5 %" in text
    assert "no angle (asked 22.5)" in text
    assert "shadow dots from 310 µm, no tone that prints evenly measured" in text
    print_profile(more | {"screen": None})
    text = " ".join(capsys.readouterr().out.split())
    assert "shadow dots from 310 µm measured" in text


def test_check_goes_on_after_a_faulty_profile(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text("sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\n")
    good.write_text(good.read_text() + "margin: 5 mm\n")
    bad.write_text("sheet: a4\n")
    done = run("check", str(bad), str(good))
    assert done.exit_code == ExitCode.PROFILE
    assert "lpi is missing" in done.output
    assert any(line.startswith("good  ") for line in done.output.splitlines())
    done = CliRunner().invoke(main, ["check", str(good), "--json"])
    assert done.exit_code == 0
    assert [one["name"] for one in json.loads(done.stdout)] == ["good"]


def test_the_report_of_measure(capsys: pytest.CaptureFixture[str]) -> None:
    told: dict[str, Any] = {
        "width_px": 1500, "height_px": 3000, "dpi": [300, 600], "sheet_mm": [127.0, 127.0],
        "coverage_pct": 12.3456, "lpi": 25.0004, "angle": 22.4996, "screen": "lines",
        "dots": {"count": 7, "smallest_um": 310.5, "median_um": 400},
        "shadow_dots": {"count": 0},
        "narrowest_stroke_um": 250, "narrowest_gap_um": 260.5,
        "checks": [
            {"name": "smallest dot", "verdict": "fail", "measured": 99.5, "unit": "um",
             "fail_limit": 110, "warn_limit": 310},
            {"name": "narrowest gap", "verdict": "warn", "measured": None, "unit": "um",
             "fail_limit": 110, "warn_limit": 310},
        ],
        "notes": ["n1"], "mesh": "110 (43-80)",
        "worst": [{"what": "stroke", "width_um": 90.5, "x_mm": 12.25, "y_mm": 13}],
    }  # fmt: skip
    print_measured(told)
    assert capsys.readouterr().out.splitlines() == [
        "  sheet     1500 x 3000 px at 300 x 600 dpi, 127 x 127 mm (5 x 5 in)",
        "  coverage  12.346 %",
        "  screen    lines, 25.000 lpi at 22.500 deg",
        "  dots      7, smallest 310.5 µm, median 400 µm",
        "  shadow dots none",
        "  strokes   narrowest 250 µm",
        "  gaps      narrowest 260.5 µm",
        "  mesh      110 (43-80)",
        "  fail      smallest dot 99.5 µm, wanted at least 110 µm",
        "  warn      no gaps to measure",
        "  note      n1",
        "  worst     stroke of 90.5 µm at 12.25 x 13 mm (0.48 x 0.51 in) from the sheet's",
        "            top left corner",
    ]
    print_measured(
        {
            key: value
            for key, value in told.items()
            if key not in ("mesh", "checks", "notes", "worst")
        }
        | {"lpi": None}
    )
    lines = capsys.readouterr().out.splitlines()
    assert lines[2] == "  screen    none found"
    assert lines[-1] == "  gaps      narrowest 260.5 µm"


def test_the_report_of_predict(capsys: pytest.CaptureFixture[str]) -> None:
    told: dict[str, Any] = {
        "mesh": "110 (43-80)",
        "press": {"mesh_angle": 22.5, "undercut_um": 3.5, "spread_um": 15, "passage_um": 10},
        "film_pct": 50.04, "print_pct": 61.26,
        "dots": {"count": 10, "lost": 2, "lost_pct": 20},
        "shadow_dots": {"count": 5, "filled": 0, "filled_pct": 0},
        "unit": "mm",
        "bands": {"period_mm": 3.14, "direction": 44.6, "change_points": 1.25, "tone_pct": 50},
        "flats": "the round dot",
        "curve": [
            {"from": "film", "film_pct": 10.4, "print_pct": 14.6},
            {"from": "flats", "film_pct": 50, "print_pct": 65},
            {"from": "film", "film_pct": 90, "print_pct": 97},
        ],
        "picture": "a.print.png",
    }  # fmt: skip
    print_prediction(told)
    assert capsys.readouterr().out.splitlines() == [
        "  mesh      110 (43-80) at 22.5 deg; light takes 3.5 µm off every edge, ink",
        "            needs openings of 10 µm and spreads 15 µm",
        "  coverage  film 50.0 %, print 61.3 %",
        "  dots      10, 2 lost (20 %)",
        "  shadow dots 5, 0 filled",
        "  bands     every 3.1 mm (0.12 in), running at 45 deg, 1.2 tone points up and",
        "            down at 50 %",
        "  tone      tones, film to print, measured on this film: 10 to 15, 90 to 97",
        "  tone      tones, film to print, of flats of the round dot: 50 to 65",
        "  picture   a.print.png",
    ]
    print_prediction(told | {"bands": None, "curve": []})
    lines = capsys.readouterr().out.splitlines()
    assert lines[5:] == ["  bands     none that would show", "  picture   a.print.png"]
    print_prediction(told | {"flats": None})
    assert "  bands     not looked for: no screen was found on the film" in (
        capsys.readouterr().out.splitlines()
    )


def test_the_guide_lists_its_pages_beside_their_titles() -> None:
    lines = run("guide").output.splitlines()
    assert lines[-2] == "" and "Show one with: filmhand guide NAME" in lines[-1]
    (line,) = [line for line in lines if line.startswith("cautions ")]
    assert line[16] == " " and line[17] != " "


def of_set(k: int, ink: str, stem: str | None = "logo") -> dict[str, Any]:
    place = {"id": "ab", "k": k, "of": 3, "ink": ink, "color": [50.0, 0.0, 0.0]}
    return place | ({} if stem is None else {"stem": stem})


def test_a_set_has_one_line_in_the_status(capsys: pytest.CaptureFixture[str]) -> None:
    films = [
        {"folder": "class 4", "files": [f"logo-{k}-{ink}.pdf", f"logo-{k}-{ink}.tif"],
         "set": of_set(k, ink)} for k, ink in enumerate(("red", "dark blue", "black"), 1)
    ]  # fmt: skip
    films.append({"folder": "", "files": ["x.pdf"], "set": of_set(1, "red", None)})
    print_status(STATUS | {"made": [{"profile": "small", "name": "logo.png", "films": films}]})
    said = " ".join(capsys.readouterr().out.split())
    assert "logo.png as class 4/logo: 3 films: red, dark blue, black, x.pdf" in said


@pytest.mark.parametrize("each", [False, True])
def test_a_set_has_one_line_in_the_history(monkeypatch: pytest.MonkeyPatch, *, each: bool) -> None:
    films = [
        {"file": f"class 4/logo-{k}-{ink}{end}", "there": ink != "blue", "set": of_set(k, ink)}
        for k, ink in enumerate(("red", "blue"), 1) for end in (".pdf", ".tif")
    ]  # fmt: skip
    one = {"outcome": "made", "name": "logo.png", "profile": "small", "job": "", "at": None,
           "films": films}  # fmt: skip
    Told(monkeypatch, history=FileHistory([one]))
    done = CliRunner().invoke(main, ["history", "station", "logo", *["--films"] * each])
    lines = [line.strip() for line in done.output.splitlines()][1:]
    if each:
        assert len(lines) == 4 and lines[0] == "class 4/logo-1-red.pdf"
    else:
        assert lines == ["class 4/logo: 2 films: red, blue (no longer in positives)"]
