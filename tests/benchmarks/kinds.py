"""What art is taken for, on a labeled set: half that the limits were set on, half kept back.

Prints a table for each half, rows what an art is and columns what it was taken for, and then how
often tone and line were told rightly. The set is ``tests/outside/kinds_set.py``; where it comes
from stands there. With ``--time`` also how long art of 24 megapixels takes. Run it with a Python
that has filmhand and its test tools installed::

    python tests/benchmarks/kinds.py
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "outside"))

from kinds_set import DEVELOPMENT, HELD_OUT, KINDS, TREATED, samples

from filmhand.art.analysis.classify import classify
from filmhand.art.analysis.tone_or_line import tone_or_line


def table(half: str) -> None:
    found: Counter[tuple[str, str]] = Counter()
    treated: Counter[bool] = Counter()
    for sample in samples(half):
        reading = classify(sample.codes)
        found[sample.kind, str(reading.kind)] += 1
        treated[str(reading.treat) in TREATED[sample.kind]] += 1
    right = sum(found[kind, kind] for kind in KINDS)
    print(f"\n{half}: {right} of {sum(found.values())} kinds, {treated[True]} of ", end="")
    print(f"{treated.total()} treatments told rightly\n")
    print("| | " + " | ".join(KINDS) + " |")
    print("|---" * (len(KINDS) + 1) + "|")
    for kind in KINDS:
        row = " | ".join(str(found[kind, other] or "") for other in KINDS)
        print(f"| {kind} | {row} |")


def times() -> None:
    print("\nseconds for 24 megapixels, the best of three: all of it, and tone or line alone")
    done = set()
    for sample in samples(DEVELOPMENT):
        if sample.kind in done:
            continue
        done.add(sample.kind)
        by = max(1, round(np.sqrt(24e6 / sample.codes.size)))
        big = np.repeat(np.repeat(sample.codes, by, axis=0), by, axis=1)
        best = [min(_timed(way, big) for _ in range(3)) for way in (classify, tone_or_line)]
        print(f"{sample.kind:10} {big.size / 1e6:5.1f} MP  {best[0]:.3f} {best[1]:.3f}")


def _timed(way: object, art: np.ndarray) -> float:
    begun = time.process_time()
    way(art)  # type: ignore[operator]
    return time.process_time() - begun


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--time", action="store_true", help="also time 24 megapixels")
    wishes = parser.parse_args()
    table(DEVELOPMENT)
    table(HELD_OUT)
    if wishes.time:
        times()
