"""Open pictures and a drawing, separated and printed again by the model, are near to themselves."""

from __future__ import annotations

import pytest
from recombination_cases import drawing_row, process_rows

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(("quality", "mean", "p95"), [(None, 0.2, 0.2), (90, 1, 5)])
def test_a_drawing_in_its_inks(quality, mean, p95):
    found = drawing_row(quality).found
    assert found.mean < mean
    assert found.p95 < p95


@pytest.mark.slow
def test_photographs_in_process_inks_are_far_nearer_than_by_a_plain_way():
    for row in process_rows():
        assert row.found.mean < 1, row.art
        assert row.found.p95 < 2, row.art
        assert row.plain is not None
        assert row.found.mean < 0.1 * row.plain.mean, row.art
