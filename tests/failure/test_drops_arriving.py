"""Ways in which files arrive: reopened again and again, given their full size first, there before
the service; and real bombs in a real worker.
"""

from __future__ import annotations

import io
import json
import os
import pickle
import struct
import subprocess
import sys
import threading
import time
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile
from job_harness import assert_invariants, make_queue, work_through
from PIL import Image
from test_service_station import PROFILE, Shop, shop, stop, wait_until

from filmhand.art.files.completeness import completeness_of
from filmhand.errors import Reason
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.worker.parent import WorkerLimits

__all__ = ["shop"]


def drop_of(tmp_path: Path) -> Path:
    drop = tmp_path / "small" / "drop"
    drop.mkdir(parents=True)
    return drop


def test_a_scanner_that_opens_and_closes_again_and_again_makes_one_job(tmp_path: Path) -> None:
    """Four times appended to and closed, each time after less than the settle time."""
    path = drop_of(tmp_path) / "scan.tif"
    queue = make_queue(tmp_path / "small", tmp_path / "state", settle=0.3)
    data = b"art"
    for _ in range(5):
        path.write_bytes(data)
        data += b" another page"
        for _ in range(4):
            queue.look()
            assert queue.take() is None
            time.sleep(0.04)
    path.write_bytes(data)
    work_through(queue)
    assert_invariants(tmp_path / "small", [data])


def picture() -> bytes:
    buffer = io.BytesIO()
    gray = np.random.default_rng(4).integers(0, 256, (300, 300)).astype(np.uint8)
    Image.fromarray(gray).save(buffer, "PNG")
    return buffer.getvalue()


@pytest.mark.parametrize("how", ["ftruncate", "fallocate"])
def test_a_copy_that_has_its_full_size_first_and_its_old_time_is_waited_for(
    tmp_path: Path, how: str
) -> None:
    """Size and time never change while the bytes arrive; only the end tells that they have."""
    path, data = drop_of(tmp_path) / "copy.png", picture()
    queue = make_queue(tmp_path / "small", tmp_path / "state", finished=completeness_of, settle=0.1)
    descriptor = os.open(path, os.O_CREAT | os.O_WRONLY)
    if how == "fallocate":
        os.posix_fallocate(descriptor, 0, len(data))
    else:
        os.ftruncate(descriptor, len(data))
    os.close(descriptor)
    for part in range(0, len(data) - 100, len(data) // 8):
        with path.open("r+b") as file:
            file.write(data[: part or 10])
        os.utime(path, (1_700_000_000, 1_700_000_000))
        for _ in range(4):
            queue.look()
            assert queue.take() is None, f"taken with {part} of {len(data)} bytes"
            time.sleep(0.06)
    with path.open("r+b") as file:
        file.write(data)
    work_through(queue)
    assert (tmp_path / "small" / "originals" / "copy.png").read_bytes() == data


def test_files_there_at_the_start_settle_like_any_other(shop: Shop) -> None:
    """What lies ready is made; what is still growing when the service starts is waited for."""
    contents = [b"art %d" % number for number in range(4)]
    for number, data in enumerate(contents):
        shop.drop(f"{number}.png", data)
    growing = shop.root() / "drop" / "growing.png"
    grown: list[bytes] = [b"art"]
    enough = threading.Event()

    def grow() -> None:
        while not enough.is_set():
            grown[0] += b" more"
            growing.write_bytes(grown[0])
            time.sleep(0.08)

    growing.write_bytes(grown[0])
    writer = threading.Thread(target=grow)
    writer.start()
    service = shop.serve()
    wait_until(lambda: all(shop.made(f"{number}.png") for number in range(4)))
    assert growing.exists()
    enough.set()
    writer.join()
    wait_until(lambda: shop.made("growing.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [*contents, grown[0]])


def test_the_same_art_under_another_name_is_made_again_and_says_so(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    shop.drop("b.png", b"art")
    assert shop.once() == 0
    assert_invariants(shop.root(), [b"art", b"art"])
    record = json.loads((shop.root() / "records" / "b.json").read_bytes())
    assert record["earlier"] == "a"


# --- bombs ---------------------------------------------------------------------------------------


def png_bomb(side: int) -> bytes:
    def chunk(name: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + check

    packer = zlib.compressobj(9)
    row = bytes(1 + side // 8)
    data = b"".join(packer.compress(row) for _ in range(side)) + packer.flush()
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def tiff_bomb(side: int) -> bytes:
    buffer = io.BytesIO()
    rows = np.broadcast_to(np.zeros((1, side), np.uint8), (side, side))
    tifffile.imwrite(buffer, rows, compression="zlib", rowsperstrip=side)
    return buffer.getvalue()


def webp_bomb(side: int) -> bytes:
    buffer = io.BytesIO()
    Image.new("L", (16_000, side // 2)).save(buffer, "WEBP", lossless=True, method=0)
    return buffer.getvalue()


BOMBS = {"png": (png_bomb, 30_000), "tiff": (tiff_bomb, 22_000), "webp": (webp_bomb, 15_000)}


@pytest.mark.parametrize("limit", ["megapixels", "memory"])
@pytest.mark.parametrize("kind", BOMBS)
def test_a_bomb_is_too_big_for_a_worker_that_stays_small(
    tmp_path: Path, kind: str, limit: str
) -> None:
    """Few bytes that unpack to hundreds of megapixels; without a ceiling on pixels, memory is one.

    What the largest child of this process held in memory stays under the limit.
    """
    make, side = BOMBS[kind]
    data = make(side)
    assert len(data) < 2_000_000
    (tmp_path / "art").write_bytes(data)
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()
    most = 100 if limit == "megapixels" else 2000
    limits = f"limits: {{megapixels: {most}, memory: 512 MiB}}\n"
    profile = read_profile(PROFILE + limits, name="small", file="small.yaml")
    request = JobRequest(
        art=tmp_path / "art",
        name=f"bomb.{kind}",
        profile=profile,
        out=tmp_path / "out",
        scratch=tmp_path / "scratch",
    )
    memory = 2**29
    program = (
        "import pickle, resource, sys; from filmhand.worker.parent import *\n"
        "from filmhand.errors import Refused\n"
        "request, limits = pickle.load(sys.stdin.buffer)\n"
        "try: run_in_worker(request, limits=limits)\n"
        "except Refused as refused: print(refused.reason.value)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        input=pickle.dumps((request, WorkerLimits(seconds=120, memory=memory))),
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        check=False,
        timeout=200,
    )
    reason, held = done.stdout.decode().split()
    assert reason == Reason.TOO_BIG.value, done.stderr[-500:]
    assert int(held) * 1024 < memory
