"""What a mesh holds, against published figures and against chance itself.

Sources are named at each check. "Monte Carlo" throws discs at random places of a square weave.
"""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.limits import MeshLimits, best_lpi
from filmhand.mesh.moire.bands import MeshThreads, moire_with_mesh, screen_vectors
from filmhand.mesh.table import Mesh, read_mesh

pytestmark = pytest.mark.outside


def mesh(name: str) -> Mesh:
    found = read_mesh(name)
    assert found is not None
    return found


@pytest.mark.parametrize("name", ["43-80", "62-64", "77-55", "90-48", "120-34", "150-31"])
def test_the_finest_ruling_agrees_with_a_ratio_of_four(name: str) -> None:
    # M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003: 3.5 and 4 are the
    # figures most repeated; filmhand's rule stands on geometry alone.
    found = best_lpi(MeshLimits.of(mesh(name)))
    assert found == pytest.approx(mesh(name).threads_per_inch / 4, rel=0.1)


def test_two_gratings_beat_as_the_formula_says() -> None:
    # I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009, 2.3. Equal
    # periods at an angle: p / (2 sin(d / 2)); 5 degrees is 11.46 periods.
    lines = screen_vectors(100, 5, lines=True)
    assert moire_with_mesh(lines, MeshThreads(100)).period_mm == pytest.approx(
        11.46 * 0.254, rel=0.001
    )


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
