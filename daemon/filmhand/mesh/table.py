"""Which mesh is meant: threads, openings and both names of a fabric, such as "110 (43-80)".

Geometry of plain-weave monofilament fabric, n threads per cm of diameter d:

* pitch ``p = 10000 / n`` in micrometers, opening ``o = p - d``, open area ``A = (o / p) ** 2``,
  ink volume ``V = A * T`` in cm³/m² for a fabric thickness T in micrometers
  (Fremplast, Geometria dos tecidos para serigrafia; Aoki Tensya, V = OP² T / (OP + D)²).
* T, where nobody measured it, is taken as ``1.5 d``: the mean of the published pairs 59/40, 72/48,
  84/54 (NT, Screen Specifications) and 63/40 (Mesh Matters, Screen Printing, June 2009) is 1.53,
  and no pair is more than 6 % from it.

The inch count is a label only, rounded by the trade (155 threads per cm are 393.7 per inch and are
sold as 390: M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003). A count
alone is read as the inch label where the table has it, else as threads per cm; that choice is ours,
and :mod:`filmhand.mesh.assumed` tells it. Woven and calendered fabric has smaller openings than the
formula (Mesh Matters); a shop that has its maker's sheet gives ``opening`` and ``thickness``
itself.
"""

from __future__ import annotations

import csv
import pkgutil
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import field

from filmhand.language import and_list
from filmhand.mesh.mesh_words import MeshCount, MeshWord
from filmhand.units import read_length_um
from filmhand.values import dataclass

MICROMETERS_PER_CM = 10_000
THICKNESS_IN_THREADS = 1.5
LOWEST_OPEN_AREA = 0.15
"""A label that gives less open area is taken for a mistake (the table's tightest row has 24 %)."""

MESH_KEYS = ("threads_per_cm", "thread", "opening", "thickness", "stretch")
"""The keys of a mesh that is written out, the first two required."""

_LEAST_INCH_LABEL = 60
_LABELS_DIFFER = 0.03
"""An inch label is no further than this from its fabric's exact count (the tests hold it)."""


class MeshError(ValueError):
    """A mesh that is written out has faults: pairs of key and a phrase for "must be …"."""

    def __init__(self, parts: list[tuple[str, str]]) -> None:
        """Take pairs of key and phrase."""
        super().__init__("; ".join(f"{key}: {phrase}" for key, phrase in parts))
        self.parts = tuple(parts)


@dataclass(frozen=True, slots=True)
class Mesh:
    """A screen fabric, slack, in micrometers.

    ``stretch_percent`` is how far the shop's tension opens the weave, None where nobody measured.
    ``count_given`` is the count where nothing else was given, so that the thread is the table's
    usual one.
    """

    threads_per_cm: float
    thread_um: float
    opening_um: float
    thickness_um: float
    stretch_percent: float | None = None
    count_given: int | None = field(default=None, compare=False)

    @property
    def label(self) -> str:
        """Both names: the inch label, and threads per cm and thread.

        >>> read_mesh("43-80").label, read_mesh("225").label, read_mesh("52-60").label
        ('110 (43-80)', '230 (90-48)', '132 (52-60)')
        """
        inch = _INCH_LABELS.get(self.threads_per_cm, round(self.threads_per_inch))
        return f"{inch} ({self.pair})"

    @property
    def pair(self) -> str:
        """Threads per cm and thread, such as ``43-80``."""
        return f"{self.threads_per_cm:g}-{self.thread_um:g}"

    @property
    def assumed(self) -> bool:
        """Whether the thread was not given and is the table's usual one."""
        return self.count_given is not None

    @property
    def pitch_um(self) -> float:
        """Distance from thread to thread, 10000 / n micrometers.

        >>> round(read_mesh("120-34").pitch_um, 1)
        83.3
        """
        return MICROMETERS_PER_CM / self.threads_per_cm

    @property
    def threads_per_inch(self) -> float:
        """The exact count per inch, 2.54 n; not the rounded label."""
        return self.threads_per_cm * 2.54

    @property
    def open_area(self) -> float:
        """Share of the fabric that is open, (o / p)², 0 to 1.

        >>> round(read_mesh("120-34").open_area, 3)
        0.35
        """
        return (self.opening_um / self.pitch_um) ** 2

    @property
    def ink_volume(self) -> float:
        """Theoretical ink volume A x T in cm³ per m²."""
        return self.open_area * self.thickness_um


@dataclass(frozen=True, slots=True)
class MeshRow:
    """One row of the working table; the head of its file says what the columns mean."""

    threads_per_cm: float
    thread_um: float
    inch_label: int
    also: tuple[int, ...]
    usual: bool
    stocked: bool
    source: str

    @property
    def from_memory(self) -> bool:
        """Whether nobody looked the pair up."""
        return self.source == "from memory"


def _rows() -> Iterator[MeshRow]:
    # importlib.resources would load more than this table needs.
    data = pkgutil.get_data("filmhand.mesh", "meshes.csv")
    assert data is not None  # as only a loader without files says
    text = data.decode("utf-8")
    for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        yield MeshRow(
            threads_per_cm=float(row["threads_per_cm"]),
            thread_um=float(row["thread_um"]),
            inch_label=int(row["inch_label"]),
            also=tuple(int(label) for label in row["also"].split(";") if label),
            usual=row["usual"] == "yes",
            stocked=row["stocked"] == "yes",
            source=row["source"],
        )


MESHES: tuple[MeshRow, ...] = tuple(_rows())
_INCH_LABELS: Mapping[float, int] = {row.threads_per_cm: row.inch_label for row in MESHES}
_USUAL_BY_COUNT: Mapping[float, MeshRow] = {row.threads_per_cm: row for row in MESHES if row.usual}
_USUAL_BY_LABEL: Mapping[int, MeshRow] = {
    label: row for row in MESHES if row.usual for label in (row.inch_label, *row.also)
}


def woven(
    threads_per_cm: float,
    thread_um: float,
    *,
    opening_um: float | None = None,
    thickness_um: float | None = None,
    stretch_percent: float | None = None,
    count_given: int | None = None,
) -> Mesh:
    """A mesh from count and thread; what is not given follows from the formulas above."""
    pitch = MICROMETERS_PER_CM / threads_per_cm
    return Mesh(
        threads_per_cm=threads_per_cm,
        thread_um=thread_um,
        opening_um=pitch - thread_um if opening_um is None else opening_um,
        thickness_um=THICKNESS_IN_THREADS * thread_um if thickness_um is None else thickness_um,
        stretch_percent=stretch_percent,
        count_given=count_given,
    )


def read_mesh(value: object) -> Mesh | None:
    """The mesh that a profile or a command names; None for ``none``.

    Takes threads per cm and thread (``"43-80"``), both names (``"110 (43-80)"``), a count alone
    (``110``, the inch label, or ``77``, threads per cm, with the table's usual thread), ``"none"``,
    or a mapping of :data:`MESH_KEYS` whose lengths carry ``um`` or ``mm``.

    Raises
    ------
    ValueError
        With a phrase that completes "must be …"; :class:`MeshError` for a mapping.

    >>> read_mesh("43-80").opening_um.__round__(1), read_mesh(110).assumed, read_mesh("none")
    (152.6, True, None)
    """
    if isinstance(value, Mapping):
        return _written_out(value)
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError(MeshWord.MESH.say())
    word = str(value).strip()
    if word.lower() == "none":
        return None
    both = re.fullmatch(r"(\d{2,4})\s*\((.+)\)", word)
    if both:
        word = both[2].strip()
    pair = re.fullmatch(
        r"(\d{1,4}(?:\.\d{1,4})?)\s*[-–]\s*(\d{1,4}(?:\.\d{1,4})?)(?:\s*[uµμ]m)?", word
    )
    if pair:
        return _by_pair(float(pair[1]), float(pair[2]), inch_label=int(both[1]) if both else None)
    count = re.fullmatch(r"(\d{1,4})\s*(S|L|T|M|HD)?", word, re.IGNORECASE)
    if count is None or both:
        raise ValueError(MeshWord.MESH.say())
    mesh = _by_count(int(count[1]))
    if count[2] is None:
        return mesh
    # S to HD are thin to heavy threads, of how many micrometers differs from maker to maker.
    raise _no_mesh(MeshWord.LETTER.say(letter=count[2], pair=mesh.pair))


def _no_mesh(why: str) -> ValueError:
    return ValueError(MeshWord.MESH_AND_WHY.say(why=why))


def usual_row(count: int, *, per_cm: bool) -> MeshRow | None:
    """The table's usual fabric of a count, as the inch label or as threads per cm."""
    return _USUAL_BY_COUNT.get(count) if per_cm else _USUAL_BY_LABEL.get(count)


def _by_count(count: int) -> Mesh:
    row = usual_row(count, per_cm=False) or usual_row(count, per_cm=True)
    if row is not None:
        return woven(row.threads_per_cm, row.thread_um, count_given=count)
    rows = sorted(_USUAL_BY_COUNT.values(), key=lambda row: row.threads_per_cm)
    counts = [r.inch_label if count >= _LEAST_INCH_LABEL else r.threads_per_cm for r in rows]
    after = sum(known < count for known in counts)
    near = [woven(r.threads_per_cm, r.thread_um).label for r in rows[max(0, after - 1) : after + 1]]
    raise _no_mesh(MeshCount.NOT_IN_TABLE.say(len(near), count=count, near=and_list(near)))


def _by_pair(count: float, thread: float, *, inch_label: int | None) -> Mesh:
    faults = _impossible(count, thread)
    if faults:
        raise _no_mesh(faults[0][1])
    mesh = woven(count, thread)
    exact = mesh.threads_per_inch
    if inch_label is not None and abs(inch_label - exact) > max(1, _LABELS_DIFFER * exact):
        told = {"exact": f"{exact:.0f}", "label": inch_label, "pair": mesh.pair}
        raise _no_mesh(MeshWord.OTHER_INCH_LABEL.say(count=f"{count:g}", **told))
    if mesh.open_area >= LOWEST_OPEN_AREA:
        return mesh
    # Inch counts are often written with a thread too ("110-80"), which read as metric is no mesh.
    row = _USUAL_BY_LABEL.get(round(count)) if count == round(count) else None
    said, meant = MeshWord.NOTHING_OPEN, ""
    if row is not None:
        said, meant = MeshWord.NOTHING_OPEN_BUT_PER_INCH, f"{row.threads_per_cm:g}-{thread:g}"
    raise _no_mesh(said.say(count=f"{count:g}", thread=f"{thread:g}", pair=meant))


def _impossible(count: float, thread: float) -> list[tuple[str, str]]:
    if not 5 <= count <= 250:
        return [("threads_per_cm", MeshWord.COUNT_IN_RANGE.say())]
    if not 10 <= thread <= 500:
        return [("thread", MeshWord.THREAD_IN_RANGE.say())]
    return []


def _written_out(value: Mapping[object, object]) -> Mesh:
    faults: list[tuple[str, str]] = []
    for key in value:
        if key not in MESH_KEYS:
            faults.append((str(key), MeshWord.ONE_OF.say(words=", ".join(MESH_KEYS))))
    found: dict[str, float | None] = dict.fromkeys(MESH_KEYS)
    for key, (read, allowed) in _READERS.items():
        try:
            found[key] = read(value[key]) if key in value else None
        except ValueError:
            faults.append((key, allowed.say()))
    count, thread, opening, thickness, stretch = found.values()
    faults += [
        (key, given.say())
        for key, given in (
            ("threads_per_cm", MeshWord.COUNT_GIVEN),
            ("thread", MeshWord.THREAD_GIVEN),
        )
        if key not in value
    ]
    if stretch is not None and not 0 <= stretch <= 10:
        faults.append(("stretch", MeshWord.STRETCH.say()))
    if count is not None and thread is not None:
        faults += _impossible(count, thread) or _misfits(count, thread, opening, thickness)
    if faults or count is None or thread is None:
        raise MeshError(faults)
    return woven(count, thread, opening_um=opening, thickness_um=thickness, stretch_percent=stretch)


def _misfits(
    count: float, thread: float, opening: float | None, thickness: float | None
) -> list[tuple[str, str]]:
    pitch = MICROMETERS_PER_CM / count
    told = {"pitch": f"{pitch:.1f}", "count": f"{count:g}"}
    faults = []
    if thread >= pitch:
        faults.append(("thread", MeshWord.THREAD_IN_PITCH.say(**told)))
    elif opening is not None and not 0 < opening < pitch:
        faults.append(("opening", MeshWord.OPENING_IN_PITCH.say(**told)))
    # Two crossing threads are never thicker than two diameters (Mesh Matters; Aoki Tensya).
    if thickness is not None and not thread <= thickness <= 2 * thread:
        room = {"least": f"{thread:g}", "most": f"{2 * thread:g}"}
        faults.append(("thickness", MeshWord.THICKNESS_IN_THREADS.say(**room)))
    return faults


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError
    return float(value)


_READERS: Mapping[str, tuple[Callable[[object], float], MeshWord]] = {
    "threads_per_cm": (_number, MeshWord.COUNT),
    "thread": (read_length_um, MeshWord.THREAD),
    "opening": (read_length_um, MeshWord.OPENING),
    "thickness": (read_length_um, MeshWord.THICKNESS),
    "stretch": (_number, MeshWord.STRETCH),
}
