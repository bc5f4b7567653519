"""The page over HTTP: what is given, and what is turned away."""

from __future__ import annotations

import http.client
import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.service.page_server import PageServer, PageWish

STATUS = {
    "station": "/srv/films", "station_name": "films", "at": "2026-03-01T10:00:00Z",
    "running": True, "faults": [],
    "counts": {"waiting": 0, "working": 0, "made": 1, "refused": 0},
    "profiles": [{
        "name": "small", "link": None, "state": "working", "paused": None, "waiting": [],
        "waiting_count": 0, "in_work": [], "left_alone": [],
        "curve": {"name": "curves/2026-11-26-101500-abcdef.txt", "date": "2026-11-26",
                  "print_at_50": 63.5, "smallest_dot_um": 315},
    }],
    "made": [{
        "job": "j", "at": "2026-03-01T10:00:00Z", "profile": "small", "name": "a.png",
        "films": [{"folder": "class 4", "stem": "a", "files": ["a.pdf"]}],
        "original": "class 4/a.png",
    }],
    "refused": [],
}  # fmt: skip


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    root = tmp_path / "station" / "small"
    for kind in (
        "curves",
        "proofs",
        "records",
        "positives",
        "originals",
        "rejected",
        "drop",
        ".filmhand",
    ):
        (root / kind / "class 4").mkdir(parents=True)
    (root / "proofs/class 4/a.jpg").write_bytes(b"\xff\xd8proof")
    (root / "records/class 4/a.json").write_text('{"schema": "filmhand-record/1"}')
    (root / "positives/class 4/a.pdf").write_bytes(b"%PDF-film")
    (root / "originals/class 4/a.png").write_bytes(b"<script>alert(1)</script>")
    (root / "rejected/class 4/b.html").write_bytes(b"<script>alert(1)</script>")
    (root / "rejected/class 4/b.html.why.txt").write_text("It is not a picture.\n")
    for name in ("2026-11-26-101500-abcdef.png", "2026-11-26-101500-abcdef.txt"):
        (root / "curves" / name).write_bytes(b"of a reading")
    (root / "drop/class 4/secret.png").write_bytes(b"not yet")
    (root / ".filmhand/class 4/job.json").write_text("{}")
    (tmp_path / "outside.jpg").write_bytes(b"outside")
    return root


@pytest.fixture
def server(shop: Path) -> Iterator[PageServer]:
    folders = {"small": Folders(shop), "class 9": Folders(shop)}
    pages = PageServer(PageWish("127.0.0.1", 0, ("films.example",)), lambda: folders)
    pages.tell(STATUS)
    yield pages
    pages.close()


def ask(
    server: PageServer, path: str, *, host: str | None = "localhost", method: str = "GET"
) -> tuple[int, dict[str, str], bytes]:
    port = int(server.address.rpartition(":")[2].rstrip("/"))
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    connection.putrequest(method, path, skip_host=True)
    if host is not None:
        connection.putheader("Host", host)
    connection.endheaders()
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer.status, {key.lower(): value for key, value in answer.getheaders()}, body


def test_the_page_leads_to_everything_of_a_film(server: PageServer) -> None:
    code, heads, body = ask(server, "/")
    assert code == 200
    assert heads["content-type"] == "text/html; charset=utf-8"
    for path in (
        "small/proofs/class%204/a.jpg",
        "small/records/class%204/a.json",
        "small/positives/class%204/a.pdf",
        "small/originals/class%204/a.png",
    ):
        assert f'"{path}"'.encode() in body
        code, heads, given = ask(server, f"/{path}")
        assert (code, int(heads["content-length"])) == (200, len(given))
        assert given
    assert b"/drop" not in body


def test_the_policy_is_that_of_the_file_and_nothing_is_guessed(server: PageServer) -> None:
    _, heads, body = ask(server, "/")
    policy = heads["content-security-policy"]
    assert policy.startswith("default-src 'none'") and "script-src 'sha256-" in policy
    assert policy.partition("; frame-ancestors")[0].encode() in body.replace(b"&#x27;", b"'")
    for path in ("/", "/small/originals/class%204/a.png", "/nothing"):
        _, heads, _ = ask(server, path)
        assert heads["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'none'" in heads["content-security-policy"]


@pytest.mark.parametrize(
    "path", ["/small/originals/class%204/a.png", "/small/rejected/class%204/b.html"]
)
def test_what_a_customer_sent_is_never_opened_by_the_browser(server: PageServer, path: str) -> None:
    code, heads, _ = ask(server, path)
    assert code == 200
    assert heads["content-type"] == "application/octet-stream"
    assert heads["content-disposition"] == "attachment"
    assert "sandbox" in heads["content-security-policy"]
    _, heads, given = ask(server, "/small/rejected/class%204/b.html.why.txt")
    assert (heads["content-type"], given) == (
        "text/plain; charset=utf-8",
        b"It is not a picture.\n",
    )


@pytest.mark.parametrize(
    "path",
    [
        "/small/drop/class%204/secret.png",
        "/small/.filmhand/class%204/job.json",
        "/small/proofs/../drop/class%204/secret.png",
        "/small/proofs/..%2fdrop/class%204/secret.png",
        "/small/proofs/%2e%2e/drop/class%204/secret.png",
        "/small/proofs/class%204/..%2f..%2f..%2f..%2foutside.jpg",
        "/small//proofs/class%204/a.jpg",
        "/small/proofs/class%204/a.jpg%00.jpg",
        "/small/proofs/class%204",
        "/small/proofs/class%204/",
        "/small/proofs",
        "/other/proofs/class%204/a.jpg",
        "/small/proofs/class%204/a.json",
        "/small/records/class%204/link.json",
        "/small/records/linked/outside.json",
        "/small/records/class%204/pipe.json",
        "/" + "x/" * 5000,
    ],
)
def test_nothing_else_is_given(server: PageServer, shop: Path, path: str) -> None:
    (shop / "records/class 4/link.json").symlink_to(shop.parent.parent / "outside.jpg")
    (shop / "records/linked").symlink_to(shop.parent.parent)
    os.mkfifo(shop / "records/class 4/pipe.json")
    code, _, body = ask(server, path)
    assert code == 404
    assert body == b"There is nothing here.\n"


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("localhost:8080", True), ("127.0.0.1", True), ("192.168.1.4:80", True), ("[::1]:80", True),
        ("films.example", True), ("FILMS.example.:8080", True), (socket.gethostname(), True),
        ("evil.example", False), ("localhost.evil.example", False), ("", False), (None, False),
        ("127.0.0.1.evil.example", False),
    ],
)  # fmt: skip
def test_only_who_asks_for_us_is_answered(server: PageServer, host: str | None, ours: bool) -> None:
    code, _, body = ask(server, "/", host=host)
    assert (code == 200) is ours
    assert ours or b"films" not in body


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "X"])
def test_it_can_only_be_read(server: PageServer, method: str) -> None:
    code, _, body = ask(server, "/small/proofs/class%204/a.jpg", method=method)
    assert code == 501
    assert b"proof" not in body


def test_head_gives_no_body(server: PageServer) -> None:
    code, heads, body = ask(server, "/small/positives/class%204/a.pdf", method="HEAD")
    assert (code, heads["content-length"], body) == (200, "9", b"")


def test_readers_who_say_nothing_or_nonsense_keep_nobody_out(server: PageServer) -> None:
    port = int(server.address.rpartition(":")[2].rstrip("/"))
    silent = [socket.create_connection(("127.0.0.1", port)) for _ in range(20)]
    for nonsense in (
        b"\x00" * 4000,
        b"GET " + b"/" * 70000,
        b"GET / HTTP/9.9\r\n\r\n",
        b"\r\n\r\n",
    ):
        with socket.create_connection(("127.0.0.1", port), timeout=120) as reader:
            reader.sendall(nonsense)
            reader.shutdown(socket.SHUT_WR)
            answer = b""
            while piece := reader.recv(65536):
                answer += piece
            assert b"Traceback" not in answer and b"////" not in answer
    assert ask(server, "/")[0] == 200
    for one in silent:
        one.close()


def test_many_readers_at_once(server: PageServer) -> None:
    codes: list[int] = []
    readers = [
        threading.Thread(target=lambda: codes.append(ask(server, "/")[0])) for _ in range(12)
    ]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert codes == [200] * 12


def test_a_place_that_is_taken_is_said_in_one_sentence(server: PageServer) -> None:
    port = int(server.address.rpartition(":")[2].rstrip("/"))
    with pytest.raises(FilmhandError, match=rf"cannot be served at 127\.0\.0\.1:{port}: Address"):
        PageServer(PageWish("127.0.0.1", port), dict)


@pytest.mark.parametrize(
    "place", ["8080", "host", "a b:1", "h:99999", "http://h:80", "[::1]", ":80"]
)
def test_what_is_no_place_for_a_page(place: str) -> None:
    with pytest.raises(ValueError, match="a host and a port"):
        PageWish.read(place)


def test_places() -> None:
    assert PageWish.read("127.0.0.1:8080", ["x"]) == PageWish("127.0.0.1", 8080, ("x",))
    assert PageWish.read("[::]:0") == PageWish("::", 0)


def test_the_page_shows_the_plot_of_the_curve_in_force(server: PageServer) -> None:
    _, _, page = ask(server, "/")
    plot = "small/curves/2026-11-26-101500-abcdef.png"
    assert f'<a href="{plot}"><img class="proof" src="{plot}" alt=""'.encode() in page
    assert b"2026-11-26: 50 % on the film prints 64 %" in page
    code, heads, body = ask(server, f"/{plot}")
    assert (code, heads["content-type"], body) == (200, "image/png", b"of a reading")
    assert ask(server, f"/{plot.replace('.png', '.txt')}")[0] == 404
