"""Tables from colors to inks that are kept between jobs."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_table import ColorTable, grid_codes
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.solving import InkRules
from filmhand.pipeline.separation import ready_made
from filmhand.pipeline.separation.ready_made import keep_for_sets, table_of
from filmhand.profile.read.load import read_profile

WHITE = np.array([100.0, 0, 0])
BASE = (
    "sheet: 80 x 90 mm\ndpi: 254\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 2 mm\n"
)


@pytest.fixture
def solved(monkeypatch):
    """Takes the place of the solver; counts its calls."""
    calls = []

    def solve(model, rules):
        calls.append(rules)
        light = srgb_to_lab(grid_codes(3))[:, :1] / 100
        return ColorTable.of(np.repeat(1 - np.clip(light, 0, 1), model.ink_count, axis=1))

    monkeypatch.setattr(ready_made, "separation_table", solve)
    return calls


def model(*colors):
    inks = [PrintingInk(np.array(color, float), 0.0) for color in colors]
    return print_model(inks, WHITE, yule_nielsen=1.7)


def test_a_table_is_worked_out_once_and_kept_to_the_bit(tmp_path, solved):
    two = model((50, 60, 40), (30, 10, -45))
    first = table_of(two, InkRules(), tmp_path)
    again = table_of(two, InkRules(), tmp_path)
    alone = table_of(two, InkRules(), None)
    assert len(solved) == 2  # once kept, once without a folder
    assert (first.values == again.values).all()
    assert (first.values == alone.values).all()
    assert first.values.shape == (3, 3, 3, 2)


def test_other_inks_and_rules_have_their_own(tmp_path, solved):
    table_of(model((50, 60, 40)), InkRules(), tmp_path)
    table_of(model((51, 60, 40)), InkRules(), tmp_path)
    table_of(model((50, 60, 40)), InkRules(total_ink=2.0), tmp_path)
    assert len(solved) == 3


def test_a_spoilt_file_is_worked_out_again(tmp_path, solved):
    one = model((50, 60, 40))
    table = table_of(one, InkRules(), tmp_path)
    (file,) = tmp_path.glob("*.inks")
    file.write_bytes(file.read_bytes()[:-1] + b"!")
    assert (table_of(one, InkRules(), tmp_path).values == table.values).all()
    assert len(solved) == 2


@pytest.mark.parametrize(
    ("inks", "tiles", "tables"),
    [
        ("inks: auto 3\n", 0, 0),
        ('inks: [{name: red, color: "#b3261e"}, {name: blue, color: "#1d3f9c"}]\n', 1, 0),
        ("inks: process\n", 4, 1),
        ('art: {treat: line}\ninks: [{name: red, color: "#b3261e"}]\n', 0, 0),
    ],
)
def test_what_a_profile_needs_is_kept_before_any_art_is_read(tmp_path, solved, inks, tiles, tables):
    keep_for_sets(read_profile(BASE + inks, name="p", file="p.yaml"), tmp_path)
    assert len(list(tmp_path.glob("*.tile"))) == tiles
    assert len(list(tmp_path.glob("*.inks"))) == tables == len(solved)
