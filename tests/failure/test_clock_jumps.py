"""Clocks that jump: the computer's own, and that of a share. Nothing waits by the wall clock."""

from __future__ import annotations

import os
import time
from pathlib import Path

from job_harness import assert_invariants
from test_service_station import PROFILE, Shop, shop, stop, wait_until

__all__ = ["shop"]

DAY = 86_400.0


def test_the_computers_clock_jumps_by_days(shop: Shop, tmp_path: Path) -> None:
    """A day on, two back, three on: all is made, nothing is tidied away or taken over."""
    shop.profile("small", PROFILE + "keep: {films: 12 h, proofs: 12 h}\ntakeover: 30 min\n")
    clock = tmp_path / "clock"
    service = shop.serve(WALL_CLOCK=str(clock))
    peer = shop.root() / ".filmhand" / "other-00000001"
    (peer / "job").mkdir(parents=True)
    (peer / "alive").write_text("a sign of life of another computer")
    contents = []
    for number, days in enumerate([0, 1, -1, 2]):
        clock.write_text(str(days * DAY))
        contents.append(b"art %d" % number)
        shop.drop(f"{number}.png", contents[-1])
        wait_until(lambda: len(shop.said("made")) == len(contents))
    time.sleep(1)
    assert stop(service) == 0
    days = {line["timestamp"][:10] for line in shop.said("made")}
    assert len(days) == 4  # the clock did jump
    assert not shop.said("took over")
    assert not shop.said("tidied away")
    (peer / "alive").unlink()
    (peer / "job").rmdir()
    peer.rmdir()
    assert_invariants(shop.root(), contents)


def test_files_from_the_future_and_the_past_settle_like_any_other(shop: Shop) -> None:
    """The clock of a share, or of whoever dropped the file, tells nothing about rest."""
    service = shop.serve()
    contents = []
    for number, ahead in enumerate([3600, -3600, 50 * 365 * DAY, -50 * 365 * DAY]):
        contents.append(b"art %d" % number)
        shop.drop(f"{number}.png", contents[-1])
        then = time.time() + ahead
        os.utime(shop.root() / "drop" / f"{number}.png", (then, then))
    wait_until(lambda: all(shop.made(f"{number}.png") for number in range(4)))
    assert stop(service) == 0
    assert_invariants(shop.root(), contents)


def test_a_file_that_is_still_written_under_a_time_of_the_past_is_waited_for(shop: Shop) -> None:
    """A copy that restores the file's old time after each part is not at rest."""
    service = shop.serve()
    path = shop.root() / "drop" / "slow.png"
    until = time.monotonic() + 2
    data = b"art"
    while time.monotonic() < until:
        data += b" more"
        path.write_bytes(data)
        os.utime(path, (1_000_000_000, 1_000_000_000))
        time.sleep(0.08)
        assert path.exists()
    wait_until(lambda: shop.made("slow.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])
