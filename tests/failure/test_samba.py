"""Art that other computers drop through a real Samba server: whole, slowly, badly, and in time.

Files belong to another user than the service's, and their names do not differ in case.
"""

from __future__ import annotations

import io
import json
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from job_harness import assert_invariants, sha256
from PIL import Image
from samba import Client, Server, samba
from test_service_station import PROFILE, Shop, stop, wait_until

from filmhand.disk.folders import OUTPUTS

SETTLE = 0.4  # seconds


RANDOM = np.random.default_rng(1)


def picture() -> bytes:
    """A PNG whose end can be told from its middle, and that no other is like."""
    buffer = io.BytesIO()
    noise = RANDOM.integers(0, 256, (300, 300))
    Image.fromarray(noise.astype(np.uint8)).save(buffer, "PNG")
    return buffer.getvalue()


class Shared(Shop):
    """The service at work on a profile's folder that a Samba server shares."""

    server: Server

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.contents: list[bytes] = []  # all that was dropped

    def client(self) -> Client:
        """Another computer of the shop."""
        return Client(self.server.port)

    def made_as(self, name: str) -> list[dict[str, Any]]:
        """What was said of the films of this art."""
        return [line for line in self.said("made") if line["name"] == name]

    def finish(self, contents: list[bytes], *names: str) -> None:
        """These are put away, and all that was ever dropped is there once."""
        self.contents += contents
        wait_until(lambda: all(self.made(name) for name in names))
        wait_until(lambda: not any((self.root() / ".filmhand").glob("*/2*")))
        assert_invariants(self.root(), self.contents)


@pytest.fixture(scope="module")
def shared() -> Iterator[Shared]:
    with tempfile.TemporaryDirectory(prefix="samba-") as place:
        Path(place).chmod(0o711)  # pytest closes its folders to other users
        yield from _served(Path(place))


def _served(place: Path) -> Iterator[Shared]:
    shop = Shared(place)
    for name in (".", "drop", *OUTPUTS):  # where everybody in the shop may write
        (shop.root() / name).mkdir(parents=True)
        (shop.root() / name).chmod(0o777)
    with samba(shop.root(), place / "samba") as shop.server:
        shop.profile("small", PROFILE.replace("200 ms", f"{SETTLE * 1000:.0f} ms"))
        process = shop.serve(TRUE_END="1")
        try:
            yield shop
        finally:
            code = stop(process)
    assert code == 0
    assert not shop.said("filmhand itself failed")
    assert not shop.said("refused")


def test_art_of_several_ways_of_copying_is_made_once(shared: Shared) -> None:
    """At once, in parts with pauses, with its full size first, under a name for the time being."""
    client = shared.client()
    data = [picture() for _ in range(4)]
    client.put("drop/whole.png", data[0])
    with client.open("drop/slow.png", "xb") as slow, client.open("drop/size.png", "xb") as size:
        size.truncate(len(data[2]))
        for number in range(4):
            part = slice(len(data[1]) * number // 4, len(data[1]) * (number + 1) // 4)
            slow.write(data[1][part])
            time.sleep(SETTLE * 2)
            assert not shared.made("slow.png") and not shared.made("size.png")
        size.write(data[2])
    client.put("drop/renamed.png.part", data[3])
    client.rename("drop/renamed.png.part", "drop/renamed.png")
    shared.finish(data, "whole.png", "slow.png", "size.png", "renamed.png")


def test_a_film_is_read_and_taken_through_the_share(shared: Shared) -> None:
    client = shared.client()
    data = picture()
    client.put("drop/film.png", data)
    shared.finish([data], "film.png")
    film = shared.root() / "positives" / "film.pdf"
    content = film.read_bytes()
    assert client.get("positives/film.pdf") == content
    client.remove("positives/film.pdf")
    time.sleep(SETTLE)
    names = client.names("positives")
    assert "film.tif" in names and "film.pdf" not in names
    assert len(shared.made_as("film.png")) == 1
    client.put("positives/film.pdf", content)  # for the count of films


def test_a_copy_that_breaks_off_is_not_taken_and_comes_again(shared: Shared) -> None:
    client = shared.client()
    data = picture()
    client.open_with_oplock("drop/broken.png", write=True).write(data[: len(data) // 2], 0)
    client.break_off()
    until = time.monotonic() + SETTLE * 4  # half of a PNG rests in drop, and nobody has it open
    while time.monotonic() < until:
        assert (shared.root() / "drop" / "broken.png").exists()
        time.sleep(0.05)
    shared.client().put("drop/broken.png", data)
    shared.finish([data], "broken.png")


def test_renamed_and_removed_while_it_settles(shared: Shared) -> None:
    client = shared.client()
    data = [picture() for _ in range(3)]
    client.put("drop/gone.png", data[0])
    client.put("drop/old name.png", data[1])
    client.remove("drop/gone.png")
    client.rename("drop/old name.png", "drop/new name.png")
    client.mkdir("drop/class")
    client.put("drop/class/later.png", data[2])
    shared.finish(data[1:], "new name.png", "class/later.png")
    assert not shared.made("old name.png") and not shared.made("gone.png")
    assert shared.status()["profiles"][0]["state"] == "working"


def test_a_ticket_and_a_mask_whose_names_differ_in_case(shared: Shared) -> None:
    client = shared.client()
    data, mask = picture(), b"mask of the poster"
    ticket = b"for: small\n"
    client.put("drop/POSTER.png.Ticket.yaml", ticket)
    client.put("drop/poster.PNG.clear.png", mask)
    client.put("drop/Poster.png", data)
    names = ("POSTER.png.Ticket.yaml", "Poster.png", "poster.PNG.clear.png")
    shared.finish([data, ticket, mask], *names)
    (record,) = (shared.root() / "records").glob("Poster.json")
    told = json.loads(record.read_bytes())["companions"]
    assert told == {"ticket": sha256(ticket), "mask": sha256(mask)}


def test_a_name_that_differs_in_case_is_the_same_file_to_samba(shared: Shared) -> None:
    client = shared.client()
    first, second = picture(), picture()
    client.put("drop/Logo.png", first)
    client.put("drop/LOGO.PNG", second)  # which Samba writes into Logo.png
    shared.finish([second], "Logo.png")
    client.put("drop/LOGO.PNG", first)
    # Under the name that Samba remembers or under the new one.
    wait_until(lambda: sha256(first) in [line["sha256"] for line in shared.said("made")])
    shared.finish([first])
    films = [name.lower() for name in client.names("positives") if name.lower().startswith("logo")]
    assert len(set(films)) == 4


def test_files_open_with_oplocks(shared: Shared) -> None:
    """A writer is waited for; a reader holds up nobody, and reads what it has opened."""
    client = shared.client()
    data, looked_at = picture(), picture()
    client.put("drop/looked at.png", looked_at)
    reader = shared.client().open_with_oplock("drop/looked at.png", write=False)
    writer = client.open_with_oplock("drop/a.png", write=True)
    writer.write(data[:1000], 0)
    wait_until(lambda: shared.made("looked at.png"))
    assert reader.read(0, len(looked_at)) == looked_at
    reader.close()
    time.sleep(SETTLE * 2)
    assert not shared.made("a.png")
    writer.write(data[1000:], 1000)
    time.sleep(SETTLE * 2)
    assert (shared.root() / "drop" / "a.png").exists()  # whole, but not closed
    writer.close()
    shared.finish([data, looked_at], "a.png", "looked at.png")


def test_a_file_that_other_programs_keep_to_themselves_is_taken(shared: Shared) -> None:
    """Share modes are Samba's own: they bind its clients, and not the service beside it."""
    client = shared.client()
    data = picture()
    with client.open("drop/own.png", "x+b", share=None) as file:
        file.write(data)
        time.sleep(SETTLE * 2)
        assert not shared.made("own.png")
    shared.finish([data], "own.png")
