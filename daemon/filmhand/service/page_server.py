"""The station's page over HTTP: read-only, for the people of one shop.

What can be asked for is the page, and files of the folders that it links to; they are reached
without following links (:mod:`filmhand.disk.beneath`). A page of another site that a reader has
open cannot ask in the reader's name: a Host that is not ours is turned away (DNS rebinding).
"""

from __future__ import annotations

import contextlib
import os
import re
import socket
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import ip_address
from typing import Any, BinaryIO
from urllib.parse import unquote_to_bytes

from filmhand.disk.beneath import Beneath, is_single
from filmhand.disk.file_names import WHY_END
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.page.status_page import policy, status_page
from filmhand.service.service_words import ServiceWord
from filmhand.values import dataclass

_SECONDS = 15.0  # that a reader may take for a line, or for taking in a block
_READERS = 32  # at once
_FILES = 24  # at once: were a share to hang, the page itself would still be there
_ASKING = 30.0  # seconds that a reader may take to ask
_BLOCK = 1 << 16
_LONGEST_PATH = 8192
_PLACE = re.compile(r"(?:\[([0-9A-Fa-f:.]{2,45})\]|([A-Za-z0-9._-]{1,253})):(\d{1,5})")
_ATTACHED = ("application/octet-stream", "attachment")
# What each folder's files are shown as; what a customer sent is never opened by the browser.
_KINDS: dict[str, dict[str, tuple[str, str]]] = {
    "proofs": {".jpg": ("image/jpeg", "inline")},
    "records": {".json": ("application/json", "inline")},
    "positives": {"": _ATTACHED},
    "originals": {"": _ATTACHED},
    "curves": {".png": ("image/png", "inline"), ".json": ("application/json", "inline")},
    "rejected": {WHY_END: ("text/plain; charset=utf-8", "inline"), "": _ATTACHED},
}
_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True, slots=True)
class PageWish:
    """Where the page is to be served; port 0 takes a free one.

    ``names`` are those under which readers may ask, beside this computer's own.
    """

    host: str
    port: int
    names: tuple[str, ...] = ()

    @classmethod
    def read(cls, place: str, names: Iterable[str] = ()) -> PageWish:
        """Of ``HOST:PORT``; ValueError with what is allowed for anything else."""
        found = _PLACE.fullmatch(place)
        if not found or not int(found[3]) <= 65535:
            raise ValueError(ServiceWord.HOST_AND_PORT.say())
        return cls(found[1] or found[2], int(found[3]), tuple(names))


class PageServer:
    """Serves the status that was told last.

    Parameters
    ----------
    wish : where to listen
    folders : those of each profile, asked for each time
    """

    def __init__(self, wish: PageWish, folders: Callable[[], Mapping[str, Folders]]) -> None:
        own = socket.gethostname()
        names = {wish.host, "localhost", own, f"{own}.local", socket.getfqdn(), *wish.names}
        self._names = {name.lower().rstrip(".") for name in names}
        self._folders = folders
        self._status: Mapping[str, Any] | None = None
        self.readers = threading.BoundedSemaphore(_READERS)
        self.files = threading.BoundedSemaphore(_FILES)
        family = socket.AF_INET6 if ":" in wish.host else socket.AF_INET
        kind = type("_Server", (_Listener,), {"address_family": family})
        handler = type("_Reader", (_Reader,), {"pages": self})
        try:
            self._server = kind((wish.host, wish.port), handler)
        except OSError as error:
            say = ServiceWord.NO_PAGE_THERE.say(host=wish.host, port=wish.port, why=error.strerror)
            raise FilmhandError(say) from error
        listen = partial(self._server.serve_forever, poll_interval=0.2)
        threading.Thread(target=listen, name="page", daemon=True).start()

    @property
    def address(self) -> str:
        """Where a browser finds it."""
        host, port = self._server.server_address[:2]
        host = str(host)
        with contextlib.suppress(ValueError):
            if ip_address(host).is_unspecified:
                host = socket.gethostname()
        return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"

    def tell(self, status: Mapping[str, Any]) -> None:
        """From here this is what the page shows."""
        self._status = status

    def close(self) -> None:
        """Stop listening."""
        self._server.shutdown()
        self._server.server_close()

    # --- what readers get ------------------------------------------------------------------------

    def knows(self, host: str | None) -> bool:
        """Whether a request's Host is ours: one of our names, or an address."""
        name = (host or "").strip().lower()
        name = name[1:].partition("]")[0] if name.startswith("[") else name.partition(":")[0]
        if name.rstrip(".") in self._names:
            return True
        with contextlib.suppress(ValueError):
            ip_address(name)
            return True
        return False

    def page(self) -> bytes | None:
        """The page; None before anything was told."""
        status = self._status
        if status is None:
            return None
        links = {profile["name"]: profile["name"] for profile in status["profiles"]}
        return status_page(status, links, served=True).encode("utf-8", "replace")

    def file(self, path: str) -> tuple[Beneath, tuple[str, str]] | None:
        """A file that the page links to, and how it is shown; None for any other path."""
        parts = [os.fsdecode(unquote_to_bytes(part)) for part in path.split("/")]
        if len(parts) < 3 or not all(map(is_single, parts)):
            return None
        profile, kind, *names = parts
        folders = self._folders().get(profile)
        if folders is None or any(name.startswith(".") for name in names):
            return None
        shown = next(
            (how for end, how in _KINDS.get(kind, {}).items() if names[-1].endswith(end)), None
        )
        return None if shown is None else (folders.output(kind).joinpath(*names), shown)


def _up_to(file: BinaryIO, size: int) -> Iterator[bytes]:
    """No more than was promised of a file that may grow."""
    while size and (block := file.read(min(size, _BLOCK))):
        size -= len(block)
        yield block


class _Listener(ThreadingHTTPServer):
    daemon_threads = True
    block_on_close = False

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Readers that go away in the middle are no trouble of ours."""


class _Reader(BaseHTTPRequestHandler):
    """One connection: GET and HEAD, one request each."""

    pages: PageServer
    server_version, sys_version = "filmhand", ""
    timeout = _SECONDS

    def handle(self) -> None:
        """Answer one request, if there is room."""
        if not self.pages.readers.acquire(blocking=False):
            return
        self._asking = threading.Timer(_ASKING, self._hang_up)
        self._asking.daemon = True
        self._asking.start()
        try:
            self.handle_one_request()
        finally:
            self._asking.cancel()
            self.pages.readers.release()

    def _hang_up(self) -> None:
        with contextlib.suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)

    def do_GET(self) -> None:
        """The page or a file."""
        self._answer(body=True)

    def do_HEAD(self) -> None:
        """What GET would give, without it."""
        self._answer(body=False)

    def _answer(self, *, body: bool) -> None:
        self._asking.cancel()
        if not self.pages.knows(self.headers.get("Host")):
            self._say(HTTPStatus.MISDIRECTED_REQUEST, ServiceWord.NOT_OUR_NAME.say(), body)
            return
        path = self.path.partition("?")[0].partition("#")[0]
        if path in {"/", "/status.html"}:
            page = self.pages.page()
            if page is None:
                self._say(HTTPStatus.SERVICE_UNAVAILABLE, ServiceWord.NOTHING_KNOWN.say(), body)
            else:
                self._head(HTTPStatus.OK, "text/html; charset=utf-8", len(page), policy())
                self._send([page] if body else [])
            return
        found = self.pages.file(path[1:]) if len(path) <= _LONGEST_PATH else None
        if found is None or not self._send_file(*found, body=body):
            self._say(HTTPStatus.NOT_FOUND, ServiceWord.NOTHING_HERE.say(), body)

    def _send_file(self, path: Beneath, shown: tuple[str, str], *, body: bool) -> bool:
        if not self.pages.files.acquire(blocking=False):
            self._say(HTTPStatus.SERVICE_UNAVAILABLE, ServiceWord.TOO_MUCH_ASKED.say(), body)
            return True
        try:
            try:
                file = path.open()
            except (OSError, ValueError):
                return False
            with file:
                size = os.fstat(file.fileno()).st_size
                self._head(HTTPStatus.OK, shown[0], size, "sandbox; default-src 'none'", shown[1])
                self._send(_up_to(file, size) if body else [])
        finally:
            self.pages.files.release()
        return True

    def _say(self, code: HTTPStatus, words: str, body: bool) -> None:
        text = f"{words}\n".encode()
        self._head(code, "text/plain; charset=utf-8", len(text), "default-src 'none'")
        self._send([text] if body else [])

    def _head(
        self, code: HTTPStatus, kind: str, size: int, content_policy: str, shown: str = "inline"
    ) -> None:
        self.send_response(code)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(size))
        self.send_header("Content-Security-Policy", f"{content_policy}; frame-ancestors 'none'")
        self.send_header("Content-Disposition", shown)
        for name, value in _ALWAYS.items():
            self.send_header(name, value)
        self.send_header("Connection", "close")
        self.end_headers()
        self.close_connection = True

    def _send(self, blocks: Iterable[bytes]) -> None:
        with contextlib.suppress(OSError):  # a reader who has gone, or a disk
            for block in blocks:
                self.wfile.write(block)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer what is no request of ours in the same few words, without echoing it."""
        with contextlib.suppress(OSError):
            self._say(HTTPStatus(code), HTTPStatus(code).phrase, True)

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing: who looks at a page is nobody's business."""
