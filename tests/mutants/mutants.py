"""How many small changes of the program no test notices, room by room.

    python tests/mutants/mutants.py --count 12 --seed 1
    python tests/mutants/mutants.py film screen --count 30 --seed 2 --reach reached

Draws --count mutants (see ``changes``) of each room, or of the rooms that are named, and runs over
each the tests that reach its line (those marked slow apart), the quickest first, until one fails.
Which tests reach what is measured first, which takes as long as these tests do twice; with
--reach that is kept in a folder and not measured again. Prints the survivors as diffs, then a
row for each room. Mutants that change nothing are listed with the reason in ``equivalent.txt`` and
not drawn.

Everything runs in copies of the checkout; needs the tests' environment (tests/.venv).
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from queue import Queue

from changes import Change, Mutant, changes_of
from reach import Reach

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
BUDGET = 40.0  # seconds of tests for one mutant; beyond it those of its own room go first
MEMORY = 12 << 30  # bytes that a mutant which never ends can take
LEFT_OUT = (".git", ".venv", "__pycache__", "*_cache", ".hypothesis", "station")
PASSED, FAILED = 0, 1  # exit codes of pytest
NOT_FOUND = 4  # a test has another name under the mutant, or a conftest cannot be loaded
TESTS = ("tests/unit", "tests/outside", "tests/failure")


def room_of(module: str) -> str:
    """The room of a module; ``(top)`` for those that lie in none."""
    parts = Path(module).relative_to("daemon/filmhand").parts
    return parts[0] if len(parts) > 1 else "(top)"


def equivalents() -> set[tuple[str, str, str]]:
    """Module, line before and line after of the mutants that change nothing."""
    found = set()
    for line in (HERE / "equivalent.txt").read_text().splitlines():
        if line.strip() and not line.startswith("#"):
            module, before, after, _ = line.split(" | ")
            found.add((module, before, after))
    return found


def identity(mutant: Mutant) -> tuple[str, str, str]:
    """As in ``equivalent.txt``: the first line that differs, before and after."""
    for before, after in zip(mutant.before.splitlines(), mutant.text.splitlines(), strict=False):
        if before != after:
            return mutant.module, before.strip(), after.strip()
    return mutant.module, "", ""


def sample(rooms: Iterable[str], count: int, seed: int) -> list[Mutant]:
    """So many mutants of each room, in the order of modules and lines."""
    pools: dict[str, list[Change]] = defaultdict(list)
    known = equivalents()
    for path in sorted((ROOT / "daemon" / "filmhand").rglob("*.py")):
        module = str(path.relative_to(ROOT))
        pools[room_of(module)] += changes_of(ROOT, module)
    drawn: list[Mutant] = []
    for room in sorted(rooms or pools):
        random.Random(f"{seed} {room}").shuffle(pools[room])
        made = (change.made() for change in pools[room])
        fit = (mutant for mutant in made if mutant and identity(mutant) not in known)
        drawn += islice(fit, count)
    return sorted(drawn, key=lambda mutant: (mutant.module, mutant.first))


def is_loaded(mutant: Mutant) -> bool:
    """Whether the line runs when its module is loaded, by whatever test happens to load it."""
    functions = (
        one
        for one in ast.walk(ast.parse(mutant.before))
        if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef)
    )
    return not any(one.body[0].lineno <= mutant.first <= (one.end_lineno or 0) for one in functions)


def tests_for(mutant: Mutant, reach: Reach) -> list[str]:
    """The tests to run, the quickest first."""
    if is_loaded(mutant):
        tests = reach.tests_of(mutant.module)
    else:
        tests = reach.tests(mutant.module, mutant.first, mutant.last)
    own = f"tests/unit/{room_of(mutant.module)}/"
    if sum(reach.seconds[test] for test in tests) > BUDGET:
        tests.sort(key=lambda test: not test.startswith(own))
    chosen: list[str] = []
    seconds = 0.0
    for test in tests:
        if not chosen or seconds + reach.seconds[test] <= BUDGET:
            chosen.append(test)
            seconds += reach.seconds[test]
    return chosen


def pytest(place: Path, arguments: list[str], seconds: float, **more: str) -> int:
    """Pytest's exit code in a copy of the checkout; FAILED if it takes too long."""
    env = os.environ | {
        "PYTHONPATH": f"{place / 'daemon'}{os.pathsep}{place / 'tests' / 'mutants'}",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OPENBLAS_NUM_THREADS": "1",
        **more,
    }
    command = [sys.executable, "-P", "-m", "pytest", "-q", "-p", "no:cacheprovider", *arguments]
    process = subprocess.Popen(
        command,
        cwd=place,
        env=env,
        start_new_session=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        return process.wait(seconds)
    except subprocess.TimeoutExpired:
        return FAILED
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def survives(mutant: Mutant, place: Path, reach: Reach) -> bool:
    """Whether all its tests pass."""
    tests = tests_for(mutant, reach)
    if not tests:
        return True
    path, listed = place / mutant.module, place / "tests-to-run"
    listed.write_text("\n".join(tests))
    seconds = 30 + 5 * sum(reach.seconds[test] for test in tests)
    path.write_text(mutant.text)
    try:
        code = pytest(place, ["-x", f"@{listed}"], seconds)
        if code == NOT_FOUND:
            files = sorted({test.partition("::")[0] for test in tests})
            code = pytest(place, ["-x", *files], 10 * seconds)
    finally:
        path.write_text(mutant.before)
    return code == PASSED


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("rooms", nargs="*")
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--reach", type=Path)
    given = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))  # of each process that is started
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        copies: Queue[Path] = Queue()
        for number in range(given.jobs):
            place = Path(folder, str(number))
            shutil.copytree(ROOT, place, ignore=shutil.ignore_patterns(*LEFT_OUT))
            copies.put(place)
        kept = given.reach or Path(folder, "reach")
        if not kept.exists():
            side_by_side = ["-p", "reach", "-n", str(given.jobs), "--dist", "loadfile"]
            quick = ["-m", "not slow", *TESTS]
            pytest(place, [*side_by_side, *quick], 7200, REACH=str(kept.absolute()))
        reach = Reach(kept)
        drawn = sample(given.rooms, given.count, given.seed)

        def one(mutant: Mutant) -> bool:
            place = copies.get()
            try:
                return survives(mutant, place, reach)
            finally:
                copies.put(place)

        rows: dict[str, list[bool]] = defaultdict(list)
        with ThreadPoolExecutor(given.jobs) as threads:
            for mutant, alive in zip(drawn, threads.map(one, drawn), strict=True):
                rows[room_of(mutant.module)].append(alive)
                if alive:
                    print(
                        f"SURVIVED, {len(tests_for(mutant, reach))} tests",
                        mutant.diff(),
                        "",
                        sep="\n",
                        flush=True,
                    )
    for room, outcomes in sorted(rows.items()):
        print(f"{room:12} {sum(outcomes):3} of {len(outcomes)} survived")
    every = [alive for outcomes in rows.values() for alive in outcomes]
    share = 100 * sum(every) / max(1, len(every))
    print(f"{'all':12} {sum(every):3} of {len(every)} survived, {share:.1f} %, seed {given.seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
