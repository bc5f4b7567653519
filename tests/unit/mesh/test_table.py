"""The working table of meshes and the ways of naming one."""

from __future__ import annotations

from collections import Counter

import pytest

from filmhand.mesh.assumed import assumptions
from filmhand.mesh.table import MESHES, MeshError, read_mesh, woven


def test_every_inch_label_has_one_usual_thread():
    usual = Counter(row.inch_label for row in MESHES if row.usual)
    assert set(usual) == {row.inch_label for row in MESHES}
    assert set(usual.values()) == {1}


def test_other_labels_for_a_fabric_are_nobody_elses():
    also = {(label, row.threads_per_cm) for row in MESHES for label in row.also}
    assert len({label for label, _ in also}) == len(also)
    assert not {label for label, _ in also} & {row.inch_label for row in MESHES}


def test_inch_labels_are_within_3_percent_of_the_exact_count():
    for row in MESHES:
        for label in (row.inch_label, *row.also):
            assert row.threads_per_cm * 2.54 == pytest.approx(label, rel=0.03), row


def test_every_row_can_be_named_and_says_its_source():
    for row in MESHES:
        mesh = read_mesh(f"{row.threads_per_cm:g}-{row.thread_um:g}")
        assert (mesh.threads_per_cm, mesh.thread_um) == (row.threads_per_cm, row.thread_um)
        assert row.source
        assert not mesh.assumed


def test_a_pair_outside_the_table_is_computed():
    mesh = read_mesh("51-60")
    assert mesh.opening_um == pytest.approx(10000 / 51 - 60)
    assert mesh.thickness_um == 90
    assert mesh.threads_per_inch == pytest.approx(129.54)


@pytest.mark.parametrize("written", ["43-80", "43 - 80", "43–80", " 43-80 ", "43-80 um"])
def test_a_pair_may_be_spaced(written):
    assert read_mesh(written).label == "110 (43-80)"


@pytest.mark.parametrize("label", [110, "110"])
def test_an_inch_label_assumes_the_usual_thread(label):
    mesh = read_mesh(label)
    assert (mesh.label, mesh.pair, mesh.assumed) == ("110 (43-80)", "43-80", True)


def test_one_fabric_has_several_labels():
    assert read_mesh(156) == read_mesh(157) == read_mesh(158)
    assert read_mesh(225).label == read_mesh(230).label == "230 (90-48)"


def test_none_is_no_mesh():
    assert read_mesh("none") is None
    assert read_mesh("None") is None


@pytest.mark.parametrize(
    ("label", "near"),
    [
        (115, "are 110 (43-80) and 122 (48-70)"),
        (410, "are 390 (155-27) and 420 (165-31)"),
        (999, "is 420 (165-31)"),
        # Under 60 a count can only be one per cm.
        (20, "is 61 (24-140)"),
        (47, "are 110 (43-80) and 122 (48-70)"),
        (57, "are 140 (55-64) and 150 (59-48)"),
    ],
)
def test_an_unknown_count_names_its_neighbors(label, near):
    with pytest.raises(ValueError, match=rf"inch label {label} is not in the table") as caught:
        read_mesh(label)
    assert str(caught.value).endswith(f": the nearest {near}")


def test_every_count_has_one_usual_thread_and_one_inch_label():
    usual = Counter(row.threads_per_cm for row in MESHES if row.usual)
    assert set(usual) == {row.threads_per_cm for row in MESHES}
    assert set(usual.values()) == {1}
    labels = {(row.threads_per_cm, row.inch_label, row.also) for row in MESHES}
    assert len(labels) == len(usual)


@pytest.mark.parametrize("count", [24, 34, 43, 48, 49, 54, 55, 59, 62, 64, 68, 72, 77, 95, 165])
def test_a_count_that_nobody_sells_by_the_inch_is_one_per_cm(count):
    mesh = read_mesh(count)
    assert mesh.threads_per_cm == count
    assert mesh.assumed
    told = f"Mesh {count} is read as threads a cm, and a thread of {mesh.thread_um:g} µm is assumed"
    assert assumptions(mesh)[0] == f"{told}: {mesh.label}."


@pytest.mark.parametrize(
    ("count", "pair", "per_cm"),
    [
        (90, "36-90", "230 (90-48)"),
        (100, "40-80", "254 (100-40)"),
        (110, "43-80", "280 (110-34)"),
        (120, "48-70", "305 (120-34)"),
        (140, "55-64", "355 (140-34)"),
        (150, "59-48", "380 (150-31)"),
        (155, "61-64", "390 (155-27)"),
    ],
)
def test_a_count_that_may_be_either_is_the_inch_label_and_the_other_is_told(count, pair, per_cm):
    mesh = read_mesh(count)
    assert mesh.pair == pair
    assert assumptions(mesh)[0] == (
        f"Mesh {count} is read as the inch label, and a thread of {mesh.thread_um:g} µm is "
        f"assumed: {mesh.label}. If it counts threads a cm, it is {per_cm}."
    )


def test_the_threads_of_a_count_are_told_with_what_each_holds():
    # Diagonals of a crossing: 1.414 x 80 = 113.1 and 1.414 x 71 = 100.4; openings 232.6 less them.
    assert assumptions(read_mesh(110))[1] == (
        "Threads that are woven at 43 a cm, and what each holds: 110 (43-80): dots over 113 µm, "
        "shadow dots over 153 µm, both evenly from 313 µm; 110 (43-71): dots over 100 µm, shadow "
        "dots over 162 µm, both evenly from 304 µm. Write the one on the roll or its data sheet, "
        "such as mesh: 43-80."
    )
    assert "196 (77-48), from memory: dots over 68 µm" in assumptions(read_mesh(196))[1]
    assert not assumptions(read_mesh("43-80"))


@pytest.mark.parametrize(
    "written", ["110 (43-80)", "110(43-80)", "109 ( 43 - 80 um )", "225 (90-48)", "130 (51-60)"]
)
def test_both_names_can_be_written_as_they_are_shown(written):
    mesh = read_mesh(written)
    assert mesh == read_mesh(written[written.index("(") + 1 : -1])
    assert read_mesh(mesh.label) == mesh
    assert not mesh.assumed


def test_every_mesh_of_the_table_can_be_written_as_it_is_shown():
    for row in MESHES:
        mesh = woven(row.threads_per_cm, row.thread_um)
        assert mesh.label == f"{row.inch_label} ({mesh.pair})"
        assert read_mesh(mesh.label) == mesh


@pytest.mark.parametrize("letter", ["S", "T", "t", "HD", " M"])
def test_a_letter_for_the_thread_is_told_how_to_write_it(letter):
    with pytest.raises(ValueError, match=r"does not tell the thread, so .* such as 77-55$"):
        read_mesh(f"77{letter}")


def test_two_names_of_different_meshes_are_refused():
    with pytest.raises(ValueError, match="120 threads a cm are 305 to the inch and not 110, so"):
        read_mesh("110 (120-34)")
    for odd in ("110 (43)", "110 ()", "110 (120)", "(43-80)"):
        with pytest.raises(ValueError, match="threads per cm and thread such as 43-80"):
            read_mesh(odd)


@pytest.mark.parametrize("value", [None, True, 110.0, [], "110 mesh", "", "-80", "43-80-2", "43T"])
def test_what_names_no_mesh_is_refused(value):
    with pytest.raises(ValueError, match="threads per cm and thread such as 43-80"):
        read_mesh(value)


def test_an_inch_count_with_a_thread_is_told_how_to_write_it():
    with pytest.raises(ValueError, match="threads per inch, write 43-80"):
        read_mesh("110-80")
    with pytest.raises(ValueError, match="threads per inch, write 90-48"):
        read_mesh("230-48")


@pytest.mark.parametrize("value", ["0-80", "400-20", "43-5", "43-900"])
def test_counts_and_threads_that_nobody_weaves_are_refused(value):
    with pytest.raises(ValueError, match=r"from 5 to 250|from 10 µm to 500 µm"):
        read_mesh(value)


def test_a_mesh_written_out_takes_the_shops_own_figures():
    mesh = read_mesh(
        {
            "threads_per_cm": 43,
            "thread": "80 um",
            "opening": "149 µm",
            "thickness": "0.13 mm",
            "stretch": 3,
        }
    )
    assert (mesh.opening_um, mesh.thickness_um, mesh.stretch_percent) == (149, 130, 3)
    assert mesh.open_area == pytest.approx((149 / (10000 / 43)) ** 2)
    assert mesh.ink_volume == pytest.approx(mesh.open_area * 130)


def test_a_mesh_written_out_without_extras_equals_its_label():
    assert read_mesh({"threads_per_cm": 43, "thread": "80 um"}) == read_mesh("43-80")


@pytest.mark.parametrize(
    ("change", "key", "phrase"),
    [
        ({"thread": 80}, "thread", "a length with its unit, such as 80 um"),
        ({"threads_per_cm": "43"}, "threads_per_cm", "a number such as 43"),
        ({"threads_per_cm": True}, "threads_per_cm", "a number such as 43"),
        ({"thread": "300 um"}, "thread", "thinner than the pitch, 232.6 µm"),
        ({"opening": "240 um"}, "opening", "smaller than the pitch, 232.6 µm"),
        ({"opening": "0 um"}, "opening", "smaller than the pitch"),
        ({"thickness": "200 um"}, "thickness", "80 µm to 160 µm"),
        ({"stretch": 40}, "stretch", "0 to 10"),
        ({"weave": "twill"}, "weave", "one of threads_per_cm"),
    ],
)
def test_a_mesh_written_out_names_the_faulty_key(change, key, phrase):
    with pytest.raises(MeshError) as caught:
        read_mesh({"threads_per_cm": 43, "thread": "80 um"} | change)
    assert [k for k, _ in caught.value.parts] == [key]
    assert phrase in caught.value.parts[0][1]


def test_a_mesh_written_out_tells_all_its_faults():
    with pytest.raises(MeshError) as caught:
        read_mesh({"opening": 3, "stretch": "x"})
    assert {k for k, _ in caught.value.parts} == {"opening", "stretch", "threads_per_cm", "thread"}


def test_a_closer_weave_is_less_open():
    areas = [woven(n, 40).open_area for n in (60, 90, 120)]
    assert areas == sorted(areas, reverse=True)


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"threads_per_cm": 5, "thread": "500 um"}, None),
        ({"threads_per_cm": 4.99}, "threads_per_cm"),
        ({"threads_per_cm": 250, "thread": "10 um"}, None),
        ({"threads_per_cm": 250.01, "thread": "10 um"}, "threads_per_cm"),
        ({"thread": "9.99 um"}, "thread"),
        ({"threads_per_cm": 5, "thread": "500.01 um"}, "thread"),
        ({"threads_per_cm": 50, "thread": "199.9 um"}, None),
        ({"threads_per_cm": 50, "thread": "200 um"}, "thread"),  # as thick as the pitch
        ({"threads_per_cm": 50, "opening": "199.9 um"}, None),
        ({"threads_per_cm": 50, "opening": "200 um"}, "opening"),
        ({"opening": "0.01 um"}, None),
        ({"thickness": "80 um"}, None),
        ({"thickness": "79.9 um"}, "thickness"),
        ({"thickness": "160 um"}, None),
        ({"thickness": "160.1 um"}, "thickness"),
        ({"stretch": 0}, None),
        ({"stretch": -0.1}, "stretch"),
        ({"stretch": 10}, None),
        ({"stretch": 10.1}, "stretch"),
    ],
)
def test_the_ends_of_what_is_woven(changed, key):
    written = {"threads_per_cm": 43, "thread": "80 um"} | changed
    if key is None:
        assert read_mesh(written).threads_per_cm == written["threads_per_cm"]
        return
    with pytest.raises(MeshError) as caught:
        read_mesh(written)
    assert [k for k, _ in caught.value.parts] == [key]


def test_a_pair_may_leave_15_percent_open_and_no_less():
    # 100 threads a cm: a pitch of 100 um, of which sqrt(0.15) is 38.73 um.
    assert read_mesh("100-61.27").open_area > 0.15
    with pytest.raises(ValueError, match="almost nothing open"):
        read_mesh("100-61.28")
