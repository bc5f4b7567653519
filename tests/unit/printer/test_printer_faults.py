"""Printers that hang, lie, break off, send elsewhere or for ever: one sentence, in bounds."""

from __future__ import annotations

import io
import shutil
import socket
import ssl
import subprocess
import threading
import tracemalloc

import pytest
from fake_printer import FakePrinter, reply, says
from printers import LETTER, film_printer

from filmhand.printer.ipp import connection as connection_module
from filmhand.printer.ipp.connection import IppConnection, PrinterAddress
from filmhand.printer.ipp.message import IppValue, ValueTag
from filmhand.printer.ipp.words import (
    Operation,
    Status,
    boolean,
    enum_value,
    integer,
    keywords,
    text_value,
)
from filmhand.printer.print_request import PWG, JobState, PrintJobRequest
from filmhand.printer.session import IppPrinter
from filmhand.printer.trouble import PrinterTrouble, TroubleKind

JOB = PrintJobRequest("poster 1", PWG, LETTER, copies=1)
FILM = b"RaS2" + bytes(300_000)


def opened(fake, certificate=None, **limits):
    return IppPrinter(fake.uri, connection=IppConnection(fake.uri, certificate, **limits))


def trouble_of(call):
    with pytest.raises(PrinterTrouble) as caught:
        call()
    say = str(caught.value)
    assert say.endswith(".") or "certificate: " in say
    assert say.isprintable()
    return caught.value


def send(printer, number=7):
    return printer.send(number, JOB, io.BytesIO(FILM), len(FILM))


# --- addresses -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("uri", "parts"),
    [
        ("ipp://film-printer.local/ipp/print", (False, "film-printer.local", 631, "/ipp/print")),
        ("ipps://192.168.1.20:443", (True, "192.168.1.20", 443, "/")),
        ("ipp://[fe80::1]:8631/ipp", (False, "fe80::1", 8631, "/ipp")),
    ],
)
def test_addresses(uri, parts):
    found = PrinterAddress.read(uri)
    assert (found.tls, found.host, found.port, found.path) == parts


@pytest.mark.parametrize("uri", ["http://a/b", "ipp://", "ipp://a:0/", "ipp://a:65536/", "printer"])
def test_what_is_no_address(uri):
    assert "no printer's address" in str(trouble_of(lambda: IppPrinter(uri)))


# --- not there -----------------------------------------------------------------------------------


def test_nobody_listens():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
        found = trouble_of(IppPrinter(f"ipp://127.0.0.1:{port}/").capabilities)
    assert (found.kind, found.nothing_sent) == (TroubleKind.AWAY, True)
    assert f"takes no connection on port {port}" in str(found)


@pytest.mark.parametrize("host", ["no-such-printer.invalid", "a..b", "x" * 70 + ".local"])
def test_nobody_of_that_name(host):
    found = trouble_of(IppPrinter(f"ipp://{host}/ipp/print").capabilities)
    assert found.kind is TroubleKind.AWAY
    assert f"Nobody knows a printer by the name {host}" in str(found)
    assert ("look up .local names" in str(found)) == host.endswith(".local")


# --- HTTP ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "kind", "what"),
    [
        ("HTTP/1.1 401 Unauthorized", TroubleKind.WRONG, "wants a user and a password"),
        ("HTTP/1.1 403 Forbidden", TroubleKind.WRONG, "does not let this computer print"),
        ("HTTP/1.1 404 Not Found", TroubleKind.WRONG, "has nothing at that path"),
        ("HTTP/1.1 426 Upgrade Required", TroubleKind.WRONG, "write ipps:// in place of ipp://"),
        ("HTTP/1.1 503 Busy", TroubleKind.AWAY, "takes no connections for now"),
        ("HTTP/1.1 599 Odd", TroubleKind.WRONG, "answers 599"),
        (
            "HTTP/1.1 301 Moved\r\nLocation: http://evil.example/\x1b[31m",
            TroubleKind.WRONG,
            r"sends us elsewhere \(http://evil.example/\[31m\), which filmhand does not follow",
        ),
        ("HTTP/1.1 302 Found", TroubleKind.WRONG, "it does not say where"),
    ],
)
def test_answers_of_http(head, kind, what):
    with FakePrinter(says(reply(head=head))) as fake:
        with pytest.raises(PrinterTrouble, match=what) as caught:
            opened(fake).capabilities()
        assert caught.value.kind is kind
        assert len(fake.requests) == 1  # nothing is followed


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"\x15\x03\x01\x00\x02\x02\x46", "speaks no HTTP"),
        (b"220 mail.example ESMTP\r\n" * 9, "speaks no HTTP"),
        (b"HTTP/1.1 200 OK\r\n" + b"X: y\r\n" * 500 + b"\r\n", "speaks no HTTP"),
        (b"HTTP/1.1 200 OK\r\nX: " + b"y" * 100_000 + b"\r\n\r\n", "speaks no HTTP"),
        (b"", "hung up without an answer"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\n", "no printer that speaks IPP"),
        (reply(kind="text/html"), "no printer that speaks IPP"),
        (reply()[:-1], "makes no sense"),
        (reply()[:-9] + b"\xff" * 9, "makes no sense"),
        (reply(), "tells nothing of itself"),
        (reply(0, (4, {}))[:-1] + b"\x00", "makes no sense"),
    ],
)
def test_answers_that_are_none(data, what):
    with FakePrinter(says(data)) as fake:
        assert what in str(trouble_of(opened(fake).capabilities))


def test_half_an_answer_in_chunks():
    data = b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nTransfer-Encoding: chunked\r\n\r\n"
    with FakePrinter(says(data + b"ff\r\nabc")) as fake:
        assert "broke off" in str(trouble_of(opened(fake).capabilities))


@pytest.mark.parametrize("length", [f"Content-Length: {4 << 30}\r\n", ""])
def test_four_gigabytes_are_not_taken(length):
    def floods(connection, message, document):
        head = f"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\n{length}\r\n"
        connection.sendall(head.encode())
        while True:  # until the other side has had enough
            connection.sendall(bytes(1 << 16))

    with FakePrinter(floods) as fake:
        tracemalloc.start()
        found = trouble_of(opened(fake).capabilities)
        assert tracemalloc.get_traced_memory()[1] < 32 << 20
        tracemalloc.stop()
    assert "more than 4 MiB" in str(found)


def drips(head):
    def answer(connection, message, document):
        with connection:
            connection.sendall(head)
            for _ in range(400):
                connection.sendall(b"1")
                threading.Event().wait(0.05)

    return answer


@pytest.mark.parametrize(
    "head",
    [
        b"",
        b"HTTP/1.1 200 OK\r\nX-Slow: ",
        b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: 100000\r\n\r\n",
    ],
)
def test_a_byte_now_and_then_is_no_answer(head):
    with FakePrinter(drips(head)) as fake:
        found = trouble_of(opened(fake, answer_within=0.4).capabilities)
    assert "did not answer in time" in str(found)
    assert (found.kind, found.nothing_sent) == (TroubleKind.AWAY, True)


def test_a_printer_that_hangs():
    with FakePrinter(lambda *_: fake.closing.wait(600)) as fake:
        found = trouble_of(opened(fake, answer_within=0.3).capabilities)
        assert "did not answer in time" in str(found)
        sent = trouble_of(lambda: send(opened(fake, take_within=0.3)))
        assert not sent.nothing_sent


def test_a_printer_that_stops_taking_the_document():
    with socket.create_server(("127.0.0.1", 0)) as server:
        uri = f"ipp://127.0.0.1:{server.getsockname()[1]}/"
        printer = IppPrinter(uri, connection=IppConnection(uri, answer_within=0.3, take_within=0.3))
        large = bytes(32 << 20)
        found = trouble_of(lambda: printer.send(7, JOB, io.BytesIO(large), len(large)))
    assert "did not answer in time" in str(found)
    assert not found.nothing_sent


LARGE = bytes(32 << 20)  # more than connections hold by themselves


@pytest.mark.parametrize("tls", [False, True])
def test_a_printer_that_waits_for_film_in_the_middle_of_a_document(tls, certificates):
    told = []
    pair = certificates[0] if tls else None
    with FakePrinter(job(5, printer=5, why=("media-empty-error",)), certificate=pair) as fake:
        fake.takes.clear()

        def seen(status):
            told.append(status)
            if len(told) == 3:
                fake.takes.set()  # somebody has loaded film

        known = sha256_by_openssl(pair[0]) if pair else None
        printer = opened(fake, known, take_within=15, look_every=0.2)
        assert printer.send(7, JOB, io.BytesIO(LARGE), len(LARGE), seen) == 7
    assert {(one.state, one.why) for one in told} == {(JobState.STOPPED, "a tray is empty")}
    documents = [document for message, document in fake.requests if document]
    assert documents == [LARGE]


def test_a_job_that_ends_in_the_middle_of_its_document():
    told = []
    with FakePrinter(job(7, "job-canceled-at-device")) as fake:
        fake.takes.clear()
        printer = opened(fake, look_every=0.1)
        found = trouble_of(lambda: printer.send(7, JOB, io.BytesIO(LARGE), len(LARGE), told.append))
        fake.takes.set()
    assert not found.nothing_sent
    assert [one.state for one in told] == [JobState.CANCELED]


def test_a_document_that_becomes_shorter_is_no_fault_of_the_printer():
    with FakePrinter(says(reply())) as fake, pytest.raises(OSError, match="became shorter"):
        opened(fake).send(7, JOB, io.BytesIO(FILM[:-1]), len(FILM))


def test_the_document_arrives_whole_with_its_length():
    with FakePrinter(says(reply())) as fake:
        assert send(opened(fake)) == 7
    (message, document), head = fake.requests[0], fake.heads[0]
    assert document == FILM
    assert message.code == Operation.SEND_DOCUMENT
    assert b"\r\nContent-Length: " in head
    assert b"\r\nContent-Type: application/ipp" in head


# --- what it says no to --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "kind", "nothing_sent", "what"),
    [
        (Status.BUSY, TroubleKind.BUSY, True, "is busy with another job"),
        (Status.NOT_ACCEPTING, TroubleKind.STOPPED, True, "takes no jobs for now"),
        (Status.FORMAT_NOT_SUPPORTED, TroubleKind.UNABLE, True, "does not take such documents"),
        (Status.INTERNAL_ERROR, TroubleKind.AWAY, False, "has met an error of its own"),
        (Status.NO_MULTIPLE_DOCUMENTS, TroubleKind.REFUSED, False, "takes no further document"),
        (Status.NOT_POSSIBLE, TroubleKind.REFUSED, False, "cannot do that with this job"),
        (0x04FE, TroubleKind.REFUSED, True, "refuses with the code 0x04fe"),
        (0x7000, TroubleKind.REFUSED, False, "refuses with the code 0x7000"),
    ],
)
def test_what_a_no_means_for_the_document(code, kind, nothing_sent, what):
    with FakePrinter(says(reply(code))) as fake:
        found = trouble_of(lambda: send(opened(fake)))
    assert (found.kind, found.nothing_sent) == (kind, nothing_sent)
    assert what in str(found)


def test_a_no_comes_with_the_printers_own_words():
    body = (5, {"media-col": (IppValue(ValueTag.UNSUPPORTED, None),)})
    with FakePrinter(says(reply(Status.ATTRIBUTES_NOT_SUPPORTED, body))) as fake:
        assert "refuses it all the same (media-col)." in str(trouble_of(lambda: send(opened(fake))))


def test_a_printer_that_takes_a_job_without_what_it_lists():
    def lies(connection, message, document):
        groups = []
        if message.code == Operation.GET_PRINTER_ATTRIBUTES:
            groups = [(4, film_printer())]
        elif message.code == Operation.CREATE_JOB:
            groups = [
                (5, {"media-col": (IppValue(ValueTag.UNSUPPORTED, None),)}),
                (2, {"job-id": integer(12)}),
            ]
        connection.sendall(reply(0, *groups))

    with FakePrinter(lies) as fake:
        found = trouble_of(lambda: opened(fake).create(JOB))
    assert found.kind is TroubleKind.REFUSED
    assert "lists media-col, but would print without" in str(found)
    last = fake.requests[-1][0]
    assert last.code == Operation.CANCEL_JOB
    assert last.groups[0][1]["job-id"] == integer(12)


@pytest.mark.parametrize("groups", [[], [(2, {})], [(2, {"job-id": integer(-1)})]])
def test_a_job_without_a_number(groups):
    def answer(connection, message, document):
        asked = message.code == Operation.GET_PRINTER_ATTRIBUTES
        connection.sendall(reply(0, *([(4, film_printer())] if asked else groups)))

    with FakePrinter(answer) as fake:
        assert "gave it no number" in str(trouble_of(lambda: opened(fake).create(JOB)))


def test_a_printer_of_the_first_version_that_takes_only_whole_jobs():
    def answer(connection, message, document):
        if message.version == (2, 0):
            connection.sendall(reply(Status.VERSION_NOT_SUPPORTED))
        elif message.code == Operation.GET_PRINTER_ATTRIBUTES:
            few = film_printer(operations_supported=enum_value(2) + enum_value(11))
            connection.sendall(reply(0, (4, few)))
        else:
            connection.sendall(reply(0, (2, {"job-id": integer(31)})))

    with FakePrinter(answer) as fake:
        printer = opened(fake)
        assert printer.create(JOB) is None
        assert send(printer, None) == 31
    message, document = fake.requests[-1]
    assert (message.code, message.version, document) == (Operation.PRINT_JOB, (1, 1), FILM)


# --- jobs ----------------------------------------------------------------------------------------


def job(state, *reasons, printer=3, why=("none",), **more):
    """A printer that tells this of any job, and of itself."""
    told = {
        "job-id": integer(7),
        "job-name": text_value(ValueTag.NAME, "poster 1"),
        "job-state": enum_value(state),
        "job-state-reasons": keywords(*(reasons or ("none",))),
    } | {key.replace("_", "-"): integer(value) for key, value in more.items()}
    itself = {"printer-state": enum_value(printer), "printer-state-reasons": keywords(*why)}

    def answer(connection, message, document):
        asked = message.code == Operation.GET_PRINTER_ATTRIBUTES
        connection.sendall(reply(0, (4, itself) if asked else (2, told)))

    return answer


@pytest.mark.parametrize(
    ("answer", "state", "empty", "why"),
    [
        (job(4, "job-data-insufficient"), JobState.HELD, True, "it waits for the document"),
        (job(4, "job-incoming", number_of_documents=0), JobState.HELD, True, ""),
        (job(3, "job-incoming"), JobState.PENDING, False, ""),
        (job(3, "job-data-insufficient", number_of_documents=1), JobState.PENDING, False, None),
        (job(5, "job-printing", number_of_documents=0), JobState.PROCESSING, False, ""),
        (job(9, number_of_documents=0), JobState.COMPLETED, False, ""),
        (job(7, "job-canceled-at-device"), JobState.CANCELED, False, "it was canceled at the"),
        (job(8, number_of_documents=0), JobState.ABORTED, True, ""),
        (job(8, number_of_documents=0, job_media_sheets_completed=1), JobState.ABORTED, False, ""),
        (
            job(5, printer=5, why=("media-empty-error", "toner-low-warning")),
            JobState.STOPPED,
            False,
            "a tray is empty, toner is low",
        ),
        (job(6, why=("spilled-milk-error",)), JobState.STOPPED, False, "says “spilled-milk”"),
    ],
)
def test_how_far_a_job_is(answer, state, empty, why):
    with FakePrinter(answer) as fake:
        found = opened(fake).job(7)
        assert [one.number for one in opened(fake).find("poster 1")] == [7]
        assert opened(fake).find("poster 2") == []
    assert (found.number, found.name, found.state, found.empty) == (7, "poster 1", state, empty)
    assert why is None or why in found.why
    assert bool(found.why) == (why != "")


def test_a_job_that_says_nothing_of_itself():
    with FakePrinter(says(reply(0, (2, {"job-id": integer(7)})))) as fake:
        assert "what its job 7 does" in str(trouble_of(lambda: opened(fake).job(7)))


@pytest.mark.parametrize("code", [Status.NOT_FOUND, Status.GONE])
def test_a_job_that_is_not_known(code):
    with FakePrinter(says(reply(code))) as fake:
        assert opened(fake).job(7) is None
        opened(fake).cancel(7)


def test_a_job_that_has_ended_is_canceled_by_nobody():
    with FakePrinter(says(reply(Status.NOT_POSSIBLE))) as fake:
        opened(fake).cancel(7)


# --- TLS -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def certificates(tmp_path_factory):
    """Two certificates that nobody vouches for, each as (certificate, key)."""
    tool = shutil.which("openssl")
    if tool is None:
        pytest.skip("openssl is not installed")
    folder = tmp_path_factory.mktemp("certificates")
    made = []
    for name in ("first", "second"):
        pair = (str(folder / f"{name}.pem"), str(folder / f"{name}.key"))
        command = [tool, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
        command += ["-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1"]
        subprocess.run(
            [*command, "-out", pair[0], "-keyout", pair[1]],
            check=True,
            timeout=60,
            capture_output=True,
        )
        made.append(pair)
    return made


def sha256_by_openssl(certificate):
    command = ["openssl", "x509", "-noout", "-fingerprint", "-sha256", "-in", certificate]
    told = subprocess.run(command, check=True, timeout=60, capture_output=True, text=True).stdout
    return told.partition("=")[2].strip().replace(":", "").lower()


def test_a_certificate_that_is_written_down(certificates):
    known = sha256_by_openssl(certificates[0][0])
    with FakePrinter(says(reply(0, (4, film_printer()))), certificate=certificates[0]) as fake:
        assert opened(fake, known).capabilities().name == "Acme Film 3"


def test_a_certificate_that_nobody_vouches_for(certificates):
    with FakePrinter(says(reply()), certificate=certificates[0]) as fake:
        found = trouble_of(opened(fake).capabilities)
    assert "No authority vouches for the certificate of 127.0.0.1" in str(found)
    assert str(found).endswith(f"certificate: {sha256_by_openssl(certificates[0][0])}")
    assert fake.requests == []
    assert (found.kind, found.nothing_sent) == (TroubleKind.WRONG, True)


def test_a_certificate_that_has_changed(certificates):
    known, new = (sha256_by_openssl(one) for one, _ in certificates)
    with FakePrinter(says(reply()), certificate=certificates[1]) as fake:
        found = trouble_of(lambda: send(opened(fake, known)))
    assert "is not the one in the profile" in str(found)
    assert str(found).endswith(f"certificate: {new}")
    assert (fake.requests, found.nothing_sent) == ([], True)


def test_a_certificate_that_an_authority_vouches_for(certificates, monkeypatch):
    def trusting(*, pinned):
        context = ssl.create_default_context(cafile=certificates[0][0])
        assert not pinned
        return context

    monkeypatch.setattr(connection_module, "tls_context", trusting)
    with FakePrinter(says(reply(0, (4, film_printer()))), certificate=certificates[0]) as fake:
        assert opened(fake).capabilities().accepting


def test_tls_where_there_is_none(certificates):
    with FakePrinter(says(reply())) as fake:
        uri = fake.uri.replace("ipp:", "ipps:")
        found = trouble_of(IppPrinter(uri, "0" * 64).capabilities)
    assert "does not speak TLS" in str(found)
    assert "write ipp:// in place of ipps://" in str(found)


def test_no_tls_where_there_is_some(certificates):
    with FakePrinter(says(reply()), certificate=certificates[0]) as fake:
        found = trouble_of(IppPrinter(fake.uri.replace("ipps:", "ipp:")).capabilities)
    assert "ipps://" in str(found)


def test_what_a_printer_tells_of_itself_may_be_nonsense():
    odd = {
        "printer-state": keywords("idle"),
        "printer-state-reasons": integer(4),
        "printer-is-accepting-jobs": integer(0),
        "media-col-database": integer(1) + keywords("x"),
        "media-col-ready": boolean(True),
        "copies-supported": keywords("many"),
        "printer-resolution-supported": integer(600),
        "operations-supported": keywords("all"),
        "printer-make-and-model": integer(3),
        "media-supported": keywords("custom_min_0x0mm", "iso_a4_210x", "na_x_1x1in", "\x00"),
        "marker-levels": integer(-3) + integer(140),
        "marker-names": keywords("black", "cyan"),
    }
    with FakePrinter(says(reply(0, (4, odd)))) as fake:
        can = opened(fake).capabilities()
    assert (can.name, can.resolutions, can.copies, can.ready) == ("The printer", (), None, None)
    assert [one.percent for one in can.supplies] == [None, None]
    assert [one.width for one in can.media] == [(2540, 2540)]
