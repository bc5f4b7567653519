"""Where checks fail and warn: groups of two, in either order."""

from __future__ import annotations

import pytest

from filmhand.profile.model import VerdictLimits
from filmhand.profile.terms import FailWarn, MoireLimits


@pytest.mark.parametrize(
    ("key", "written", "limits"),
    [
        ("dot", "auto", None),
        ("dot", "{fail: 110 um, warn: 0.31 mm}", FailWarn(fail=110, warn=310)),
        ("shadow_dot", "{warn: 310 µm, fail: 110 µm}", FailWarn(fail=110, warn=310)),
        ("stroke", "{fail: 0 um, warn: 0 um}", FailWarn(fail=0, warn=0)),
        ("gap", "{fail: 5 mm, warn: 5 mm}", FailWarn(fail=5000, warn=5000)),
        ("resolution", "{warn: 2, fail: 0.5}", FailWarn(fail=0.5, warn=2)),
        ("moire", "auto", MoireLimits(warn=0.02, fail=0.1, distance_mm=1000)),
        ("moire", "{fail: 0.2, warn: 0.05, distance: 50 cm}", MoireLimits(0.05, 0.2, 500)),
        ("moire", "{distance: 3 ft}", MoireLimits(distance_mm=914.4)),
        ("moire", "{warn: 0, fail: 1}", MoireLimits(0, 1)),
    ],
)
def test_pairs_are_read_in_either_order(good, read, key, written, limits):
    assert getattr(read(f"{good}verdict: {{{key}: {written}}}").verdict, key) == limits


def test_defaults(good, read):
    assert read(good).verdict == VerdictLimits(
        resolution=FailWarn(fail=1.0, warn=1.414),
        moire=MoireLimits(warn=0.02, fail=0.1, distance_mm=1000.0),
    )


@pytest.mark.parametrize(
    ("written", "key", "says"),
    [
        ("dot: 110 um", "dot", "auto, or a group such as {fail: 110 um, warn: 310 um}, not"),
        ("dot: {fail: 110 um}", "dot", "with both in it"),
        ("dot: {fail: 310 um, warn: 110 um}", "dot", "with fail no larger than warn"),
        ("moire: {fail: 0.1, warn: 0.2}", "moire", "with warn no larger than fail"),
        ("moire: {warn: 0.2}", "moire", "with warn no larger than fail"),
        ("moire: {warn: 0.02, distance: 9 cm}", "moire.distance", "from 10 cm to 100 m"),
        ("moire: {distance: 1}", "moire.distance", "the unit is missing: 1 m"),
        ("moire: {warn: 0.02, far: 2 m}", "moire.far", "moire.far"),
        ("resolution: {fail: 3, warn: 2}", "resolution", "with fail no larger than warn"),
        ("resolution: auto", "resolution", "a group such as {fail: 1, warn: 1.414}, not 'auto'"),
        ("stroke: {fail: 110, warn: 310 um}", "stroke.fail", "0 µm to 5000 µm, with its unit"),
        ("resolution: {fail: 1, warn: 11}", "resolution.warn", "a number from 0 to 10, not 11"),
        # Until it went by what is seen, moire had two lengths.
        ("moire: {warn: 0.1, fail: 4 mm}", "moire.fail", "a share without a unit, and not by a"),
        ("moire_cells: {fail: 1, warn: 2}", "moire_cells", "verdict.moire_cells is gone: verdict."),
        ("beat: {fail: 1 mm, warn: 2 mm}", "beat", "verdict.beat is now verdict.moire"),
        ("gap: {fial: 1 um, warn: 2 um}", "gap.fial", "did you mean verdict.gap.fail?"),
        # As lists they were read once, and their order differed.
        ("dot: [110 um, 310 um]", "dot", "here {fail: 110 um, warn: 310 um}, not the list"),
        ("moire: 2 mm", "moire", "auto, or a group such as {warn: 0.02, fail: 0.1, distance: 1 m}"),
    ],
)
def test_what_cannot_be_is_told(good, faults, written, key, says):
    ((_, _, found, message),) = faults(f"{good}verdict: {{{written}}}")
    assert found == f"verdict.{key}"
    assert says in message
