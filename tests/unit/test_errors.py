"""Words and numbers that never change, and the sentences that several rooms say."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest

from filmhand.digest import sha256_of
from filmhand.errors import (
    AlreadyRunning,
    EnvironmentTrouble,
    ExitCode,
    Fault,
    FaultyFile,
    FilmhandError,
    ProfileError,
    ProgramFailed,
    Quantity,
    Reason,
    Refused,
    has_too_many_megabytes,
    needs_too_much_memory,
    no_space_left,
)
from filmhand.request import GangResult, JobRequest, SheetSpace
from filmhand.rows import RowEnum


def test_exit_codes_are_those_that_scripts_know() -> None:
    """75 and 78 are EX_TEMPFAIL and EX_CONFIG of sysexits(3); 3 is that of a status of LSB."""
    assert [int(code) for code in ExitCode] == [0, 1, 2, 3, 75, 78]
    fault = FaultyFile("p.yaml", (Fault(3, 5, "lpi", "lpi is odd"),))
    codes = {error.exit_code for error in (AlreadyRunning(""), EnvironmentTrouble(""))}
    assert codes == {75}
    assert ProfileError(fault).exit_code == 78
    assert {error.exit_code for error in (FilmhandError(), ProgramFailed("", "", ""))} == {1}
    assert str(ProfileError(fault)) == "p.yaml line 3, column 5: lpi is odd"


def test_too_much_memory_and_too_many_megabytes() -> None:
    told = needs_too_much_memory("The art", 3 * 2**29)
    assert told.say == "The art needs more memory than the 1.5 GiB of the profile."
    assert told.found == Quantity("more", "GiB of memory")
    assert told.needed == Quantity(1.5, "GiB of memory")
    assert needs_too_much_memory("It", 100 * 2**20).needed == Quantity(0.0977, "GiB of memory")
    told = has_too_many_megabytes("The file", 12.34, 5.55)
    assert told.say == "The file has 12.3 megabytes; this profile takes at most 5.55."
    assert (told.found, told.needed) == (Quantity(12.3, "megabytes"), Quantity(5.55, "megabytes"))
    assert told.reason is Reason.TOO_BIG
    assert told.do.endswith(", or raise limits.megabytes in the profile to 13.")
    slightly = has_too_many_megabytes("The file", 512.04, 512)
    assert slightly.say == "The file has 512.1 megabytes; this profile takes at most 512."
    assert no_space_left() == "There is no space left; make room and filmhand goes on by itself."
    assert no_space_left("/films").startswith("There is no space left (/films); make room ")


def test_a_refusal_says_what_was_found_and_what_helps() -> None:
    told = Refused(Reason.BLANK, "It is bare.", "Draw.")
    assert (str(told), told.found, told.needed) == ("It is bare. Draw.", None, None)
    failed = str(ProgramFailed("“a.png”", "KeyError", "The log tells."))
    assert failed.startswith("Filmhand itself failed over “a.png” (KeyError)")
    assert failed.endswith(" The log tells.")


def test_a_row_has_its_words_and_no_more() -> None:
    class Size(RowEnum):
        inches: int
        name_of_it: str

        SMALL = "small", 5, "five"
        LARGE = "large", 13, "thirteen"

    assert Size("small") is Size.SMALL
    assert (Size.LARGE, Size.LARGE.value, str(Size.LARGE)) == ("large", "large", "large")
    assert (Size.LARGE.inches, Size.LARGE.name_of_it) == (13, "thirteen")
    with pytest.raises(ValueError):

        class Odd(RowEnum):
            inches: int

            ODD = "odd", 1, 2


@pytest.mark.parametrize("size", [0, 3, 1 << 20, (1 << 20) + 1])
def test_a_file_is_known_by_all_of_its_bytes(tmp_path: Path, size: int) -> None:
    data = bytes(range(256)) * (size // 256) + bytes(size % 256)
    (tmp_path / "a").write_bytes(data)
    assert sha256_of(tmp_path / "a") == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize(
    ("sizes", "chosen", "full"),
    [([], [], False), ([(1, 1), None], [0], False), ([(1, 1), (2, 2), None], [1], True)],
)
def test_a_sheet_is_full_where_somebody_finds_no_room(
    sizes: list[tuple[int, int] | None], chosen: list[int], *, full: bool
) -> None:
    assert SheetSpace(sizes, chosen).full is full
    assert GangResult() == GangResult({}, {}, {}, [])


def test_a_request_asks_for_no_more_than_it_says(tmp_path: Path) -> None:
    profile: Any = None
    request = JobRequest(tmp_path / "a", "a.png", profile, tmp_path / "out", tmp_path / "work")
    assert (request.ticket, request.mask, request.tiles, request.workers) == (None,) * 4
    assert (request.threads, request.job) == (1, "")
