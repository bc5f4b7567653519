"""A printer in this process that answers whatever a test wants, by socket: for faults.

It uses the same codec as the program, so it proves nothing about messages; the outside tests do.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import threading
from collections.abc import Callable

from filmhand.printer.ipp.message import IppMessage, decode_message, encode_message

Answer = Callable[[socket.socket, IppMessage, bytes], None]


def reply(code=0, *groups, head="HTTP/1.1 200 OK", kind="application/ipp") -> bytes:
    """A whole answer: status, further groups as (tag, attributes)."""
    body = encode_message(IppMessage(code, 1, [(1, {}), *groups]))
    return f"{head}\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n\r\n".encode() + body


class FakePrinter:
    """Answers each request by `answer`; `requests` are what came, as (message, document)."""

    def __init__(self, answer: Answer, *, certificate: tuple[str, str] | None = None) -> None:
        self.answer = answer
        self.requests: list[tuple[IppMessage, bytes]] = []
        self.heads: list[bytes] = []
        self._context = None
        if certificate is not None:
            self._context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            self._context.load_cert_chain(*certificate)
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        self.uri = f"ipp{'s' if certificate else ''}://127.0.0.1:{self.port}/ipp/print"
        self.closing = threading.Event()
        self.takes = threading.Event()
        """Cleared while nothing of a large document is taken."""
        self.takes.set()
        self._threads: list[threading.Thread] = []
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()

    def _serve(self) -> None:
        while True:
            try:
                plain, _ = self._server.accept()
            except OSError:
                return
            thread = threading.Thread(target=self._serve_one, args=(plain,))
            self._threads.append(thread)
            thread.start()

    def _serve_one(self, plain: socket.socket) -> None:
        with plain, contextlib.suppress(OSError):
            plain.settimeout(20)
            if self._context is None:
                self._talk(plain)
            else:
                with self._context.wrap_socket(plain, server_side=True) as secured:
                    self._talk(secured)

    def _talk(self, connection: socket.socket) -> None:
        data = b""
        while b"\r\n\r\n" not in data:
            piece = connection.recv(65536)
            if not piece:
                return
            data += piece
            if data.startswith(b"\x16"):  # a client that begins with TLS
                connection.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")
                return
        head, _, body = data.partition(b"\r\n\r\n")
        self.heads.append(head)
        sized = [line for line in head.split(b"\r\n") if line.lower().startswith(b"content-length")]
        body = bytearray(body)
        size = int(sized[0].split(b":")[1])
        while len(body) < size:
            if size > 1 << 20:
                self.takes.wait(600)
            piece = connection.recv(65536)
            if not piece:
                return
            body += piece
        message, document = decode_message(bytes(body))
        self.requests.append((message, document))
        self.answer(connection, message, document)

    def __enter__(self) -> FakePrinter:
        return self

    def __exit__(self, *_: object) -> None:
        self.closing.set()
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self._thread.join(120)
        for thread in (self._thread, *self._threads):
            thread.join(120)
            assert not thread.is_alive()


def says(data: bytes) -> Answer:
    """Answers everything with these bytes, and hangs up."""
    return lambda connection, message, document: connection.sendall(data)
