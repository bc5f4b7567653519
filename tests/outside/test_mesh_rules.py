"""What a mesh holds, against published figures and against chance itself.

Sources are named at each check. "Monte Carlo" throws discs at random places of a square weave.
"""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.limits import MeshLimits, best_lpi, smallest_tone
from filmhand.mesh.moire.bands import MeshThreads, screen_vectors, slack_period_mm
from filmhand.mesh.table import MESHES, Mesh, read_mesh, woven
from filmhand.profile.model import VerdictLimits

pytestmark = pytest.mark.outside


def mesh(name: str) -> Mesh:
    found = read_mesh(name)
    assert found is not None
    return found


FABRICS = [woven(row.threads_per_cm, row.thread_um) for row in MESHES]


def least_tone(found: Mesh, lpi: float) -> float:
    """The lightest tone whose dots a mesh prints evenly, percent; the darkest is 100 less that."""
    return 100 * smallest_tone(MeshLimits.of(found).dot.warn_um, lpi)


@pytest.mark.parametrize("name", ["43-80", "62-64", "77-55", "90-48", "120-34", "150-31"])
def test_the_finest_ruling_agrees_with_a_ratio_of_four(name: str) -> None:
    # M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003: 3.5 and 4 are the
    # figures most repeated; filmhand's rule stands on geometry alone.
    found = best_lpi(MeshLimits.of(mesh(name)))
    assert found == pytest.approx(mesh(name).threads_per_inch / 4, rel=0.1)


@pytest.mark.parametrize("found", FABRICS, ids=lambda found: found.label)
def test_15_to_85_percent_hold_at_every_ratio_that_does_not_warn(found: Mesh) -> None:
    # mediotono.es, fichas 415: screen printing in general keeps 15 to 85 %, offset 5 to 95 %.
    assert 5 < least_tone(found, found.threads_per_inch / VerdictLimits().ratio) < 15
    # And not at 2.5, the lowest that SEFAR, Questions about half-tone printing, names, and under
    # the 3.5 that Coudray 2003 repeats.
    assert least_tone(found, found.threads_per_inch / 2.5) > 15


@pytest.mark.parametrize("lpi", [85, 100, 110])
def test_discs_are_printed_from_15_to_85_percent(lpi: float) -> None:
    # 15 to 85 % at 85 and 100 lpi: precisemedia.com, presto CD artwork; duplication.com, CD label
    # film spec; solutiontech24.blogspot.com, Screen Printing Film Specifications; mediasys-bg.com,
    # Label Artwork. That 110 lpi is asked for as well, and the mesh, are from memory. The 133 lpi
    # that some of them allow for photographs is more than this rule grants any mesh.
    assert least_tone(mesh("150-31"), lpi) < 15


@pytest.mark.parametrize("lpi", [65, 75, 85])
def test_under_10_percent_is_lost_and_over_90_percent_prints_solid(lpi: float) -> None:
    # experts123.com, What is a screen tint or halftone: at 65 to 85 lpi tones under 10 % will not
    # print and those over 90 % print solid; keep to 20 to 80 %. On meshes of the two ratios that
    # Coudray 2003 repeats, 3.5 to 4.
    fabrics = [found for found in FABRICS if 3.5 <= found.threads_per_inch / lpi <= 4]
    assert fabrics
    for found in fabrics:
        assert 10 <= least_tone(found, lpi) <= 20


def test_textile_at_45_lpi_is_tried_out_between_5_and_20_percent() -> None:
    # M. Zapone, Reticulas na serigrafia, moacirzapone.com.br: 45 lpi on textiles; do not go under
    # 10 %, often 15 % is advised; try out 5 to 20 %. On the ratios of Coudray 2003 (3.5 to 4) and
    # of help.screenprinting.com, What's LPI (4 to 5).
    fabrics = [found for found in FABRICS if 3.5 <= found.threads_per_inch / 45 <= 5]
    assert len(fabrics) > 5
    for found in fabrics:
        assert 5 < least_tone(found, 45) < 15


def test_a_disc_on_the_grid_covers_the_tone_that_is_said() -> None:
    # Pixel by pixel: a dot of 160 um in the cell of 50 lpi, 508 um wide.
    at = np.arange(508) + 0.5 - 254
    drawn = np.hypot(at[:, None], at[None, :]) <= 80
    assert smallest_tone(160, 50) == pytest.approx(drawn.mean(), rel=0.002)


def test_two_gratings_make_bands_as_the_formula_says() -> None:
    # I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009, 2.3. Equal
    # periods at an angle: p / (2 sin(d / 2)); 5 degrees is 11.46 periods.
    lines = screen_vectors(100, 5, lines=True)
    assert slack_period_mm(lines, MeshThreads(100)) == pytest.approx(11.46 * 0.254, rel=0.001)


def open_share(diameter: float, found: Mesh, count: int, seed: int) -> np.ndarray:
    """Share of open area under discs thrown at random on the weave: (count,)."""
    rng = np.random.default_rng(seed)
    points = rng.random((700, 2)) * 2 - 1
    points = points[np.hypot(*points.T) <= 1] * diameter / 2
    places = rng.random((count, 1, 2)) * found.pitch_um
    inside = (places + points) % found.pitch_um
    return (inside > found.thread_um).all(axis=2).mean(axis=1)


@pytest.mark.parametrize("name", ["43-80", "90-48", "120-34", "150-31"])
def test_monte_carlo_of_dots_and_posts(name: str) -> None:
    found = mesh(name)
    limits = MeshLimits.of(found)
    # A dot that is no wider than a thread can be lost whole; one wider than a crossing's diagonal
    # always shows something.
    assert (open_share(found.thread_um, found, 4000, 1) == 0).any()
    assert (open_share(1.08 * limits.dot.fail_um, found, 4000, 2) > 0).all()
    # A post no wider than an opening can stand on no thread; a wider one always touches some.
    assert (open_share(0.98 * limits.shadow_dot.fail_um, found, 4000, 3) == 1).any()
    assert (open_share(1.08 * limits.shadow_dot.fail_um, found, 4000, 4) < 1).all()
    # From one opening and two threads on, every place is nearly alike.
    shares = open_share(limits.dot.warn_um, found, 3000, 5)
    assert shares.std() / shares.mean() < 0.15
    narrow = open_share(limits.dot.fail_um, found, 3000, 6)
    assert narrow.std() / narrow.mean() > 3 * shares.std() / shares.mean()
