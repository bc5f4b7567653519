"""The predicted tone curve beside curves that presses were measured to have.

Two published curves, film tone to print tone in percent:

- SEFAR, Half-tone printing process line (sefar.com, article 6566571);
- Precise Media, Presto CD artwork (precisemedia.com).

Neither page tells the mesh, and the first not even the screen, so these are assumed: 150-31 mesh at
40 lines a cm for SEFAR, which names that pairing in Questions about half-tone printing (article
6566569), at 22.5 degrees; 150-31 at the 85 lines an inch and 45 degrees that Presto asks for;
elliptical dots, 2400 dpi. Gap and light are filmhand's defaults. Nothing is fitted: what other
spreads of ink would give is printed as well, to show how far that one setting moves the curve.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/press_curves.py
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.predict.flat_tints import curve_of
from filmhand.screen.lattice import find_lattice
from filmhand.screen.tile import build_tile
from filmhand.units import Resolution

DPI = Resolution(2400, 2400)
SPREADS_UM = (15.0, 10.0, 5.0, 0.0)  # the default first


@dataclass(frozen=True)
class Published:
    """A measured curve, and the screen and mesh that are assumed to have made it."""

    name: str
    film: tuple[float, ...]
    printed: tuple[float, ...]
    mesh: str
    lpi: float
    angle: float


CURVES = (
    Published(
        "SEFAR",
        (1, 6, 11, 17, 22, 32, 40, 47, 53, 63, 69, 76, 83, 91, 99),
        (0, 2, 7, 15, 22, 35, 44, 53, 59, 76, 84, 89, 94, 98, 100),
        "150-31",
        101.6,
        22.5,
    ),
    Published(
        "Presto",
        (6, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 97),
        (0, 6, 15, 25, 35, 45, 55, 72, 82, 92, 96, 100),
        "150-31",
        85,
        45,
    ),
)


def predicted(curve: Published, spread_um: float) -> np.ndarray:
    """Print tones in percent, one for each film tone of the curve."""
    mesh = read_mesh(curve.mesh)
    assert mesh is not None
    tile = build_tile(find_lattice(curve.lpi, curve.angle, DPI), "ellipse")
    pairs = curve_of(PrintConditions(mesh=mesh, spread_um=spread_um), tile, DPI, curve.film)
    return np.array([printed for _, printed in pairs])


def difference(curve: Published, printed: np.ndarray) -> tuple[float, float, float]:
    """(root mean square, worst, film tone of the worst) of predicted less measured, in points."""
    off = printed - curve.printed
    at = int(np.abs(off).argmax())
    return float(np.sqrt((off**2).mean())), float(off[at]), curve.film[at]


def main() -> None:
    for curve in CURVES:
        print(f"{curve.name}: {curve.mesh} at {curve.lpi:g} lpi, {curve.angle:g} deg (assumed)")
        rows = [predicted(curve, spread) for spread in SPREADS_UM]
        names = " ".join(f"{f'{spread:g} um':>7}" for spread in SPREADS_UM)
        print(f"   film  measured   predicted at a spread of {names}")
        for k, (film, printed) in enumerate(zip(curve.film, curve.printed, strict=True)):
            told = " ".join(f"{row[k]:7.1f}" for row in rows)
            print(f"  {film:5g}  {printed:8g}   {'':24} {told}")
        for what, place in (("rms", 0), ("worst", 1), ("at film", 2)):
            told = " ".join(f"{difference(curve, row)[place]:7.1f}" for row in rows)
            print(f"  {what:<18} {'':24} {told}")


if __name__ == "__main__":
    main()
