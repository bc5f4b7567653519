"""Curves as a picture: a chart for each title, all that has the same title in one.

``curve_chart.py FOLDER`` draws what stands in the folder's ``curves.json``.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ACROSS = 3  # charts in a row
SIDE = 4.2, 3.4  # inches of a chart
NEXT_TICK = 1.15  # times the one before, so that their words do not run into each other


@dataclass(frozen=True, slots=True)
class Curve:
    """Values over points, by the name of each series.

    ``along`` and ``up`` say what the axes are; the latter begins at zero where ``from_zero``, and
    else grows by factors, as ``along`` does.
    """

    title: str
    along: str
    up: str
    points: Sequence[float]
    series: dict[str, list[float]]
    from_zero: bool = False

    def table(self) -> list[str]:
        """The numbers as a Markdown table."""
        lines = [f"| {self.along} | {' | '.join(self.series)} |"]
        lines.append("|---" * (1 + len(self.series)) + "|")
        for point, *values in zip(self.points, *self.series.values(), strict=True):
            cells = [f"{point:,.5g}" if point < 1e4 else f"{point:,.0f}"]
            cells += [f"{value:.3g}" if value < 100 else f"{value:.0f}" for value in values]
            lines.append(f"| {' | '.join(cells)} |")
        return lines


def draw(curves: Sequence[Curve], path: Path) -> None:
    """Write the picture."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot
    from matplotlib.ticker import LogLocator, NullFormatter, StrMethodFormatter

    titles = list(dict.fromkeys(curve.title for curve in curves))
    columns = min(ACROSS, len(titles))
    rows = -(-len(titles) // columns)
    size = SIDE[0] * columns, SIDE[1] * rows
    figure, charts = pyplot.subplots(rows, columns, figsize=size, squeeze=False)
    for chart in charts.flat[len(titles) :]:
        chart.set_visible(False)
    for title, chart in zip(titles, charts.flat, strict=False):
        own = [curve for curve in curves if curve.title == title]
        for curve in own:
            for name, values in curve.series.items():
                chart.plot(curve.points, values, marker="o", label=name)
        chart.set(title=title, xlabel=own[0].along, ylabel=own[0].up, xscale="log")
        ticks: list[float] = []
        for point in sorted({point for curve in own for point in curve.points}):
            if not ticks or point >= NEXT_TICK * ticks[-1]:
                ticks.append(point)
        chart.set_xticks(ticks, labels=[f"{tick:,.0f}" for tick in ticks], rotation=45)
        chart.xaxis.set_minor_formatter(NullFormatter())
        if own[0].from_zero:
            chart.set_ylim(0, 1.4 * chart.get_ylim()[1])
        else:
            chart.set_yscale("log")
            low, high = chart.get_ylim()
            chart.set_ylim(min(low, high / 30), 6 * high)
            chart.yaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
            chart.yaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))
            chart.yaxis.set_minor_formatter(NullFormatter())
        chart.grid(visible=True, alpha=0.3)
        chart.legend(fontsize="small")
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    pyplot.close(figure)


if __name__ == "__main__":
    place = Path(sys.argv[1])
    measured = json.loads((place / "curves.json").read_bytes())
    read = [Curve(**curve) for one in measured.values() for curve in one["curves"]]
    draw(read, place / "curves.png")
