"""What is told of a printer that was found, and which announcements count as printers."""

from __future__ import annotations

import socket
import sys
from types import SimpleNamespace

import pytest
import yaml
from printers import film_printer

from filmhand.printer import discovery
from filmhand.printer.discovery import AnnouncedPrinter, CannotLook, find_printers
from filmhand.printer.ipp.message import IppValue, ValueTag
from filmhand.printer.ipp.words import enum_value, keywords
from filmhand.printer.print_request import PDF
from filmhand.printer.read_capabilities import read_capabilities
from filmhand.printer.suggestion import report_on
from filmhand.printer.trouble import PrinterTrouble, TroubleKind, UnknownCertificate
from filmhand.profile.printing import PrintWishes, read_print

URI = "ipps://film-printer.local/ipp/print"
PINNED = "ab" * 32


class Asked:
    """A printer that tells this of itself, or has this trouble."""

    def __init__(self, told=None, trouble=None, known=None):
        self.told, self.trouble, self.known = told, trouble, known

    def __call__(self, uri, certificate):
        self.certificate = certificate
        return self

    def capabilities(self):
        if self.known is not None and self.certificate != self.known:
            raise UnknownCertificate("Nobody vouches.", self.known)
        if self.trouble is not None:
            raise self.trouble
        return read_capabilities(self.told)


def wishes_of(report):
    return read_print(yaml.safe_load("\n".join(report.group))["print"])


def test_a_printer_for_film():
    report = report_on("Film 3", URI, Asked(film_printer()))
    assert report.says[0] == "Films go as PWG Raster of one bit, at 600 or 1200 dpi."
    assert "Loaded: 8.5 x 11 in (215.9 x 279.4 mm) of transparency in main." in report.says
    assert wishes_of(report) == PrintWishes(printer=URI, media="transparency")


def test_a_certificate_goes_into_the_lines():
    report = report_on("Film 3", URI, Asked(film_printer(), known=PINNED))
    assert "compare the SHA-256 below" in report.says[0]
    assert wishes_of(report).certificate == PINNED


def test_a_printer_that_takes_pdf_only_and_has_no_film():
    told = film_printer(
        document_format_supported=(IppValue(ValueTag.MIME_TYPE, PDF),),
        media_type_supported=keywords("stationery", "labels"),
        printer_state_reasons=keywords("toner-low-warning"),
    )
    report = report_on("Plain", URI, Asked(told))
    assert report.says[0].startswith("Films go as PDF, at 600 dpi")
    assert "Now: toner is low." in report.says
    assert "  media: auto   # or stationery, labels" in report.group
    assert wishes_of(report).media is None


@pytest.mark.parametrize(
    "changes",
    [
        {"document_format_supported": (IppValue(ValueTag.MIME_TYPE, "image/jpeg"),)},
        {"printer_type": enum_value(4)},
    ],
)
def test_a_printer_that_keeps_no_dots_gets_no_lines(changes):
    report = report_on("Photo", URI, Asked(film_printer(**changes)))
    assert "takes nothing that keeps a film's dots" in report.says[0]
    assert report.group == ()


def test_a_printer_that_does_not_answer():
    report = report_on("Gone", URI, Asked(trouble=PrinterTrouble("Off.", TroubleKind.AWAY)))
    assert (report.says, report.group) == (("Off.",), ())


# --- announcements -------------------------------------------------------------------------------


class FakeLibrary:
    """Announces what it is given: (kind, name) to (server, port, properties, addresses)."""

    def __init__(self, services):
        self.services, self.closed = services, False

    def Zeroconf(self):
        return self

    def ServiceBrowser(self, network, kinds, listener):
        for kind, name in self.services:
            listener.add_service(network, kind, f"{name}.{kind}")
            listener.update_service(network, kind, f"{name}.{kind}")
        listener.add_service(network, kinds[0], f"gone.{kinds[0]}")
        listener.remove_service(network, kinds[0], f"gone.{kinds[0]}")
        return SimpleNamespace(cancel=lambda: None)

    def get_service_info(self, kind, name, *, timeout):
        found = self.services.get((kind, name.removesuffix(f".{kind}")))
        if found is None:
            return None
        server, port, properties, addresses = found
        return SimpleNamespace(
            name=name,
            type=kind,
            server=server,
            port=port,
            properties=properties,
            parsed_addresses=lambda: addresses,
        )

    def close(self):
        self.closed = True


PLAIN, SECURE = "_ipp._tcp.local.", "_ipps._tcp.local."


def found(monkeypatch, services):
    library = FakeLibrary(services)
    monkeypatch.setitem(sys.modules, "zeroconf", library)
    printers = find_printers(0.0)
    assert library.closed
    return printers


@pytest.fixture
def port():
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


def test_what_is_announced(monkeypatch, port):
    addresses = ["::1", "127.0.0.1"]
    services = {
        (PLAIN, "Both"): ("both.invalid.", port, {b"rp": b"ipp/print"}, addresses),
        (SECURE, "Both"): ("both.invalid.", port, {b"rp": b"ipp/print"}, addresses),
        (SECURE, "Café\x07"): ("localhost.", port, {b"rp": b"/printers/film"}, addresses),
        (PLAIN, "Off"): ("off.invalid.", 631, {}, ["192.0.2.9"]),
    }
    monkeypatch.setattr(discovery, "_ANSWERS_WITHIN", 0.1)
    assert found(monkeypatch, services) == [
        AnnouncedPrinter("Both", f"ipp://127.0.0.1:{port}/ipp/print"),
        AnnouncedPrinter("Café", f"ipps://localhost:{port}/printers/film"),
        AnnouncedPrinter("Off", "ipp://192.0.2.9/ipp/print"),
    ]


@pytest.mark.parametrize(
    "service",
    [
        ("no host\n.", 631, {b"rp": b"x"}, []),
        ("film.invalid.", 0, {b"rp": b"x"}, []),
        ("film.invalid.", 631, {b"rp": b"a b\xff"}, []),
        (None, None, None, []),
    ],
)
def test_announcements_that_no_profile_could_name(monkeypatch, service):
    assert found(monkeypatch, {(PLAIN, "Odd"): service}) == []


def test_a_network_that_cannot_be_listened_to(monkeypatch):
    library = SimpleNamespace(Zeroconf=lambda: (_ for _ in ()).throw(OSError(19, "No device")))
    monkeypatch.setitem(sys.modules, "zeroconf", library)
    with pytest.raises(CannotLook, match="cannot be listened to"):
        find_printers(0.0)
