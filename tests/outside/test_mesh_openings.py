"""Mesh geometry against published figures; the source stands beside each."""

from __future__ import annotations

import pytest

from filmhand.mesh.table import MESHES, read_mesh, woven

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(("thread", "thickness"), [(40, 59), (48, 72), (54, 84), (40, 63)])
def test_estimated_thickness_is_within_6_percent_of_the_published(thread, thickness):
    # The first three from nt-jp.com, Screen Specifications; the last from Mesh Matters.
    assert woven(90, thread).thickness_um == pytest.approx(thickness, rel=0.06)


def test_225_and_230_are_the_same_fabric():
    # Sold as 225 in nt-jp.com, Screen Specifications; 90 per cm are 228.6 per inch.
    assert read_mesh(225).threads_per_inch == pytest.approx(228.6, abs=0.05)


def test_156_157_and_158_are_the_same_fabric():
    # atlasscreensupply.com, Choosing the Right Mesh and Halftone Dot.
    assert {read_mesh(label).label for label in (156, 157, 158)} == {"62-64"}


def test_threads_stated_by_a_working_shop_are_in_the_table():
    # R. O'Shea, Understanding Mesh Count Geometry, ronanoshea.co.uk/TOT: count-thread pairs.
    stated = {(24, 140), (34, 100), (49, 55), (62, 64), (90, 48), (120, 34), (120, 31), (140, 34)}
    assert stated <= {(row.threads_per_cm, row.thread_um) for row in MESHES}
