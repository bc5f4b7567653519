"""Which tests reach which line of the program: a plugin for pytest, and what it has found.

As a plugin (``-p reach``) it runs coverage.py with each test as a context and writes what it found,
with the seconds that each test took, into the folder that REACH names. Processes that tests start
are not seen.
"""

from __future__ import annotations

import json
import os
import warnings
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

_FOLDER = os.environ.get("REACH", "")
_seconds: dict[str, float] = {}
_not_passed: set[str] = set()
_running: list[coverage.Coverage] = []


def pytest_configure() -> None:
    if _FOLDER:
        (Path(_FOLDER)).mkdir(exist_ok=True)
        measure = coverage.Coverage(
            data_file=f"{_FOLDER}/reach-{os.getpid()}", source_pkgs=["filmhand"], config_file=False
        )
        measure.start()
        _running.append(measure)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    if _running:
        _running[0].switch_context(item.nodeid)
    try:
        return (yield)
    finally:
        if _running:
            _running[0].switch_context("")


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    _seconds[report.nodeid] = _seconds.get(report.nodeid, 0.0) + report.duration
    if not report.passed:
        _not_passed.add(report.nodeid)


def pytest_unconfigure() -> None:
    if _running:
        measure = _running.pop()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # that what was imported before was not measured
            measure.stop()
            measure.save()
        passed = {test: took for test, took in _seconds.items() if test not in _not_passed}
        Path(_FOLDER, f"seconds-{os.getpid()}.json").write_text(json.dumps(passed))


class Reach:
    """What was found: the tests that reach a line, the quickest first."""

    def __init__(self, folder: Path) -> None:
        self.seconds: dict[str, float] = {}
        for path in folder.glob("seconds-*.json"):
            self.seconds |= json.loads(path.read_text())
        self._tests: dict[str, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
        for path in folder.glob("reach-*"):
            data = coverage.CoverageData(str(path))
            data.read()
            for file in data.measured_files():
                module = file[file.rindex("/daemon/filmhand/") + 1 :]
                for line, tests in data.contexts_by_lineno(file).items():
                    self._tests[module][line].update(filter(None, tests))

    def tests(self, module: str, first: int, last: int) -> list[str]:
        """The tests that reach any of these lines; of the whole module where they are not known."""
        lines = self._tests.get(module, {})
        found = set().union(*(lines.get(line, set()) for line in range(first, last + 1)))
        return self._sorted(found) or self.tests_of(module)

    def tests_of(self, module: str) -> list[str]:
        """The tests that reach any line of a module, the quickest first."""
        return self._sorted(set().union(*self._tests.get(module, {}).values()))

    def _sorted(self, tests: set[str]) -> list[str]:
        known = tests & self.seconds.keys()
        return sorted(known, key=lambda test: (self.seconds[test], test))
