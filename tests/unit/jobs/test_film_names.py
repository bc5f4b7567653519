from __future__ import annotations

import threading
from pathlib import Path

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.file_names import first_free
from filmhand.jobs import film_names
from filmhand.jobs.film_names import TRIED_BEFORE_LISTING, Stems


@pytest.fixture
def folders(tmp_path: Path) -> list[Beneath]:
    made = [Beneath(tmp_path) / name for name in ("records", "proofs", "positives")]
    for folder in made:
        folder.mkdir()
    return made


@pytest.fixture
def listings(monkeypatch: pytest.MonkeyPatch) -> list[Beneath]:
    """Each listing of a folder, which takes ten milliseconds on the clock of :class:`Bank`."""
    found: list[Beneath] = []
    truly = Beneath.names

    def counted(folder: Beneath) -> list[str]:
        found.append(folder)
        Bank.now += 0.01
        return truly(folder)

    monkeypatch.setattr(Beneath, "names", counted)
    return found


class Bank:
    now = 0.0

    @classmethod
    def stems(cls) -> Stems:
        return Stems(lambda: cls.now)


def poster(number: int) -> list[str]:
    return ["poster" if number == 1 else f"poster-{number}"]


def fill(folders: list[Beneath], count: int) -> None:
    for number in range(count):
        (folders[number % 3] / f"{number}.json").touch()


@pytest.mark.parametrize("taken", [*range(20), 100, 1023, 1024, 1025, 5000])
def test_the_first_number_behind_those_that_are_taken(taken: int) -> None:
    asked: list[int] = []

    def free(number: int) -> bool:
        asked.append(number)
        return number > taken

    assert first_free(free) == taken + 1
    assert len(asked) <= 40
    assert len(asked) == len(set(asked))


def test_among_gaps_the_answer_is_free() -> None:
    taken = set(range(1, 3000)) - {9, 77, 1500}
    assert first_free(lambda number: number not in taken) in {9, 77, 1500, *range(3000, 5000)}


@pytest.mark.usefixtures("listings")
def test_a_name_counts_as_taken_whatever_its_ending_case_or_folder(folders: list[Beneath]) -> None:
    (folders[2] / "Poster.tif").touch()
    (folders[1] / "poster-2.jpg").touch()
    assert Bank.stems().first_free(folders, poster) == 3


def test_a_small_folder_is_listed_each_time(
    folders: list[Beneath], listings: list[Beneath]
) -> None:
    bank = Bank.stems()
    assert bank.first_free(folders, poster) == 1
    (folders[0] / "poster.json").touch()
    assert bank.first_free(folders, poster) == 2
    assert listings == [*folders, *folders]


def test_a_full_folder_is_believed_for_a_while(
    folders: list[Beneath], listings: list[Beneath]
) -> None:
    fill(folders, TRIED_BEFORE_LISTING)
    bank = Bank.stems()
    assert [bank.first_free(folders, poster) for _ in range(30)] == list(range(1, 31))
    assert len(listings) == 3
    (folders[0] / "poster-31.json").touch()  # somebody else
    assert bank.first_free(folders, poster) == 31  # publishing finds it taken ...
    assert bank.first_free(folders, poster, afresh=True) == 1  # ... and has it listed
    assert len(listings) == 6
    Bank.now += 2
    (folders[0] / "poster.json").touch()
    assert bank.first_free(folders, poster) == 2
    assert len(listings) == 9


@pytest.mark.parametrize(("count", "listed"), [(499, 6), (500, 3)])
def test_five_hundred_names_are_a_full_folder(
    folders: list[Beneath], listings: list[Beneath], count: int, listed: int
) -> None:
    fill(folders, count)
    bank = Bank.stems()
    for _ in range(2):
        bank.first_free(folders, poster)
    assert len(listings) == listed


def test_it_is_believed_for_fifty_times_as_long_as_it_took(
    folders: list[Beneath], listings: list[Beneath]
) -> None:
    fill(folders, 500)
    bank = Bank.stems()
    bank.first_free(folders, poster)  # three listings of 10 ms
    for wait, listed in ((1.49, 3), (0.02, 6)):
        Bank.now += wait
        bank.first_free(folders, poster)
        assert len(listings) == listed


def test_eight_folders_are_remembered_and_the_one_listed_longest_ago_goes(
    tmp_path: Path, listings: list[Beneath], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_names, "TRIED_BEFORE_LISTING", 0)
    monkeypatch.setattr(film_names, "_BELIEVED", 10**6)
    bank, places = Bank.stems(), [Beneath(tmp_path) / str(number) for number in range(9)]
    for folder in places:
        folder.mkdir()
    for folder in [*places[:8], *places[:8]]:
        bank.first_free([folder], poster)
    assert len(listings) == 8
    for folder in (places[8], places[1], places[0]):
        bank.first_free([folder], poster)
    assert listings[8:] == [places[8], places[0]]


@pytest.mark.parametrize(("names", "kept"), [(200_000, 1), (200_001, 0)])
def test_a_folder_fuller_than_two_hundred_thousand_is_listed_each_time(
    folders: list[Beneath], monkeypatch: pytest.MonkeyPatch, names: int, kept: int
) -> None:
    listed = set(map(str, range(names)))
    monkeypatch.setattr(film_names, "_listed", lambda folders: (set(listed), names))
    bank = Bank.stems()
    bank.first_free(folders, poster)
    assert len(bank._known) == kept


@pytest.mark.usefixtures("listings")
def test_all_films_of_a_job_get_one_number(folders: list[Beneath]) -> None:
    (folders[0] / "poster-p02.json").touch()

    def pages(number: int) -> list[str]:
        return [poster(number)[0] + page for page in ("-p01", "-p02")]

    assert Bank.stems().first_free(folders, pages) == 2


@pytest.mark.usefixtures("listings")
def test_what_is_remembered_is_bounded(
    tmp_path: Path, folders: list[Beneath], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_names, "TRIED_BEFORE_LISTING", 1)
    monkeypatch.setattr(film_names, "_MOST", 100)
    bank = Bank.stems()
    for number in range(20):
        folder = Beneath(tmp_path) / str(number)
        folder.mkdir()
        fill([folder] * 3, 12 * number)
        bank.first_free([folder], poster)
        assert len(bank._known) <= 8
        assert sum(len(known.taken) for known in bank._known.values()) <= 110
    assert bank.first_free(folders, poster) == 1


@pytest.mark.usefixtures("listings")
def test_threads_never_get_the_same_name(folders: list[Beneath]) -> None:
    fill(folders, TRIED_BEFORE_LISTING)
    bank = Bank.stems()
    bank.first_free(folders, poster)
    Bank.now -= 1000  # nothing is listed again meanwhile
    got: list[int] = []
    threads = [
        threading.Thread(
            target=lambda: got.extend(bank.first_free(folders, poster) for _ in range(200))
        )
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == list(range(2, 802))
