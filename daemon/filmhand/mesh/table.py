"""Which mesh is meant: threads, openings and the trade's inch labels.

Geometry of plain-weave monofilament fabric, n threads per cm of diameter d:

* pitch ``p = 10000 / n`` in micrometers, opening ``o = p - d``, open area ``A = (o / p) ** 2``,
  ink volume ``V = A * T`` in cm³/m² for a fabric thickness T in micrometers
  (Fremplast, Geometria dos tecidos para serigrafia; Aoki Tensya, V = OP² T / (OP + D)²).
* T, where nobody measured it, is taken as ``1.5 d``: the mean of the published pairs 59/40, 72/48,
  84/54 (NT, Screen Specifications) and 63/40 (Mesh Matters, Screen Printing, June 2009) is 1.53,
  and no pair is more than 6 % from it.

The inch count is a label only, rounded by the trade (155 threads per cm are 393.7 per inch and are
sold as 390: M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003). Woven and
calendered fabric has smaller openings than the formula; a shop that has its maker's sheet gives
``opening`` and ``thickness`` itself.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import resources

from filmhand.units import read_length_um

MICROMETERS_PER_CM = 10_000
THICKNESS_IN_THREADS = 1.5
LOWEST_OPEN_AREA = 0.15
"""A label that gives less open area is taken for a mistake (the table's tightest row has 24 %)."""

MESH_KEYS = ("threads_per_cm", "thread", "opening", "thickness", "stretch")
"""The keys of a mesh that is written out, the first two required."""

_ALLOWED = "threads per cm and thread such as 43-80, an inch label such as 110, or none for no mesh"


class MeshError(ValueError):
    """A mesh that is written out has faults: pairs of key and a phrase for "must be …"."""

    def __init__(self, parts: list[tuple[str, str]]) -> None:
        """Take pairs of key and phrase."""
        super().__init__("; ".join(f"{key}: {phrase}" for key, phrase in parts))
        self.parts = tuple(parts)


@dataclass(frozen=True, slots=True)
class Mesh:
    """A screen fabric, slack, in micrometers.

    ``assumed`` tells that only the inch label was given and the thread is the table's usual one.
    ``stretch_percent`` is how far the shop's tension opens the weave, None where nobody measured.
    """

    label: str
    threads_per_cm: float
    thread_um: float
    opening_um: float
    thickness_um: float
    assumed: bool = False
    stretch_percent: float | None = None

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
    """One row of the working table."""

    threads_per_cm: float
    thread_um: float
    inch_label: int
    also: tuple[int, ...]
    usual: bool
    source: str


def _rows() -> Iterator[MeshRow]:
    text = (resources.files("filmhand.mesh") / "meshes.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        yield MeshRow(
            threads_per_cm=float(row["threads_per_cm"]),
            thread_um=float(row["thread_um"]),
            inch_label=int(row["inch_label"]),
            also=tuple(int(label) for label in row["also"].split(";") if label),
            usual=row["usual"] == "yes",
            source=row["source"],
        )


MESHES: tuple[MeshRow, ...] = tuple(_rows())
_USUAL: Mapping[int, MeshRow] = {
    label: row for row in MESHES if row.usual for label in (row.inch_label, *row.also)
}


def woven(
    threads_per_cm: float,
    thread_um: float,
    *,
    opening_um: float | None = None,
    thickness_um: float | None = None,
    stretch_percent: float | None = None,
    assumed: bool = False,
) -> Mesh:
    """A mesh from count and thread; what is not given follows from the formulas above."""
    pitch = MICROMETERS_PER_CM / threads_per_cm
    return Mesh(
        label=f"{threads_per_cm:g}-{thread_um:g}",
        threads_per_cm=threads_per_cm,
        thread_um=thread_um,
        opening_um=pitch - thread_um if opening_um is None else opening_um,
        thickness_um=THICKNESS_IN_THREADS * thread_um if thickness_um is None else thickness_um,
        assumed=assumed,
        stretch_percent=stretch_percent,
    )


def read_mesh(value: object) -> Mesh | None:
    """The mesh that a profile or a command names; None for ``none``.

    Takes threads per cm and thread (``"43-80"``), an inch label (``110``, with the table's usual
    thread), ``"none"``, or a mapping of :data:`MESH_KEYS` whose lengths carry ``um`` or ``mm``.

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
        raise ValueError(_ALLOWED)
    word = str(value).strip()
    if word.lower() == "none":
        return None
    pair = re.fullmatch(
        r"(\d{1,4}(?:\.\d{1,4})?)\s*[-–]\s*(\d{1,4}(?:\.\d{1,4})?)(?:\s*[uµμ]m)?", word
    )
    if pair:
        return _by_pair(float(pair[1]), float(pair[2]))
    if re.fullmatch(r"\d{1,4}", word):
        return _by_label(int(word))
    raise ValueError(_ALLOWED)


def _by_label(label: int) -> Mesh:
    row = _USUAL.get(label)
    if row is None:
        known = sorted(_USUAL)
        below = [k for k in known if k < label][-1:]
        above = [k for k in known if k > label][:1]
        nearest = " and ".join(str(k) for k in below + above)
        near = f"the table's nearest {'are' if below and above else 'is'} {nearest}"
        raise ValueError(f"{_ALLOWED}; the inch label {label} is not in the table, {near}")
    return woven(row.threads_per_cm, row.thread_um, assumed=True)


def _by_pair(count: float, thread: float) -> Mesh:
    faults = _impossible(count, thread)
    if faults:
        raise ValueError(f"{_ALLOWED}; {faults[0][1]}")
    mesh = woven(count, thread)
    if mesh.open_area >= LOWEST_OPEN_AREA:
        return mesh
    # Inch counts are often written with a thread too ("110-80"), which read as metric is no mesh.
    text = f"{count:g} threads a cm of {thread:g} µm leave almost nothing open"
    row = _USUAL.get(round(count)) if count == round(count) else None
    if row is not None:
        text += f"; if {count:g} counts the threads per inch, write "
        text += f"{row.threads_per_cm:g}-{thread:g}"
    raise ValueError(f"{_ALLOWED}; {text}")


def _impossible(count: float, thread: float) -> list[tuple[str, str]]:
    if not 5 <= count <= 250:
        return [("threads_per_cm", "a count from 5 to 250 threads per cm")]
    if not 10 <= thread <= 500:
        return [("thread", "a diameter from 10 µm to 500 µm")]
    return []


def _written_out(value: Mapping[object, object]) -> Mesh:
    faults: list[tuple[str, str]] = []
    for key in value:
        if key not in MESH_KEYS:
            faults.append((str(key), f"one of {', '.join(MESH_KEYS)}"))
    found: dict[str, float | None] = dict.fromkeys(MESH_KEYS)
    for key, (read, allowed) in _READERS.items():
        try:
            found[key] = read(value[key]) if key in value else None
        except ValueError:
            faults.append((key, allowed))
    count, thread, opening, thickness, stretch = found.values()
    faults += [
        (key, f"given: {what}")
        for key, what in (("threads_per_cm", "a number such as 43"), ("thread", "such as 80 um"))
        if key not in value
    ]
    if stretch is not None and not 0 <= stretch <= 10:
        faults.append(("stretch", "a number of percent from 0 to 10"))
    if count is not None and thread is not None:
        faults += _impossible(count, thread) or _misfits(count, thread, opening, thickness)
    if faults or count is None or thread is None:
        raise MeshError(faults)
    return woven(count, thread, opening_um=opening, thickness_um=thickness, stretch_percent=stretch)


def _misfits(
    count: float, thread: float, opening: float | None, thickness: float | None
) -> list[tuple[str, str]]:
    pitch = MICROMETERS_PER_CM / count
    faults = []
    if thread >= pitch:
        faults.append(("thread", f"thinner than the pitch, {pitch:.1f} µm at {count:g} a cm"))
    elif opening is not None and not 0 < opening < pitch:
        faults.append(("opening", f"smaller than the pitch, {pitch:.1f} µm at {count:g} a cm"))
    # Two crossing threads are never thicker than two diameters (Mesh Matters; Aoki Tensya).
    if thickness is not None and not thread <= thickness <= 2 * thread:
        faults.append(("thickness", f"from one to two threads, {thread:g} µm to {2 * thread:g} µm"))
    return faults


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError
    return float(value)


_READERS: Mapping[str, tuple[Callable[[object], float], str]] = {
    "threads_per_cm": (_number, "a number such as 43"),
    "thread": (read_length_um, "a length with its unit, such as 80 um"),
    "opening": (read_length_um, "a length with its unit, such as 149 um"),
    "thickness": (read_length_um, "a length with its unit, such as 130 um"),
    "stretch": (_number, "a number of percent from 0 to 10"),
}
