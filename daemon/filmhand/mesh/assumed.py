"""What had to be assumed of a mesh of which only a count was given, in plain sentences."""

from __future__ import annotations

from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.table import MESHES, Mesh, MeshRow, usual_row, woven


def assumptions(mesh: Mesh) -> list[str]:
    """How the count was read, and what each thread of that count would hold; nothing to assume, no
    sentence.

    >>> from filmhand.mesh.table import read_mesh
    >>> assumptions(read_mesh(77))[0]
    'Mesh 77 is read as threads a cm, and a thread of 55 µm is assumed: 196 (77-55).'
    """
    if mesh.count_given is None:
        return []
    per_cm = usual_row(mesh.count_given, per_cm=False) is None
    other = None if per_cm else usual_row(mesh.count_given, per_cm=True)
    read = "threads a cm" if per_cm else "the inch label"
    return [
        f"Mesh {mesh.count_given} is read as {read}, and a thread of {mesh.thread_um:g} µm is "
        f"assumed: {mesh.label}."
        + (f" If it counts threads a cm, it is {_fabric(other).label}." if other else ""),
        f"Threads that are woven at {mesh.threads_per_cm:g} a cm, and what each holds: "
        + "; ".join(_holds(row) for row in MESHES if row.threads_per_cm == mesh.threads_per_cm)
        + f". Write the one on the roll or its data sheet, such as mesh: {mesh.pair}.",
    ]


def _fabric(row: MeshRow) -> Mesh:
    return woven(row.threads_per_cm, row.thread_um)


def _holds(row: MeshRow) -> str:
    limits = MeshLimits.of(_fabric(row))
    return (
        f"{_fabric(row).label}{', from memory' if row.from_memory else ''}: dots over "
        f"{limits.dot.fail_um:.0f} µm, shadow dots over {limits.shadow_dot.fail_um:.0f} µm, both "
        f"evenly from {limits.dot.warn_um:.0f} µm"
    )
