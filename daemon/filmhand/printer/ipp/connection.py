"""One exchange with a printer: a POST by HTTP, plain or by TLS, and its whole answer in bounds.

A printer may hang, answer one byte an hour, or send for ever. So each connection is for one
exchange, its answer has a size and a time, and a watch closes the connection when that is over.
"""

from __future__ import annotations

import contextlib
import http.client
import re
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from typing import BinaryIO

from filmhand.printer.ipp.certificate import check_certificate, fingerprint_of, tls_context
from filmhand.printer.ipp.ipp_words import CertificateWord, ConnectionTrouble, ConnectionWord
from filmhand.printer.trouble import PrinterTrouble, UnknownCertificate
from filmhand.values import dataclass

MOST_ANSWERED = 4 << 20  # bytes; a full list of media has some hundred thousand
CONNECT_WITHIN = 10.0  # seconds
ANSWER_WITHIN = 60.0  # seconds for a whole answer
TAKE_WITHIN = 600.0  # seconds in which it must take a piece of a document: it may print meanwhile
LOOK_EVERY = 30.0  # seconds without taking anything after which it is asked what it does
_PIECE = 1 << 16
_PORT = 631
_URI = re.compile(r"(ipps?)://(\[[0-9A-Fa-f:.]+\]|[^:/\[\]]+)(?::(\d{1,5}))?(/.*)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class PrinterAddress:
    """Where a printer is: its URI, taken apart."""

    uri: str
    tls: bool
    host: str
    port: int
    path: str

    @classmethod
    def read(cls, uri: str) -> PrinterAddress:
        """The parts of an ipp or ipps URI; PrinterTrouble where it is none."""
        found = _URI.fullmatch(uri)
        port = int(found[3] or _PORT) if found else 0
        if not found or not 1 <= port <= 65535:
            raise ConnectionTrouble.NO_ADDRESS.before_sending(uri=uri)
        host = found[2].strip("[]")
        return cls(uri, found[1] == "ipps", host, port, found[4] or "/")


class IppConnection:
    """Makes exchanges with one printer; nothing is kept between them.

    Parameters
    ----------
    uri : the printer's address
    certificate : SHA-256 of its certificate where no authority vouches for it
    answer_within, take_within, look_every : seconds for a whole answer, for taking a piece of a
        document, and after which it is asked why it takes none
    """

    def __init__(
        self,
        uri: str,
        certificate: str | None = None,
        *,
        answer_within: float = ANSWER_WITHIN,
        take_within: float = TAKE_WITHIN,
        look_every: float = LOOK_EVERY,
    ) -> None:
        self.address = PrinterAddress.read(uri)
        self._certificate = certificate
        self._answer_within, self._take_within = answer_within, take_within
        self._look_every = min(look_every, take_within)

    def exchange(
        self,
        message: bytes,
        document: BinaryIO | None = None,
        size: int = 0,
        look: Callable[[], bool | None] = lambda: None,
    ) -> bytes:
        """The body of the answer to the message, with `size` bytes of a document behind it.

        A printer with little memory takes no more while it prints, or waits for film. So `look`
        is called while nothing goes: True if it is at the job, however long that takes, False if
        the job is over, None if nobody knows.

        Raises
        ------
        PrinterTrouble
            With `nothing_sent` as long as no byte of a document has gone.
        OSError
            Where the document cannot be read.
        """
        with contextlib.closing(self._connect()) as connection:
            gone = self._send(connection, message, document, size, look)
            within = self._answer_within if document is None else self._take_within
            return self._answer(connection, within, nothing_sent=not gone)

    # --- to the printer ----------------------------------------------------------------------

    def _connect(self) -> http.client.HTTPConnection:
        """A connection, its certificate looked at: nothing is said to a stranger."""
        address = self.address
        connection = http.client.HTTPConnection(address.host, address.port)
        connection.sock = plain = self._reach()
        if address.tls:
            connection.sock = self._secured(plain)
        return connection

    def _reach(self) -> socket.socket:
        try:
            return socket.create_connection((self.address.host, self.address.port), CONNECT_WITHIN)
        except (OSError, UnicodeError) as error:  # a name that no name can be is a UnicodeError
            raise self._unreachable(error) from error

    def _secured(self, plain: socket.socket) -> ssl.SSLSocket:
        address = self.address
        secured = _begin_tls(plain, address.host, pinned=self._certificate is not None)
        try:
            with _watch(secured, CONNECT_WITHIN):
                secured.do_handshake()
            if self._certificate is not None:
                check_certificate(secured, self._certificate, address.host)
        except ssl.SSLCertVerificationError as error:
            secured.close()
            raise self._untrusted(error) from error
        except (OSError, ValueError) as error:
            secured.close()
            raise ConnectionTrouble.NO_TLS.before_sending(
                host=address.host, port=address.port, why=_reason(error)
            ) from error
        except BaseException:
            secured.close()
            raise
        return secured

    def _untrusted(self, error: ssl.SSLCertVerificationError) -> PrinterTrouble:
        host = self.address.host
        try:
            # Only to look at its certificate: nothing is said on this connection.
            with (
                _begin_tls(self._reach(), host, pinned=True) as shown,
                _watch(shown, CONNECT_WITHIN),
            ):
                shown.do_handshake()
                found = fingerprint_of(shown)
        except (OSError, ValueError) as gone:
            return self._unreachable(gone)
        why = error.verify_message
        say = CertificateWord.NO_AUTHORITY.say(host=host, why=why, sha256=found)
        return UnknownCertificate(say, found)

    def _send(
        self,
        connection: http.client.HTTPConnection,
        message: bytes,
        document: BinaryIO | None,
        size: int,
        look: Callable[[], bool | None],
    ) -> bool:
        """Send all that it takes; True if a byte of the document may have gone.

        A printer that takes no more has perhaps answered why, so that is no error here.
        """
        assert connection.sock is not None
        gone, left = False, size
        connection.sock.settimeout(self._answer_within)
        try:
            connection.putrequest("POST", self.address.path)
            connection.putheader("Content-Type", "application/ipp")
            connection.putheader("Content-Length", str(len(message) + size))
            connection.putheader("Connection", "close")
            connection.endheaders(message)
        except TimeoutError as error:
            raise self._silent(nothing_sent=True) from error
        except OSError:
            return gone
        while document is not None and left:
            piece = document.read(min(_PIECE, left))
            if not piece:
                raise OSError(ConnectionWord.BECAME_SHORTER.say())
            gone = True
            if not self._push(connection.sock, piece, look):
                return gone
            left -= len(piece)
        return gone

    def _push(self, sock: socket.socket, piece: bytes, look: Callable[[], bool | None]) -> bool:
        """Send a piece of the document; False where the printer has hung up."""
        sock.settimeout(self._look_every)
        left, since = memoryview(piece), time.monotonic()
        while left:
            try:
                left = left[sock.send(left) :]
            except TimeoutError as error:
                at_it = look()
                if at_it:
                    since = time.monotonic()
                elif at_it is False or time.monotonic() - since >= self._take_within:
                    raise self._silent(nothing_sent=False) from error
            except OSError:
                return False
        return True

    # --- from the printer --------------------------------------------------------------------

    def _answer(
        self, connection: http.client.HTTPConnection, within: float, *, nothing_sent: bool
    ) -> bytes:
        sock = connection.sock
        assert sock is not None
        sock.settimeout(within)
        with _watch(sock, within) as over:
            try:
                with contextlib.closing(connection.getresponse()) as answer:
                    self._judge(answer, nothing_sent=nothing_sent)
                    body = answer.read(MOST_ANSWERED + 1)
            except PrinterTrouble:
                if over.is_set():  # what came of the answer was not all of it
                    raise self._silent(nothing_sent=nothing_sent) from None
                raise
            except (OSError, http.client.HTTPException, ValueError) as error:
                if over.is_set() or isinstance(error, TimeoutError):
                    raise self._silent(nothing_sent=nothing_sent) from error
                raise self._senseless(error, nothing_sent=nothing_sent) from error
            if over.is_set():
                raise self._silent(nothing_sent=nothing_sent)
        if len(body) > MOST_ANSWERED:
            raise ConnectionTrouble.TOO_LONG.trouble(
                host=self.address.host, most=MOST_ANSWERED >> 20, nothing_sent=nothing_sent
            )
        return body

    def _judge(self, answer: http.client.HTTPResponse, *, nothing_sent: bool) -> None:
        """PrinterTrouble unless the answer is one of IPP."""
        host, status = self.address.host, answer.status
        if status != http.client.OK:
            row = _BY_STATUS.get(status, ConnectionTrouble.OTHER_STATUS)
            where = ""
            if 300 <= status < 400:
                row = ConnectionTrouble.ELSEWHERE
                told = "".join(c for c in answer.getheader("Location", "") if " " < c <= "~")[:200]
                where = told or ConnectionWord.NOWHERE.say()
            raise row.trouble(host=host, status=status, where=where, nothing_sent=nothing_sent)
        found = answer.getheader("Content-Type", "").partition(";")[0].strip().lower()
        if found != "application/ipp":
            raise ConnectionTrouble.NOT_IPP.trouble(host=host, nothing_sent=nothing_sent)

    # --- in words ----------------------------------------------------------------------------

    def _unreachable(self, error: BaseException) -> PrinterTrouble:
        if isinstance(error, PrinterTrouble):
            return error
        row = ConnectionTrouble.NO_ANSWER
        if isinstance(error, socket.gaierror | UnicodeError):
            local = self.address.host.lower().endswith(".local")
            row = ConnectionTrouble.UNKNOWN_LOCAL_NAME if local else ConnectionTrouble.UNKNOWN_NAME
        elif isinstance(error, ConnectionRefusedError):
            row = ConnectionTrouble.NO_CONNECTION
        host, port = self.address.host, self.address.port
        return row.before_sending(host=host, port=port, why=_reason(error))

    def _silent(self, *, nothing_sent: bool) -> PrinterTrouble:
        return ConnectionTrouble.SILENT.trouble(host=self.address.host, nothing_sent=nothing_sent)

    def _senseless(self, error: Exception, *, nothing_sent: bool) -> PrinterTrouble:
        if isinstance(error, http.client.RemoteDisconnected | ConnectionError):
            pair = ConnectionTrouble.HUNG_UP, ConnectionTrouble.HUNG_UP_UNLESS_TLS
        elif isinstance(error, http.client.IncompleteRead):
            pair = ConnectionTrouble.BROKE_OFF, ConnectionTrouble.BROKE_OFF
        else:
            pair = ConnectionTrouble.NO_HTTP, ConnectionTrouble.NO_HTTP_UNLESS_TLS
        with_tls, without = pair
        return (with_tls if self.address.tls else without).trouble(
            host=self.address.host, port=self.address.port, nothing_sent=nothing_sent
        )


_BY_STATUS = {
    400: ConnectionTrouble.NOT_UNDERSTOOD,
    401: ConnectionTrouble.WANTS_PASSWORD,
    403: ConnectionTrouble.NOT_ALLOWED,
    404: ConnectionTrouble.NOTHING_AT_PATH,
    405: ConnectionTrouble.NOTHING_PRINTS_AT_PATH,
    426: ConnectionTrouble.WANTS_TLS,
    502: ConnectionTrouble.BEHIND_GATEWAY,
    503: ConnectionTrouble.TAKES_NO_CONNECTIONS,
    504: ConnectionTrouble.BEHIND_GATEWAY,
}


def _begin_tls(plain: socket.socket, host: str, *, pinned: bool) -> ssl.SSLSocket:
    """The connection by TLS, whose handshake is still to be done."""
    context = tls_context(pinned=pinned)
    return context.wrap_socket(plain, server_hostname=host, do_handshake_on_connect=False)


@contextlib.contextmanager
def _watch(sock: socket.socket, seconds: float) -> Iterator[threading.Event]:
    """Shut the connection down when the time is over, whatever goes on there; the event says so."""
    over = threading.Event()

    def shut() -> None:
        over.set()
        with contextlib.suppress(OSError):
            # The plain socket's, also under TLS: it must not wait for the other side.
            socket.socket.shutdown(sock, socket.SHUT_RDWR)

    timer = threading.Timer(seconds, shut)
    timer.daemon = True
    timer.start()
    try:
        yield over
    finally:
        timer.cancel()


def _reason(error: BaseException) -> str:
    """A few words for an error of the system or of TLS."""
    if isinstance(error, TimeoutError):
        return ConnectionWord.NOT_IN_TIME.say()
    if isinstance(error, ssl.SSLError) and error.reason:
        return error.reason.replace("_", " ").lower()
    return getattr(error, "strerror", None) or type(error).__name__
