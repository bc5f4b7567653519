from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from filmhand.mesh.bitmap.components import Census
from filmhand.mesh.bitmap.small_components import HeldComponents, SmallComponents
from filmhand.mesh.bitmap.spotting_out import spot_out

# The sentences that tests compare are English, whatever whoever runs them speaks.
os.environ.pop("FILMHAND_LANG", None)

# Hypothesis keeps what failed in the checkout, and warns where that cannot be written.
if not os.access(Path(__file__).parents[1], os.W_OK):
    settings.register_profile("read-only", database=None)
    settings.load_profile("read-only")


# Files that take longest, the longest first: whoever begins one last is waited for by all.
_LONGEST = (
    "failure/test_cluster.py",
    "failure/test_disk_full.py",
    "outside/test_page_in_browser.py",
    "outside/test_natural_films.py",
    "outside/test_finished_films.py",
    "failure/test_hosts_stopped.py",
    "failure/test_spool_killed.py",
    "failure/test_print_killed.py",
    "failure/test_held_killed.py",
    "outside/test_exposure_read.py",
    "outside/test_kinds_of_art.py",
)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Side by side: long files first, then those that wait for something among those that work."""
    if not hasattr(config, "workerinput"):
        return
    here = Path(__file__).parent
    order = {here / name: f"0 {place:03}" for place, name in enumerate(_LONGEST)}
    slow = {item.path for item in items if item.get_closest_marker("slow")}

    def place(path: Path) -> str:
        mixed = hashlib.sha256(path.name.encode()).hexdigest()
        return order.get(path, f"{1 if path in slow else 2} {mixed}")

    items.sort(key=lambda item: place(item.path))


def _mended(bits, *, dot=9, shadow_dot=9, allowance=10**9, barred=None, bridge=None, **wishes):
    """(bits after one round of mending what is too small, what was done)."""
    size = (bits.shape[1], bits.shape[0])
    after = bits.copy()

    def write(first, rows):
        after[first : first + len(rows)] = rows

    def barred_rows(a, b):
        return barred[a:b]

    outside = None if barred is None else barred_rows
    census = Census(size, small_dot=dot, small_shadow_dot=shadow_dot, outside=outside)
    census.take(lambda a, b: np.packbits(bits[a:b], axis=1), census.strips)
    dots, shadow_dots = census.result()
    done = spot_out(
        lambda a, b: after[a:b].copy(),
        write,
        size,
        dots=SmallComponents.of(dots.small),
        shadow_dots=SmallComponents.of(shadow_dots.small),
        dot=HeldComponents(dot, bridge),
        shadow_dot=HeldComponents(shadow_dot, bridge),
        allowance=allowance,
        barred=outside,
        **wishes,
    )
    return after, done


@pytest.fixture(scope="session")
def mended():
    """mended(bits, dot=, shadow_dot=, allowance=, barred=, …): a picture after one round."""
    return _mended
