"""The predicted tone curve beside curves that presses were measured to have, and beside no model.

Two published curves, film tone to print tone in percent:

- SEFAR, Half-tone printing process line (sefar.com, article 6566571);
- Precise Media, Presto CD artwork (precisemedia.com).

Neither page tells the mesh, the first not even the screen, and none how print tone was measured.
So these are assumed: 150-31 mesh at 40 lines a cm for SEFAR, which names that pairing in Questions
about half-tone printing (article 6566569), at 22.5 degrees; 150-31 at the 85 lines an inch and 45
degrees that Presto asks for; elliptical dots, 2400 dpi. The print tone is taken to be what a
densitometer reads by Murray and Davies: on SEFAR's sheet through light that spreads in paper,
n = 1.7 (J. A. C. Yule, W. J. Nielsen, TAGA, 1951; 1.7 is usual on paper), on a disc, which has no
paper, n = 1. Solid density 1.4.

Gap and light are filmhand's defaults. The spread of ink and the narrowest opening that it comes
through are fitted: one pair for both curves. For a fair trial ``--fit`` fits to each alone and
holds the other against that.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/press_curves.py [--fit]
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np

from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.predict.flat_tints import curve_of
from filmhand.profile.model import Press
from filmhand.screen.lattice import find_lattice
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.units import Resolution

DPI = Resolution(2400, 2400)
SOLID_DENSITY = 1.4
# By what the grid of the model can tell apart at 2400 dpi.
SPREADS_UM, PASSAGES_UM = (0.0, 2.5, 5.0, 7.5), (0.0, 10.0, 15.0, 20.0)
OTHER_MESHES = ("120-34", "140-34", "150-34", "165-31", "165-27")
DEFAULTS = (Press().ink_spread, Press().ink_passage)


@dataclass(frozen=True)
class Published:
    """A measured curve, and the screen, mesh and way of measuring that are assumed."""

    name: str
    film: tuple[float, ...]
    printed: tuple[float, ...]
    mesh: str
    lpi: float
    angle: float
    n: float


CURVES = (
    Published(
        "SEFAR",
        (1, 6, 11, 17, 22, 32, 40, 47, 53, 63, 69, 76, 83, 91, 99),
        (0, 2, 7, 15, 22, 35, 44, 53, 59, 76, 84, 89, 94, 98, 100),
        "150-31",
        101.6,
        22.5,
        1.7,
    ),
    Published(
        "Presto",
        (6, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 97),
        (0, 6, 15, 25, 35, 45, 55, 72, 82, 92, 96, 100),
        "150-31",
        85,
        45,
        1.0,
    ),
)


def print_density(area: np.ndarray, *, n: float, solid: float = SOLID_DENSITY) -> np.ndarray:
    """Density over bare stock of a tint whose ink covers ``area`` (0..1), by Yule and Nielsen."""
    return -n * np.log10(area * 10 ** (-solid / n) + 1 - area)


def area_of_density(density: np.ndarray, *, n: float, solid: float = SOLID_DENSITY) -> np.ndarray:
    """The area (0..1) of a density by Yule and Nielsen; with n = 1 by Murray and Davies."""
    return (1 - 10 ** (-density / n)) / (1 - 10 ** (-solid / n))


def read_off(area: np.ndarray, n: float) -> np.ndarray:
    """Print tones in percent that a densitometer reads off areas (0..1) of ink."""
    return 100 * area_of_density(print_density(area, n=n), n=1)


@cache
def _tile(curve: Published) -> ThresholdTile:
    return build_tile(find_lattice(curve.lpi, curve.angle, DPI), "ellipse")


@cache
def _areas(curve: Published, spread_um: float, passage_um: float) -> tuple[float, ...]:
    mesh = read_mesh(curve.mesh)
    assert mesh is not None
    now = PrintConditions(mesh=mesh, spread_um=spread_um, passage_um=passage_um)
    return tuple(printed / 100 for _, printed in curve_of(now, _tile(curve), DPI, curve.film))


def predicted(
    curve: Published, settings: tuple[float, float] = DEFAULTS, *, n: float | None = None
) -> np.ndarray:
    """Print tones in percent, one for each film tone; ``settings`` are spread and passage in um."""
    return read_off(np.array(_areas(curve, *settings)), curve.n if n is None else n)


def difference(curve: Published, printed: np.ndarray) -> tuple[float, float, float]:
    """(root mean square, worst, film tone of the worst) of predicted less measured, in points."""
    off = printed - curve.printed
    at = int(np.abs(off).argmax())
    return float(np.sqrt((off**2).mean())), float(off[at]), curve.film[at]


def show(curve: Published) -> None:
    film = np.array(curve.film, np.float64)
    columns = {
        "print = film": film,
        "film as read": read_off(film / 100, curve.n),
        "model": predicted(curve),
        "model, n = 1": predicted(curve, n=1),
    }
    print(
        f"{curve.name}: {curve.mesh} at {curve.lpi:g} lpi, {curve.angle:g} deg, n {curve.n:g} "
        "(assumed)"
    )
    print("   film  measured " + "".join(f"{name:>14}" for name in columns))
    for k, (tone, printed) in enumerate(zip(curve.film, curve.printed, strict=True)):
        print(f"  {tone:5g}  {printed:8g} " + "".join(f"{c[k]:14.1f}" for c in columns.values()))
    for what, place in (("rms", 0), ("worst", 1), ("at film", 2)):
        told = [difference(curve, column)[place] for column in columns.values()]
        print(f"  {what:<15} " + "".join(f"{value:14.1f}" for value in told))


def fit(curve: Published) -> tuple[float, float]:
    """Spread and passage, of a coarse grid, that come nearest to one curve alone."""
    tried = product(SPREADS_UM, PASSAGES_UM)
    return min(tried, key=lambda settings: difference(curve, predicted(curve, settings))[0])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fit", action="store_true", help="fit to each curve alone, too (minutes)")
    asked = parser.parse_args()
    print(f"ink spreads {DEFAULTS[0]:g} um and needs openings of {DEFAULTS[1]:g} um")
    for curve in CURVES:
        show(curve)
    if not asked.fit:
        return
    for curve in CURVES:
        print(f"\n{curve.name}: rms by spread (across) and passage (down)")
        print("      " + "".join(f"{spread:7g}" for spread in SPREADS_UM))
        for passage in PASSAGES_UM:
            row = [difference(curve, predicted(curve, (s, passage)))[0] for s in SPREADS_UM]
            print(f"{passage:6g}" + "".join(f"{rms:7.1f}" for rms in row))
    for curve in CURVES:
        print(f"\n{curve.name}: rms")
        for n in (1.0, 1.3, 1.5, 1.7, 2.0):
            print(f"  if n were {n:g}: {difference(curve, predicted(curve, n=n))[0]:.1f}")
        for mesh in OTHER_MESHES:
            off = difference(curve, predicted(replace(curve, mesh=mesh)))[0]
            print(f"  if the mesh were {mesh}: {off:.1f}")
    for curve, other in (CURVES, CURVES[::-1]):
        best = fit(curve)
        rms = difference(other, predicted(other, best))[0]
        print(f"fitted to {curve.name} alone: {best}; {other.name} is then off by {rms:.1f}")


if __name__ == "__main__":
    main()
