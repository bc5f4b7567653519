"""Where checks fail and warn: groups of two, in either order."""

from __future__ import annotations

import pytest

from filmhand.profile.model import VerdictLimits
from filmhand.profile.terms import FailWarn


@pytest.mark.parametrize(
    ("key", "written", "limits"),
    [
        ("dot", "auto", None),
        ("dot", "{fail: 110 um, warn: 0.31 mm}", FailWarn(fail=110, warn=310)),
        ("shadow_dot", "{warn: 310 µm, fail: 110 µm}", FailWarn(fail=110, warn=310)),
        ("stroke", "{fail: 0 um, warn: 0 um}", FailWarn(fail=0, warn=0)),
        ("gap", "{fail: 5 mm, warn: 5 mm}", FailWarn(fail=5000, warn=5000)),
        ("resolution", "{warn: 2, fail: 0.5}", FailWarn(fail=0.5, warn=2)),
        ("moire", "auto", FailWarn(warn=1.5, fail=4)),
        ("moire", "{warn: 2 mm, fail: 1 in}", FailWarn(warn=2, fail=25.4)),
        ("moire_cells", "{fail: 8, warn: 2}", FailWarn(warn=2, fail=8)),
    ],
)
def test_pairs_are_read_in_either_order(good, read, key, written, limits):
    assert getattr(read(f"{good}verdict: {{{key}: {written}}}").verdict, key) == limits


def test_defaults(good, read):
    assert read(good).verdict == VerdictLimits(
        resolution=FailWarn(fail=1.0, warn=1.414),
        moire=FailWarn(warn=1.5, fail=4.0),
        moire_cells=FailWarn(warn=3.0, fail=5.0),
    )


@pytest.mark.parametrize(
    ("written", "key", "says"),
    [
        ("dot: 110 um", "dot", "auto, or a group such as {fail: 110 um, warn: 310 um}, not"),
        ("dot: {fail: 110 um}", "dot", "with both in it"),
        ("dot: {fail: 310 um, warn: 110 um}", "dot", "with fail no larger than warn"),
        ("moire: {fail: 1 mm, warn: 2 mm}", "moire", "with warn no larger than fail"),
        ("moire_cells: {fail: 1, warn: 2}", "moire_cells", "with warn no larger than fail"),
        ("resolution: {fail: 3, warn: 2}", "resolution", "with fail no larger than warn"),
        ("resolution: auto", "resolution", "a group such as {fail: 1, warn: 1.414}, not 'auto'"),
        ("stroke: {fail: 110, warn: 310 um}", "stroke.fail", "0 µm to 5000 µm, with its unit"),
        ("resolution: {fail: 1, warn: 11}", "resolution.warn", "a number from 0 to 10, not 11"),
        ("moire: {warn: 2, fail: 4 mm}", "moire.warn", "a length such as 1.5 mm, with its unit"),
        ("gap: {fial: 1 um, warn: 2 um}", "gap.fial", "did you mean verdict.gap.fail?"),
        # As lists they were read once, and their order differed.
        ("dot: [110 um, 310 um]", "dot", "here {fail: 110 um, warn: 310 um}, not the list"),
        ("moire: [2 mm, 6 mm]", "moire", "here {warn: 2 mm, fail: 6 mm}, not the list"),
    ],
)
def test_what_cannot_be_is_told(good, faults, written, key, says):
    ((_, _, found, message),) = faults(f"{good}verdict: {{{written}}}")
    assert found == f"verdict.{key}"
    assert says in message
