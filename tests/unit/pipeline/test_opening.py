"""Art is read while the rest of the program is loaded; in processes of their own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import filmhand

ROOT = Path(filmhand.__file__).parent.parent
PROFILE = """\
sheet: 4 x 4 in
dpi: 300
threshold: 50
lpi: 30
dot: round
mesh: 43-80
margin: 0.1 in
write: png
"""
READ = """
import gc, json, sys, threading
from pathlib import Path
from filmhand.pipeline import opening
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.speaking_pool import work_alone
from filmhand.worker.child import answer_of

told, full = {"before": opening._REST in sys.modules, "by": []}, False
load, open_kept = opening.importlib.import_module, opening.open_kept

def noted(name):
    if name == opening._REST:
        told["by"].append(threading.current_thread() is not threading.main_thread())
        if full:
            raise MemoryError
    return load(name)

def opened(*given, **more):
    art = open_kept(*given, **more)
    told["size"] = [art[0].width_px, art[0].height_px]
    return art

opening.importlib.import_module, opening.open_kept = noted, opened
folder = Path(sys.argv[1])
profile = read_profile(Path("p.yaml").read_text(), name="p", file="p.yaml")
request = JobRequest(folder / "a.png", "a.png", profile, folder / "out", folder / "scratch")
{first}
turn = sys.getswitchinterval()
question = {{"memory": 2**30}}
answer = answer_of(lambda question: str(make_films(request).films[0].files), question)
told["answer"], told["why"] = list(answer), str(answer)
told |= {{"collects": gc.isenabled(), "turn": sys.getswitchinterval() == turn}}
told["after"] = opening._REST in sys.modules
print(json.dumps(told))
"""


def told_by_a_fresh_process(folder: Path, first: str = "") -> dict[str, Any]:
    for name in ("out", "scratch"):
        (folder / name).mkdir()
    (folder / "p.yaml").write_text(PROFILE)
    slope = np.linspace(0, 255, 400).astype(np.uint8)
    Image.fromarray(np.tile(slope, (400, 1))).save(folder / "a.png", dpi=(200, 200))
    done = subprocess.run(
        [sys.executable, "-c", READ.replace("{first}", first).replace("{{", "{").replace("}}", "}"),
         str(folder)],
        cwd=folder, env={"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.mark.parametrize(("first", "aside"), [("", True), ("work_alone()", False)])
def test_what_makes_films_is_loaded_beside_the_reading(
    first: str, aside: bool, tmp_path: Path
) -> None:
    told = told_by_a_fresh_process(tmp_path, first)
    assert (told["before"], told["after"]) == (False, True)
    assert told["by"] == [aside]
    assert told["answer"] == ["ok"]
    assert told["size"] == [400, 400]
    assert told["collects"] and told["turn"]


def test_what_cannot_be_loaded_is_a_fault_of_the_program(tmp_path: Path) -> None:
    """No art is to blame."""
    told = told_by_a_fresh_process(tmp_path, "sys.modules['filmhand.page.proof'] = None")
    assert told["answer"] == ["bug"]
    assert "filmhand.page.proof" in told["why"]
    assert told["size"] == [400, 400]
    assert told["collects"] and told["turn"] and not told["after"]


def test_where_memory_ends_meanwhile_the_art_is_refused(tmp_path: Path) -> None:
    assert told_by_a_fresh_process(tmp_path, "full = True")["answer"] == ["refused"]
