from __future__ import annotations

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.losses import print_piece
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.predict.flat_tints import bands_of, conditions_for, conditions_of, curve_of
from filmhand.pipeline.predict.predict_print import predict_film, predict_print, tones_of_film
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, build_tile
from filmhand.units import Resolution

PROFILE = """\
sheet: 3 x 3 in
dpi: 600
lpi: 45
dot: round
threshold: 50
mesh: 90-48
margin: 0.25 in
tone: {hold: off}
"""
DPI = Resolution(600, 600)


def profile(more=""):
    return read_profile(PROFILE + more, name="p", file="p.yaml")


@pytest.fixture
def sheet(tmp_path):
    opened = []

    def make(bits):
        made = BitSheet.create(tmp_path / "bits", width=bits.shape[1], height=bits.shape[0])
        made.write(0, np.packbits(bits, axis=1))
        opened.append(made)
        return made

    yield make
    for made in opened:
        made.close()


def speckled(shape, seed=1):
    """Specks of all sizes, black on white above and white on black below."""
    rng = np.random.default_rng(seed)
    film = np.zeros(shape, bool)
    for _ in range(900):
        row, column = rng.integers(0, shape[0] - 8), rng.integers(0, shape[1] - 8)
        height, width = rng.integers(1, 6, 2)
        film[row : row + height, column : column + width] = True
    film[shape[0] // 2 :] ^= True
    return film


def test_strips_give_what_the_whole_gives(sheet):
    film = speckled((777, 650))
    now = PrintConditions(mesh=read_mesh("43-80"), mesh_angle=8)
    seen = predict_film(sheet(film), DPI, now, threads=2)
    impression = PrintedStrips(now, DPI, left=0, width=film.shape[1])
    halo_x, halo_y = impression.halo
    whole = print_piece(
        impression,
        np.pad(film, ((halo_y,) * 2, (halo_x,) * 2)),
        row=0,
        column=0,
        block=impression.cells,
    )
    # On a small film a box is a pixel.
    assert seen.box == (1, 1)
    assert (seen.film == film).all()
    assert seen.printed == pytest.approx(whole.share)
    assert (seen.lost, seen.filled) == (whole.lost_count, whole.filled_count)
    assert seen.lost > 5 and seen.filled > 5
    assert seen.dots > seen.lost and seen.shadow_dots > seen.filled


def test_threads_change_nothing(sheet):
    bits = sheet(speckled((500, 333), seed=2))
    now = PrintConditions(mesh=read_mesh("62-64"))
    one, two = (predict_film(bits, DPI, now, threads=count) for count in (1, 2))
    assert (one.printed == two.printed).all()
    assert (one.lost, one.filled) == (two.lost, two.filled)


def test_the_picture_of_a_large_film_is_averaged(sheet):
    film = np.zeros((9000, 900), bool)
    film[:, :450] = True
    seen = predict_film(
        sheet(film), Resolution(1200, 600), PrintConditions(mesh=read_mesh("43-80"))
    )
    # 15 in at the finer 1200 dpi are 18000 pixels, for twice the picture's 2000.
    assert seen.box == (5, 3)
    assert max(seen.printed.shape) <= 4000
    assert seen.film.mean() == pytest.approx(0.5, abs=0.01)


def test_a_stepped_film_tells_its_own_tones(sheet):
    own = profile()
    plan = plan_screen(own)
    tile = plan.tile()
    tones = np.repeat([0.1, 0.3, 0.5, 0.8], 300)
    strip = np.rint(np.tile(tones, (1200, 1)) * FULL_TONE).astype(np.uint16)
    film = Screener(tile, column=0, width=1200).cut(strip, row=0)
    told, seen = predict_print(sheet(film), DPI, conditions_of(own), profile=own)
    points = {round(p["film_pct"]): p for p in told["curve"]}
    assert {round(p["film_pct"]) for p in told["curve"] if p["from"] == "film"} == {10, 30, 50, 80}
    assert told["flats"] == "the profile's screen"
    # What the film tells and what flats of the same screen tell agree.
    pairs = curve_of(conditions_of(own), tile, own.dpi, [10, 30, 50, 80])
    flats = {round(film): printed for film, printed in pairs}
    for tone, printed in flats.items():
        assert points[tone]["print_pct"] == pytest.approx(printed, abs=1)
    prints = [point["print_pct"] for point in told["curve"]]
    assert prints == sorted(prints)
    assert told["dots"]["lost"] == 0 and told["dots"]["count"] > 1000
    assert told["print_pct"] == pytest.approx(100 * seen.printed.mean(), abs=0.01)


def test_without_a_profile_the_screen_of_the_film_is_found(sheet):
    tile = build_tile(find_lattice(30, 22.5, DPI), "round")
    strip = np.full((1200, 1200), FULL_TONE // 3, np.uint16)
    film = Screener(tile, column=0, width=1200).cut(strip, row=0)
    told, _ = predict_print(sheet(film), DPI, PrintConditions(mesh=read_mesh("62-64")))
    assert told["screen"]["lpi"] == pytest.approx(30, rel=0.01)
    assert told["flats"] == "the screen found on the film, with round dots"
    assert len(told["curve"]) >= 14


def test_a_film_without_a_screen_has_no_curve_of_flats(sheet):
    film = np.random.default_rng(4).random((400, 400)) < 0.3
    told, _ = predict_print(sheet(film), DPI, PrintConditions(mesh=read_mesh("43-80")))
    assert told["flats"] is None and told["bands"] is None
    assert all(point["from"] == "film" for point in told["curve"])


def test_a_film_of_another_screen_than_the_profile_is_not_taken_for_it(sheet):
    tile = build_tile(find_lattice(30, 22.5, DPI), "round")
    film = Screener(tile, column=0, width=900).cut(np.full((900, 900), 30000, np.uint16), row=0)
    told, _ = predict_print(sheet(film), DPI, conditions_of(profile()), profile=profile())
    assert told["flats"].startswith("the screen found on the film")


def test_conditions_come_from_the_profile_and_the_mesh_of_the_command_goes_first():
    own = profile(
        "press: {mesh_angle: 7.5, film_gap: 30 um, light_angle: 12, ink_spread: 9 um, "
        "ink_passage: 7 um}\n"
    )
    now = conditions_of(own)
    assert (now.mesh_angle, now.gap_um, now.light_deg) == (7.5, 30, 12)
    assert (now.spread_um, now.passage_um) == (9, 7)
    other = conditions_for(read_mesh("43-80"), own)
    assert other.mesh.pair == "43-80" and other.spread_um == 9
    assert conditions_for(read_mesh("43-80"), None).spread_um == 5
    bare = read_profile(PROFILE.replace("90-48", "none"), name="p", file="p.yaml")
    assert conditions_of(bare) is None
    with pytest.raises(ValueError, match="names a mesh"):
        conditions_for(None, bare)


def test_the_curve_rises_and_a_wetter_ink_prints_darker():
    tile = build_tile(find_lattice(45, 22.5, DPI), "ellipse")
    curves = [
        curve_of(PrintConditions(mesh=read_mesh("90-48"), spread_um=spread), tile, DPI)
        for spread in (5, 30)
    ]
    for curve in curves:
        assert (np.diff([printed for _, printed in curve]) > 0).all()
    assert all(wet > dry for (_, dry), (_, wet) in zip(*curves, strict=True))


def test_scattered_dots_make_no_bands():
    grain = read_profile(PROFILE.replace("dot: round", "dot: grain"), name="p", file="p.yaml")
    plan = plan_screen(grain)
    assert bands_of(conditions_of(grain), plan.tile(), DPI, plan.grid.lpi) is None


def test_tones_are_read_off_even_places_only():
    film = np.full((200, 200), 0.3, np.float32)
    film[:, 100:] = 0.7
    printed = film + np.float32(0.05)
    pairs = tones_of_film(film, printed, 3, [30, 50, 70])
    assert pairs == [(pytest.approx(30), pytest.approx(35)), (pytest.approx(70), pytest.approx(75))]
    assert tones_of_film(film[:5, :5], printed[:5, :5], 3, [30]) == []
