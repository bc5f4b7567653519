"""Whether what a loop in C gives is what its NumPy twin gives."""

from __future__ import annotations

import dataclasses

import numpy as np


def assert_same(one, other):
    """The same values, in arrays of the same types, all the way down."""
    assert type(one) is type(other)
    if isinstance(one, np.ndarray):
        assert one.dtype == other.dtype and np.array_equal(one, other)
    elif isinstance(one, tuple):
        for a, b in zip(one, other, strict=True):
            assert_same(a, b)
    elif dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name))
    else:
        assert one == other
