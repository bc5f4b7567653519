"""The developers' page says what the code does."""

from __future__ import annotations

from pathlib import Path

from filmhand.jobs.recover import RECOVERY
from filmhand.prints.steps import PRINTING

PAGE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")


def recovery_table() -> str:
    """The recovery table of the code, as the page shows it."""
    rows = ["| state | what is on disk | what is done |", "|---|---|---|"]
    rows += [f"| {state.value} | {row.on_disk} | {row.then} |" for state, row in RECOVERY.items()]
    return "\n".join(rows)


def test_the_recovery_table_is_the_codes() -> None:
    begin, end = "<!-- recovery table: begin -->\n", "\n<!-- recovery table: end -->"
    assert PAGE[PAGE.index(begin) + len(begin) : PAGE.index(end)] == recovery_table()


def test_the_table_of_print_states_is_the_codes() -> None:
    begin, end = "<!-- print table: begin -->\n", "\n<!-- print table: end -->"
    rows = ["| state | what is known | what is done |", "|---|---|---|"]
    rows += [f"| {state.value} | {row.known} | {row.then} |" for state, row in PRINTING.items()]
    assert PAGE[PAGE.index(begin) + len(begin) : PAGE.index(end)] == "\n".join(rows)


def test_the_modules_it_names_exist() -> None:
    root = Path(__file__).parents[2]
    words = {word.strip("`,.:;()") for word in PAGE.split()}
    named = {word for word in words if word.endswith(".py")}
    assert len(named) > 15
    for word in named:
        here = root if word.startswith(("tests/", "demo/")) else root / "daemon" / "filmhand"
        assert (here / word).is_file(), word
