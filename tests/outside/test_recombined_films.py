"""Finished films of an open photograph and of a drawing print their art again."""

from __future__ import annotations

import pytest
from film_set_cases import drawing_films, photograph_films

from filmhand.profile.terms import MoireLimits

pytestmark = pytest.mark.outside


@pytest.mark.slow
def test_a_photograph_in_process_inks(tmp_path):
    row, bands = photograph_films(tmp_path, "astronaut")
    assert row.found.mean < 2
    assert row.found.p95 < 5
    assert bands[0].visibility < MoireLimits().warn


def test_a_drawing_in_its_inks(tmp_path):
    found = drawing_films(tmp_path).found
    assert found.mean < 0.3
    assert found.p95 < 0.01
