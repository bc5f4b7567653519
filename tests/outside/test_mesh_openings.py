"""Mesh geometry against published figures; the source stands beside each."""

from __future__ import annotations

import pytest

from filmhand.mesh.table import MESHES, read_mesh, woven

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    ("thread", "thickness", "opening", "open_percent", "volume"),
    [(40, 59, 73, 42, 25), (48, 72, 65, 33, 24), (54, 84, 59, 27, 23)],
)
def test_rows_of_a_mesh_makers_sheet(thread, thickness, opening, open_percent, volume):
    # nt-jp.com, Screen Specifications: 225 per inch with three threads, all figures rounded there.
    mesh = woven(225 / 2.54, thread, thickness_um=thickness)
    assert mesh.opening_um == pytest.approx(opening, abs=0.5)
    assert 100 * mesh.open_area == pytest.approx(open_percent, abs=0.5)
    assert mesh.ink_volume == pytest.approx(volume, abs=0.5)


def test_open_area_of_the_classroom_mesh():
    # catspitproductionsllc.com, Thin Mesh: 110-80 has 43 % open area.
    assert 100 * read_mesh("43-80").open_area == pytest.approx(43, abs=0.5)


def test_woven_fabric_is_less_open_than_the_formula():
    # Mesh Matters, Screen Printing, June 2009: 305-40 has 25 % open area and 63 um thickness. The
    # formula gives 27.0 %, because crossing threads flatten; more than 2.5 points apart would be
    # another fabric.
    mesh = read_mesh("120-40")
    assert 100 * mesh.open_area == pytest.approx(27.0, abs=0.05)
    assert 0 < 100 * mesh.open_area - 25 < 2.5
    assert mesh.thickness_um == pytest.approx(63, rel=0.06)


@pytest.mark.parametrize(("thread", "thickness"), [(40, 59), (48, 72), (54, 84), (40, 63)])
def test_estimated_thickness_is_within_6_percent_of_the_published(thread, thickness):
    # The first three from nt-jp.com, Screen Specifications; the last from Mesh Matters.
    assert woven(90, thread).thickness_um == pytest.approx(thickness, rel=0.06)


def test_thin_thread_305_from_the_formulas():
    # Fremplast, Geometria dos tecidos para serigrafia, and Aoki Tensya give t = 10000 / n,
    # w = t - d and A = (w / t)²; worked by hand for 120 threads per cm of 34 um:
    # 10000 / 120 = 83.33, less 34 is 49.33, and (49.33 / 83.33)² = 0.3504.
    mesh = read_mesh("120-34")
    assert mesh.pitch_um == pytest.approx(83.33, abs=0.005)
    assert mesh.opening_um == pytest.approx(49.33, abs=0.005)
    assert 100 * mesh.open_area == pytest.approx(35.04, abs=0.01)


@pytest.mark.parametrize(("count", "exact", "label"), [(120, 304.8, 305), (155, 393.7, 390)])
def test_inch_labels_are_rounded_metric_counts(count, exact, label):
    # M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003.
    assert woven(count, 30).threads_per_inch == pytest.approx(exact, abs=0.05)
    assert label in {row.inch_label for row in MESHES if row.threads_per_cm == count}
    assert read_mesh(label).threads_per_cm == count


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
