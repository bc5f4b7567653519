"""Names that are made up come once in the world."""

from __future__ import annotations

import re
from datetime import UTC, datetime

from filmhand.disk.file_names import random_digits
from filmhand.disk.forms import is_job_id
from filmhand.jobs.job import new_id


def test_made_up_names_have_eight_digits_and_differ() -> None:
    found = {random_digits() for _ in range(1000)}
    assert len(found) > 990
    assert all(re.fullmatch("[0-9a-f]{8}", one) for one in found)
    when = datetime(2026, 3, 1, 10, 0, 5, tzinfo=UTC)
    job = new_id(when)
    assert job.startswith("20260301T100005-") and is_job_id(job)
    assert job != new_id(when)
