"""Which room may know which: imports point down the list of rooms only."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import filmhand

ROOT = Path(filmhand.__file__).parent
# From the top down; a room may import rooms below itself, and itself.
ROOMS = (
    "__main__",
    "cli",
    "guide",
    "service",
    "queue",
    "peers",
    "prints",
    "jobs",
    "intake",
    "notify",
    "disk",
    "timing",
    "cluster",
    "worker",
    "pipeline",
    "request",
    "page",
    "film",
    "reading",
    "sheet",
    "mesh",
    "screen",
    "art",
    "ink",
    "tone",
    "printer",
    "profile",
    "expression",
    "kernels",
    "arrays",
    "units",
    "digest",
    "errors",
    "speaking_pool",
    "language",
    "rows",
    "values",
)
# The profile's values are read with words that live further up: the formats of a film, the meshes
# of the table and the shapes of dots. These modules are plain tables without pixels.
UPWARD = {"profile": {"filmhand.film.formats", "filmhand.mesh.table", "filmhand.screen.dot_shapes"}}
MODULES = sorted(ROOT.rglob("*.py"))
IDS = [str(path.relative_to(ROOT)) for path in MODULES]


def room_of(path):
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path, *, at_run_time_only=False):
    """Full names of all modules that a module imports, wherever in it."""
    found = set()

    def walk(node):
        if (
            at_run_time_only
            and isinstance(node, ast.If)
            and "TYPE_CHECKING" in ast.unparse(node.test)
        ):
            for child in node.orelse:
                walk(child)
            return
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
        for child in ast.iter_child_nodes(node):
            walk(child)

    walk(ast.parse(path.read_text()))
    return {name for name in found if _is_module(name)}


def _is_module(name):
    if not name.startswith("filmhand"):
        return True
    place = ROOT.parent.joinpath(*name.split("."))
    return place.is_dir() or place.with_suffix(".py").exists()


def ours(names):
    return {name for name in names if name.startswith("filmhand.")}


def test_every_module_lies_in_a_room():
    assert {room_of(path) for path in MODULES} - {"__init__"} <= set(ROOMS)


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_imports_point_down(path):
    room = room_of(path)
    if room == "__init__":
        assert not ours(imported(path))
        return
    below = ROOMS[ROOMS.index(room) :]
    for name in ours(imported(path, at_run_time_only=True)):
        allowed = name.split(".")[1] in below or name in UPWARD.get(room, ())
        packages = {".".join(one.split(".")[:2]) for one in UPWARD.get(room, ())}
        assert allowed or name in packages, f"imports {name}"


@pytest.mark.parametrize("room", ["screen", "mesh", "ink"])
def test_pure_rooms_know_nothing_but_numbers_and_words(room):
    values = ("arrays", "units", "errors", "language", "rows", "values", "kernels", "speaking_pool")
    if room == "ink":
        values += ("tone",)
    allowed = {f"filmhand.{name}" for name in (room, *values)}
    forbidden = {"os", "pathlib", "io", "logging", "structlog", "time", "datetime", "shutil", "PIL"}
    for path in (ROOT / room).rglob("*.py"):
        names = imported(path, at_run_time_only=True)
        for name in ours(names):
            assert ".".join(name.split(".")[:2]) in allowed, f"{path.name} imports {name}"
        assert not {name.split(".")[0] for name in names} & forbidden, path.name
        tree = ast.parse(path.read_text())
        called = {
            node.func.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not called & {"open", "print", "input"}, path.name
        read = "read_text" in path.read_text() or "read_bytes" in path.read_text()
        assert not read or (room, path.name) == ("mesh", "table.py")


@pytest.mark.parametrize(
    "room", ["art", "ink", "sheet", "film", "screen", "mesh", "printer", "profile", "page"]
)
def test_rooms_that_make_know_nothing_of_rooms_that_run(room):
    running = set(ROOMS[: ROOMS.index("page")])
    for path in (ROOT / room).rglob("*.py"):
        assert not {name.split(".")[1] for name in ours(imported(path))} & running, path.name


@pytest.mark.parametrize(
    "module",
    [
        "filmhand.service.station",
        "filmhand.queue.job_queue",
        "filmhand.jobs.recover",
        "filmhand.prints.print_desk",
        "filmhand.cluster.scheduler",
        "filmhand.worker.parent",
        "filmhand.page.why_note",
        "filmhand.page.status_page",
        "filmhand.cli",
    ],
)
def test_the_service_stays_small(module):
    # Pictures are worked on in processes of their own; the one that stays for months holds no
    # array library and no decoder.
    code = (
        f"import sys, {module}\n"
        "heavy = {'numpy', 'PIL', 'scipy', 'distributed'} & set(sys.modules)\n"
        "sys.exit(', '.join(sorted(heavy)) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env={"PYTHONPATH": str(ROOT.parent), "PATH": ""},
    )
    assert done.returncode == 0, done.stderr


def test_the_printers_room_knows_little():
    allowed = {
        f"filmhand.{room}"
        for room in ("printer", "errors", "units", "values", "digest", "language")
    }
    allowed.add("filmhand.profile.printing")
    for path in (ROOT / "printer").rglob("*.py"):
        for name in ours(imported(path)):
            known = ".".join(name.split(".")[:2]) in allowed or name.startswith(tuple(allowed))
            assert known or name == "filmhand.profile", f"{path.name} imports {name}"


def moving_calls(path):
    """(line, words) of the calls that give files another name or take them away."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        owner, name = ast.unparse(node.func.value), node.func.attr
        if name in ("rename", "renames", "unlink", "rmdir", "rmtree", "link", "symlink_to"):
            found.append((node.lineno, name))
        elif name in ("remove", "replace", "move", "copyfile", "copy2", "removedirs"):
            # str.replace and list.remove have the same names; Path.replace takes one argument.
            is_path = name == "replace" and len(node.args) == 1 and not node.keywords
            if owner in ("os", "shutil") or is_path:
                found.append((node.lineno, name))
    return found


# Who takes away what is filmhand's own, never a customer's file: unfinished films and job folders
# (`rmdir` refuses while anything is in one), scratch files, a host's sign of life, empty folders of
# the drop, helper files that their systems make anew, kept tiles. Only ``atomic`` renames within a
# station; ``cli/make`` puts its own output in place.
TAKES_AWAY = {
    "disk/beneath.py": {"unlink", "rmdir"},
    "disk/folder_trial.py": {"unlink", "rmtree"},  # its own hidden file and folder
    "disk/set_aside.py": {"unlink", "rmdir", "rmtree"},
    "jobs/claim.py": {"unlink", "rmdir", "rmtree"},
    "jobs/holding.py": {"unlink", "rmdir"},  # proofs and notes that it laid down, empty folders
    "jobs/requests.py": {"unlink"},
    "peers/host.py": {"unlink", "rmdir"},
    "prints/print_requests.py": {"unlink"},  # requests and the note of a pause
    "prints/printer_turn.py": {"unlink"},
    "prints/profile_orders.py": {"unlink"},
    "prints/steps.py": {"unlink"},  # the documents and notes of an order that is done
    "queue/sheet_space.py": {"rmtree"},
    "jobs/render_job.py": {"rmtree"},
    "jobs/scratch.py": {"rmtree"},
    "service/station.py": {"rmtree"},
    "service/station_mark.py": {"unlink"},
    "pipeline/judged.py": {"unlink"},
    "pipeline/finished.py": {"unlink"},
    "pipeline/trial/trial_sheet.py": {"unlink"},
    "pipeline/render/tile_cache.py": {"replace", "unlink"},
    "cli/make.py": {"replace"},
}


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_only_one_module_moves_customers_files(path):
    name = str(path.relative_to(ROOT))
    if name == "disk/atomic.py":
        assert "rename" in {call for _, call in moving_calls(path)}
        return
    others = [call for call in moving_calls(path) if call[1] not in TAKES_AWAY.get(name, set())]
    assert not others
