"""What a set of films is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from filmhand.ink.recombination import Recombination
from filmhand.pipeline.separation.geometry.ink_shapes import Trap
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    WantedSet,
    plan_set,
    separation_record,
    set_angles,
    traps_of,
)

CYAN = ListedInk("cyan", (55, -37, -50), 0.0)
MAGENTA = ListedInk("magenta", (48, 74, -3), 0.0)
YELLOW = ListedInk("yellow", (89, -5, 93), 0.0)
BLACK = ListedInk("black", (16, 0, 0), 0.0)
WHITE = ListedInk("white", (97, 0, 0))
RED = ListedInk("red", (45, 65, 40))
INKS = (CYAN, MAGENTA, YELLOW, BLACK)


def wanted(*inks, mode=SeparationMode.SPOT, **options):
    return WantedSet(("ab12", 0), "1.0", mode, inks, **options)


def test_films_are_in_the_order_listed():
    plan = plan_set(wanted(YELLOW, replace(RED, name="dark red"), BLACK))
    assert [film.name_end for film in plan.films] == ["-1-yellow", "-2-dark-red", "-3-black"]
    assert {film.of for film in plan.films} == {3}


@pytest.mark.outside
def test_process_angles_are_the_trades_turned_away_from_the_threads():
    # Cyan 15, magenta 75, yellow 0, black 45, each 7.5 more, in whatever order they are printed.
    process = {"cyan": 22.5, "magenta": 82.5, "yellow": 7.5, "black": 52.5}
    for inks in (INKS, (YELLOW, CYAN, MAGENTA, BLACK), (BLACK, CYAN, YELLOW, MAGENTA)):
        angles = set_angles(wanted(*inks, mode=SeparationMode.PROCESS))
        assert {ink.name: angle for ink, angle in zip(inks, angles, strict=True)} == process


def test_angles_go_with_the_mesh():
    turned = wanted(*INKS, mode=SeparationMode.PROCESS, mesh_angle=-7.5)
    assert set_angles(turned) == [15, 75, 0, 45]


def test_up_to_six_screens_lie_apart():
    inks = [replace(RED, name=str(k), color=(10 + 12 * k, 0, 0)) for k in range(7)]
    for count in range(2, 7):
        angles = set_angles(wanted(*inks[:count], mode=SeparationMode.SIMULATED))
        apart = [abs((a - b + 45) % 90 - 45) for k, a in enumerate(angles) for b in angles[k + 1 :]]
        assert min(apart) >= (30 if count < 4 else 15)
    assert len(set(set_angles(wanted(*inks, mode=SeparationMode.SIMULATED)))) == 6


def test_an_underbase_and_a_second_white_share_the_angle_that_all_colors_are_turned_from():
    # The simulated set of the guide's page on inks.
    white = ListedInk("base white", (95.0, 0.0, 0.0))
    red = replace(white, name="red", color=(44.0, 63.0, 42.0))
    blue = replace(white, name="blue", color=(29.0, 20.0, -53.0))
    yellow = replace(white, name="yellow", color=(81.0, 9.0, 77.0))
    light = replace(white, name="highlight white", color=(96.0, 0.0, 0.0))
    dark = {"mode": SeparationMode.SIMULATED, "cloth": (5.0, 0.0, 0.0), "choke_mm": 0.2}
    angles = set_angles(wanted(white, red, blue, yellow, light, **dark))
    assert angles == [52.5, 22.5, 82.5, 7.5, 52.5]
    given = set_angles(wanted(replace(white, angle=30.0), red, light, **dark))
    assert given == [30.0, 52.5, 30.0]


def test_angles_that_are_given_stay_and_are_left_free():
    inks = (replace(CYAN, angle=52.5), MAGENTA, YELLOW, replace(BLACK, angle=20.0))
    assert set_angles(wanted(*inks, mode=SeparationMode.PROCESS)) == [52.5, 82.5, 7.5, 20.0]


def test_spot_colors_have_one_angle_but_where_one_is_given():
    assert set_angles(wanted(YELLOW, replace(RED, angle=61.0), BLACK, angle=25.0)) == [25, 61, 25]


def test_the_lighter_ink_goes_under_the_darker():
    assert traps_of([YELLOW, RED]) == (Trap(0, 1),)
    assert traps_of([BLACK, YELLOW]) == (Trap(1, 0),)


def test_what_is_printed_first_goes_under_a_lighter_ink_that_covers():
    assert traps_of([BLACK, WHITE]) == (Trap(0, 1),)


def test_traps_are_for_spot_colors_with_a_distance():
    assert plan_set(wanted(YELLOW, RED, BLACK, trap_mm=0.2)).traps == (
        Trap(0, 1), Trap(0, 2), Trap(1, 2)
    )  # fmt: skip
    assert plan_set(wanted(YELLOW, RED)).traps == ()
    process = wanted(YELLOW, RED, trap_mm=0.2, mode=SeparationMode.PROCESS)
    assert plan_set(process).traps == ()


def test_the_identity_is_that_of_the_content():
    one = wanted(YELLOW, RED)
    others = [
        wanted(RED, YELLOW),
        replace(one, art=("ab13", 0)),
        replace(one, art=("ab12", 1)),
        replace(one, version="1.1"),
        replace(one, mode=SeparationMode.SIMULATED),
        replace(one, cloth=(10.0, 0.0, 0.0)),
        replace(one, angle=30.0),
        replace(one, mesh_angle=5.0),
        replace(one, trap_mm=0.1),
        replace(one, choke_mm=0.1),
        replace(one, total_ink=2.4),
        replace(one, black_generation=0.6),
        wanted(replace(YELLOW, opacity=0.5), RED),
        wanted(replace(YELLOW, mesh="120-34"), RED),
        wanted(replace(YELLOW, lpi=45.0), RED),
        wanted(replace(YELLOW, color=(89, -5, 92)), RED),
    ]
    assert plan_set(one).id == plan_set(wanted(YELLOW, RED)).id
    assert len({plan_set(each).id for each in [one, *others]}) == 1 + len(others)


def test_records_tell_of_the_set():
    plan = plan_set(wanted(YELLOW, replace(RED, color=(45.125, 65.0, 40.0))))
    assert plan.films[1].record(plan.id) == {
        "id": plan.id, "k": 2, "of": 2, "ink": "red", "color": [45.12, 65.0, 40.0]
    }  # fmt: skip
    assert separation_record(SeparationMode.SPOT, Recombination(0.1234, 5.678)) == {
        "mode": "spot", "mean_de00": 0.12, "p95_de00": 5.68
    }  # fmt: skip


def test_whole_numbers_are_the_same_however_they_are_kept():
    whole, broken = replace(RED, lpi=45), replace(RED, lpi=45.0, color=(45.0, 65.0, 40.0))
    assert plan_set(wanted(whole, angle=20)).id == plan_set(wanted(broken, angle=20.0)).id


@pytest.mark.parametrize("names", [("Red", "red"), ("dark red", "dark-red"), ("é", "e\u0301")])
def test_names_that_clash(names):
    with pytest.raises(ValueError, match="two inks"):
        plan_set(wanted(*(replace(RED, name=name) for name in names)))


def test_a_set_has_an_ink():
    with pytest.raises(ValueError, match="at least one"):
        plan_set(wanted())
