"""One pass of a spool whose films are held, for processes that tests kill.

``held_harness.py ROOT STATE HOST SETTINGS``, the settings as JSON: `approve`, `day` and `person`
(sheets), `now` (an ISO time), `gang` (seconds).
"""

from __future__ import annotations

import json
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import job_harness

from filmhand.profile.printing import Budget
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue


def make_queue(root: Path, state: Path, host: str = "here-00000000", **told: Any) -> JobQueue:
    """A queue by these settings; `now` may also be a callable."""
    limits = {key: told.pop(key) for key in ("day", "person") if key in told}
    budget, approve = Budget(**limits) if limits else None, told.pop("approve", False)
    wishes = {"approve": approve, "budget": bool(limits)}
    if isinstance(now := told.pop("now", "2026-03-01T12:00:00"), str):
        moment = datetime.fromisoformat(now).astimezone()
        now = lambda: moment  # noqa: E731
    return job_harness.make_queue(
        root, state, host, wishes=wishes, budget=budget, holds=approve or bool(limits), now=now,
        **told,
    )  # fmt: skip


if __name__ == "__main__":
    job_harness.forbid_removing(Path(sys.argv[1]))
    settings = json.loads(sys.argv[4])
    if "gang" in settings:
        settings |= {"gang": GangWishes(settings["gang"]), "room": None}
    job_harness.work_through(
        make_queue(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], **settings)
    )
