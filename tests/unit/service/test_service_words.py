"""The rows of what is told of a station: each has its thing, and each thing its row."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmhand.jobs.job import State
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.service_words import FileOutcome


@pytest.mark.parametrize("state", State)
def test_a_job_in_any_state_has_an_outcome_so_far(state: State) -> None:
    assert FileOutcome[state.name] == f"in hand ({state})"


def test_no_profile_is_told_with_the_command_that_makes_one(tmp_path: Path) -> None:
    folder = tmp_path / "my profiles"
    assert ProfileRegistry(folder, tmp_path).absence() == (
        f"There is no profile in {folder}.",
        f"Make one with: filmhand new-profile '{folder}/shirts.yaml'; or name the folder of your "
        "profiles with --profiles.",
    )
