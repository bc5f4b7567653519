"""How well strokes are parted from paper, beside three ways of scikit-image.

The F-measure of the ink's pixels on pages and drawings spoiled on purpose; pages, score and sources
stand in ``tests/outside/strokes_set.py``. Run it with a Python that has filmhand and its test tools
installed::

    python tests/benchmarks/strokes.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "outside"))

from strokes_set import CUTS, WAYS, scores

if __name__ == "__main__":
    found = scores()
    print("| F-measure, % | " + " | ".join(CUTS) + " |")
    print("|---" * (len(CUTS) + 1) + "|")
    for way in WAYS:
        means = (f"{np.mean(found[way, cut]):.1f}" for cut in CUTS)
        print(f"| {way} | " + " | ".join(means) + " |")
    every = (f"{np.mean([found[way, cut] for way in WAYS]):.1f}" for cut in CUTS)
    print("| all | " + " | ".join(every) + " |")
