"""A year unattended, in short: nothing grows with the number of jobs that were done."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "soak"))


@pytest.mark.slow
def test_memory_files_and_start_stay_as_they_are(tmp_path: Path) -> None:
    from year import year

    rows = list(year(tmp_path, jobs=500, rows=5))
    assert [row.jobs for row in rows][-1] == 500 and rows[-1].day == 365
    early, late = rows[1], rows[-1]  # after four months what is kept no longer grows
    assert late.open_files == early.open_files
    assert late.threads == early.threads
    assert late.memory_mib < 1.1 * early.memory_mib
    assert late.start_opens < 1.3 * early.start_opens
    assert late.films < 1.3 * early.films
    # The log has one line a job, and little else: each month is as long as the one before.
    assert late.log_mb - rows[-2].log_mb < 1.3 * (rows[2].log_mb - early.log_mb)


@pytest.mark.slow
def test_what_was_kept_for_ever_is_there_after_a_year(tmp_path: Path) -> None:
    from job_harness import files_in
    from year import year

    list(year(tmp_path, jobs=120, rows=2))
    kept = [
        path
        for place in ("originals", "rejected")
        for path in files_in(tmp_path / "small" / place)
        if path.suffix == ".png"
    ]
    contents = {path.read_bytes() for path in kept}
    assert len(kept) == len(contents) == 120
    assert {int(data.split()[1]) for data in contents} == set(range(120))
