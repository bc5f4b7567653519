"""What had to be assumed of a mesh of which only a count was given, in plain sentences."""

from __future__ import annotations

from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.mesh_words import MeshWord
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
    told = {
        "count": mesh.count_given,
        "thread": f"{mesh.thread_um:g}",
        "mesh": mesh.label,
        "other": _fabric(other).label if other else "",
    }
    row = MeshWord.READ_PER_INCH_OF_BOTH if other else MeshWord.READ_PER_INCH
    holds = [_holds(row) for row in MESHES if row.threads_per_cm == mesh.threads_per_cm]
    return [
        (MeshWord.READ_PER_CM if per_cm else row).say(**told),
        MeshWord.THREADS_OF_COUNT.say(
            count=f"{mesh.threads_per_cm:g}", threads="; ".join(holds), pair=mesh.pair
        ),
    ]


def _fabric(row: MeshRow) -> Mesh:
    return woven(row.threads_per_cm, row.thread_um)


def _holds(row: MeshRow) -> str:
    limits = MeshLimits.of(_fabric(row))
    said = MeshWord.HOLDS_FROM_MEMORY if row.from_memory else MeshWord.HOLDS
    return said.say(
        mesh=_fabric(row).label,
        dot=f"{limits.dot.fail_um:.0f}",
        shadow_dot=f"{limits.shadow_dot.fail_um:.0f}",
        even=f"{limits.dot.warn_um:.0f}",
    )
