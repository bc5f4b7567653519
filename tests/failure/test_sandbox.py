"""Whoever takes over a job's process, by a picture that a decoder stumbles on, reaches nothing."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import platform
import re
import resource
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Refused
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.service.doctor.doctor_words import Level
from filmhand.service.doctor.job_process import examine_job_process, finding_of
from filmhand.worker import sandbox, system_calls
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.job_process import StartProcess
from filmhand.worker.parent import WorkerLimits, run_in_worker
from filmhand.worker.process import CHILD, start_fresh
from filmhand.worker.sandbox_trial import Reach

HERE = Path(__file__).parent
PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
LIMITS = WorkerLimits(seconds=60, memory=2**30)
VERSION = sandbox.landlock_version()
FILTERED = sys.platform == "linux" and platform.machine() in {"x86_64", "aarch64"}

needs_landlock = pytest.mark.skipif(not VERSION, reason="this kernel has no Landlock")
needs_filter = pytest.mark.skipif(not FILTERED, reason="system calls are not filtered here")


@pytest.fixture(params=["fresh", "forked"])
def shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> Iterator[SimpleNamespace]:
    """A station, the state with two jobs' scratch folders, a home, and somebody who listens."""
    monkeypatch.setenv("PYTHONPATH", str(HERE))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for name in ("home", "station/poster/drop", "state/scratch/other"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("out", "work"):
        (tmp_path / "state" / "scratch" / "job" / name).mkdir(parents=True)
    for name in ("home/key", "station/poster/drop/art.png", "state/scratch/other/art"):
        (tmp_path / name).write_bytes(b"secret")
    listener = socket.create_server(("127.0.0.1", 0))
    named = socket.socket(socket.AF_UNIX)
    named.bind(f"\0filmhand-{os.getpid()}")
    named.listen()
    forks = ForkServer()
    with listener, named, contextlib.closing(forks):
        yield SimpleNamespace(
            start=start_fresh if request.param == "fresh" else forks.start,
            root=tmp_path,
            job=tmp_path / "state" / "scratch" / "job",
            home=tmp_path / "home",
            drop=tmp_path / "station" / "poster" / "drop",
            other=tmp_path / "state" / "scratch" / "other",
            port=str(listener.getsockname()[1]),
            named=f"filmhand-{os.getpid()}",
            pid=str(os.getpid()),
        )


def tried_confined(
    shop: SimpleNamespace,
    *tries: tuple[str, str],
    module: str = "sandbox_stub",
    tiles: Path | None = None,
) -> list[str]:
    """What came of each try inside a worker."""
    (shop.job / "art").write_text(json.dumps(tries))
    request = JobRequest(
        art=shop.job / "art",
        name="a.png",
        profile=read_profile(PROFILE, name="small", file="small.yaml"),
        out=shop.job / "out",
        scratch=shop.job / "work",
        tiles=tiles,
    )
    (film,) = run_in_worker(request, limits=LIMITS, module=module, start=shop.start).films
    told: list[str] = json.loads(film.files["pdf"].read_text())
    return told


def tried_free(what: str, at: str) -> str:
    """The same try by a process that is not confined."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), *sys.path])}
    command = [sys.executable, "-P", "-m", "sandbox_stub", what, at]
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, check=True, timeout=60
    )
    return done.stdout.strip()


def outside(shop: SimpleNamespace) -> list[tuple[str, str]]:
    return [
        ("read", "/etc/passwd"),
        ("read", str(shop.other / "art")),
        ("read", str(shop.home / "key")),
        ("read", str(shop.drop / "art.png")),
        ("append", str(shop.drop / "art.png")),
        ("fork", str(shop.home / "key")),
        ("move", str(shop.drop / "art.png")),
        ("rights", str(shop.drop / "art.png")),
        ("times", str(shop.drop / "art.png")),
        ("list", str(shop.root)),
        ("list", str(shop.home)),
        ("list", "/proc"),
        ("make", str(shop.root / "station")),
        ("make", str(shop.other)),
        ("make", "/tmp" if os.access("/tmp", os.W_OK) else str(shop.root)),
    ]


@needs_landlock
@needs_filter
def test_no_file_but_the_jobs_own_can_be_reached(shop: SimpleNamespace) -> None:
    tries = outside(shop)
    free = tries[1:-1]  # on this computer somebody else may own the others
    assert {tried_free(*one) for one in free} == {"done"}
    told = tried_confined(shop, *tries)
    assert dict(zip(tries, told, strict=True)) == dict.fromkeys(tries, "PermissionError")
    assert (shop.drop / "art.png").read_bytes() == b"secret"


@needs_landlock
@needs_filter
def test_nothing_but_files_and_folders_can_be_left_in_the_jobs_own(shop: SimpleNamespace) -> None:
    """A link there could lead whoever reads the films later to somewhere else."""
    out, work = str(shop.job / "out"), str(shop.job / "work")
    tries = [("link", out), ("pipe", out), ("write", str(shop.job / "art"))]
    assert tried_confined(shop, *tries) == ["PermissionError"] * 3
    assert (
        tried_confined(shop, ("make", out), ("make", work), ("append", "/dev/null")) == ["done"] * 3
    )
    assert (shop.job / "out" / "made").read_bytes() == b"x"


@needs_filter
def test_no_network_no_program_and_no_other_process(shop: SimpleNamespace) -> None:
    tries = [
        ("connect", shop.port),
        ("abstract", shop.named),
        ("signal", shop.pid),
        ("strangle", shop.pid),
        ("program", "true"),
    ]
    assert [tried_free(*one) for one in tries[:3]] == ["done"] * 3
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    assert tried_confined(shop, *tries) == ["PermissionError"] * 5
    assert resource.getrlimit(resource.RLIMIT_NOFILE) == before


@needs_filter
def test_every_call_of_the_list_is_refused(shop: SimpleNamespace) -> None:
    column = 0 if platform.machine() == "x86_64" else 1
    numbers = [number for pair in system_calls.REFUSED.values() if (number := pair[column])]
    assert len(numbers) > 80
    told = tried_confined(shop, *(("call", str(number)) for number in numbers))
    assert set(told) == {"PermissionError"}


@pytest.mark.parametrize("version", [0, 1, 2, 3, 4, 5])
@needs_filter
def test_older_kernels_bind_what_they_can(
    shop: SimpleNamespace, monkeypatch: pytest.MonkeyPatch, version: int
) -> None:
    """Older versions of Landlock's interface are asked for by this kernel's own."""
    if version > VERSION:
        pytest.skip(f"this kernel has Landlock's interface {VERSION} only")
    (shop.home / "older_stub.py").write_text(
        "import sys, sandbox_stub\n"
        "from filmhand.worker import sandbox\n"
        f"sandbox.landlock_version = lambda: {version}\n"
        "sys.exit(sandbox_stub.answer_parent(sandbox_stub.make))\n"
    )
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(HERE), str(shop.home)]))
    tries = [("signal", shop.pid), ("connect", shop.port), ("cut", str(shop.drop / "art.png"))]
    told = tried_confined(shop, *tries, ("read", str(shop.other / "art")), module="older_stub")
    assert told == ["PermissionError"] * 3 + ["PermissionError" if version else "done"]


FREE = """
import os
from filmhand.worker import child
child.confine = lambda *given: None
code = child.answer_parent()
os._exit(code)
"""
SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm">
<text x="10" y="60" font-size="40" font-family="sans-serif">Film</text></svg>"""
PDF = b"""%PDF-1.4
1 0 obj <</Type /Catalog /Pages 2 0 R>> endobj
2 0 obj <</Type /Pages /Kids [3 0 R] /Count 1>> endobj
3 0 obj <</Type /Page /Parent 2 0 R /MediaBox [0 0 200 100] /Contents 4 0 R
 /Resources <</Font <</F 5 0 R>>>>>> endobj
4 0 obj <</Length 34>> stream
BT /F 40 Tf 20 30 Td (Film) Tj ET
endstream endobj
5 0 obj <</Type /Font /Subtype /Type1 /BaseFont /Times-Roman>> endobj
trailer <</Root 1 0 R>>
startxref
0
%%EOF
"""


def art_of(kind: str, folder: Path) -> Path:
    art = folder / f"art.{kind}"
    ramp = np.linspace(0, 255, 400 * 300).astype(np.uint8).reshape(300, 400)
    match kind:
        case "svg":
            art.write_text(SVG)
        case "pdf":
            art.write_bytes(PDF)
        case "heic":
            pytest.importorskip("pillow_heif").from_pillow(Image.fromarray(ramp)).save(art)
        case "tif":
            deep = np.dstack([ramp.astype(np.uint16) * 257] * 3)
            pytest.importorskip("tifffile").imwrite(art, deep, photometric="rgb")
        case _:
            Image.fromarray(ramp).save(art, dpi=(72, 72))
    return art


def made(request: JobRequest, module: str, start: StartProcess = start_fresh) -> dict[str, str]:
    """The hashes of what comes out; a refusal's sentence instead."""
    for folder in (request.out, request.scratch):
        folder.mkdir(parents=True)
    try:
        (film,) = run_in_worker(request, limits=LIMITS, module=module, start=start).films
    except Refused as refused:
        return {"refused": refused.say}
    files = [*film.files.values(), film.proof]
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}


@pytest.mark.parametrize("kind", ["png", "svg", "pdf", "heic", "tif"])
def test_films_come_out_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """By one that is not confined, one that keeps the tile, one that finds it kept, and a fork."""
    (tmp_path / "code").mkdir()
    (tmp_path / "code" / "free_child.py").write_text(FREE)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path / "code"))
    art, told = art_of(kind, tmp_path), []
    profile = read_profile(PROFILE + "write: [pdf, tiff, png, pwg]\n", name="s", file="s.yaml")
    with contextlib.closing(ForkServer()) as forks:
        ways = [("free_child", start_fresh), *[(CHILD, start_fresh)] * 2, (CHILD, forks.start)]
        for number, (module, start) in enumerate(ways):
            tiles, inside = tmp_path / f"tiles-{module}", tmp_path / str(number)
            request = JobRequest(
                art, art.name, profile, inside / "out", inside / "work", tiles=tiles, threads=2
            )
            told.append(made(request, module, start))
            assert [one.suffix for one in tiles.iterdir()] == [".tile"]
    assert len(told[0]) == (5 if kind != "svg" or "refused" not in told[0] else 1)
    assert told[1:] == told[:1] * 3


@needs_landlock
@needs_filter
def test_tiles_of_other_jobs_can_be_read_only(shop: SimpleNamespace) -> None:
    """Who could write there would spoil the films of jobs to come."""
    tiles = shop.root / "state" / "tiles"
    tiles.mkdir()
    (tiles / "a.tile").write_bytes(b"tile")
    kept = str(tiles / "a.tile")
    told = tried_confined(shop, ("read", kept), ("append", kept), ("make", str(tiles)), tiles=tiles)
    assert told == ["done", "PermissionError", "PermissionError"]


@pytest.mark.parametrize(
    ("header", "column"), [("x86_64-linux-gnu/asm/unistd_64.h", 0), ("asm-generic/unistd.h", 1)]
)
@pytest.mark.outside
def test_the_numbers_are_those_of_the_kernels_headers(header: str, column: int) -> None:
    file = Path("/usr/include") / header
    if not file.is_file():
        pytest.skip(f"{file} is not installed (linux-libc-dev)")
    found = re.findall(r"#define __NR(?:3264)?_(\w+)\s+(\d+)", file.read_text())
    numbers = {name: int(number) for name, number in found}
    newer = {"fchmodat2", "setxattrat", "removexattrat"}  # since 6.6 and 6.13
    asked = system_calls.REFUSED | system_calls.CLONE | system_calls.CLONE3
    asked |= system_calls.TO_ITSELF | system_calls.LIMITS_OF
    for name, pair in asked.items():
        if name not in newer or name in numbers:
            assert pair[column] == numbers.get(name), name


@needs_filter
def test_doctor_says_what_holds_here() -> None:
    (finding,) = examine_job_process("here")
    assert (finding.where, finding.what) == ("here", "sandbox")
    if VERSION:
        assert finding.level is Level.OK
        assert finding.say == (
            "What reads a picture reaches its own folders only, not other files, the network or "
            f"other processes (Landlock {VERSION} and a filter for system calls)."
        )
    else:
        assert finding.level is Level.NOTE
        assert "could reach other files here" in finding.say


@pytest.mark.parametrize(
    ("reach", "say"),
    [
        (Reach(0, False, True, True, True), "other files, the network and other processes here."),
        (Reach(0, True, True, False, False), "other files here, though not the network or other"),
        (Reach(3, False, False, True, True), "here, though not other files (Landlock 3)."),
    ],
)
def test_doctor_names_what_could_be_reached(reach: Reach, say: str) -> None:
    finding = finding_of(reach, "here")
    assert finding.level is Level.NOTE
    assert finding.do is not None and "5.13" in finding.do
    assert finding.say.startswith("What reads a picture could reach ")
    assert say in finding.say


def test_doctor_says_that_it_could_not_try(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    (finding,) = examine_job_process("here")
    assert finding.level is Level.WRONG


@needs_filter
def test_a_capability_of_the_service_is_not_handed_on() -> None:
    """capabilities(7): ambient ones survive a program's start, so the service lets go of them."""
    if os.geteuid():
        pytest.skip("only a process with a capability can hand it on")
    script = (
        "import ctypes, subprocess, sys\n"
        "from filmhand.worker.sandbox import keep_from_workers\n"
        "library = ctypes.CDLL(None)\n"
        "head = (ctypes.c_uint32 * 2)(0x20080522, 0)\n"
        "sets = (ctypes.c_uint32 * 6)()\n"
        "assert library.capget(head, sets) == 0\n"
        "sets[2] |= 1 << 28\n"
        "assert library.capset(head, sets) == 0\n"
        "assert library.prctl(47, 2, 28, 0, 0) == 0\n"
        "if sys.argv[1:]: keep_from_workers()\n"
        "subprocess.run(['grep', 'CapAmb', '/proc/self/status'], check=True)\n"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}

    def told(*words: str) -> str:
        command = [sys.executable, "-P", "-c", script, *words]
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
        return done.stdout.split()[-1]

    assert int(told(), 16) == 1 << 28
    assert int(told("keep"), 16) == 0
