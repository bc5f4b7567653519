"""What the repairs of art are worth: clean originals degraded on purpose, before and after.

Tone is in percent of dot area (of code values), rms over all pixels; F weighs the ink that is
missing and the ink that is too much alike, 1 is perfect. Needs scikit-image, for its pictures::

    python tests/benchmarks/repairs.py
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "outside"))

from repair_cases import all_rows


def main() -> None:
    """Print the table as the guide holds it."""
    print("| repair | art | measured | before | after |")
    print("|---|---|---|---|---|")
    for row in all_rows():
        before, after = (f"{value:.2f}" for value in (row.before, row.after))
        print(f"| `{row.repair}` | {row.what} | {row.measure} | {before} | {after} |")


if __name__ == "__main__":
    main()
