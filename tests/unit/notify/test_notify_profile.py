"""The profile's key `notify`: what it takes, and that no message ever shows what stands there."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from filmhand.errors import ProfileError
from filmhand.notify.secret import NotifyTrouble, secret_of
from filmhand.profile.notifying import MailServer, NewsKind, SecretSource
from filmhand.profile.read.load import from_snapshot, read_profile, to_snapshot

BASE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
WHOLE = """notify:
  mail: [films@example.org, ito@example.org]
  server: smtp://films@mail.example.org:2587
  sender: filmhand@example.org
  password: ${FILMHAND_MAIL_PASSWORD}
  hook: /etc/filmhand/hook
  service: ${FILMHAND_SERVICE}
  about: [refused, printer]
"""


def read(text: str):
    return read_profile(BASE + text, name="small", file="small.yaml").notify


def test_it_is_off_by_default() -> None:
    assert read("") is None and read("notify: off\n") is None


def test_every_key_is_read() -> None:
    wishes = read(WHOLE)
    assert wishes.mail == ("films@example.org", "ito@example.org")
    assert wishes.server == MailServer("mail.example.org", 2587, "films", tls=False)
    assert wishes.password == SecretSource(variable="FILMHAND_MAIL_PASSWORD")
    assert wishes.hook == SecretSource(file=Path("/etc/filmhand/hook"))
    assert wishes.service == (SecretSource(variable="FILMHAND_SERVICE"),)
    assert wishes.about == (NewsKind.REFUSED, NewsKind.PRINTER)
    assert read("notify: {hook: 'https://hooks.example.org/films'}\n").about == tuple(NewsKind)


@pytest.mark.parametrize(
    ("server", "port", "tls"),
    [("smtps://h", 465, True), ("smtp://h", 587, False), ("smtp://localhost:25", 25, False),
     ("smtps://[::1]:99", 99, True)],
)  # fmt: skip
def test_ports_are_those_of_mail_that_is_handed_in(server: str, port: int, tls: bool) -> None:
    found = read(f"notify: {{mail: a@example.org, server: '{server}'}}\n").server
    assert (found.port, found.tls) == (port, tls)


@pytest.mark.parametrize(
    "notify",
    [
        "hunter2", "{password: hunter2}", "{mail: a@b.org, password: hunter2}",
        "{mail: hunter2}", "{mail: [hunter2]}", "{mail: a@b.org, server: 'smtp://u:hunter2@h'}",
        "{mail: a@b.org}", "{mail: a@b.org, server: 'smtp://u@h'}",
        "{mail: a@b.org, server: 'smtp://h', password: '${X}'}",
        "{hook: 'https://u:hunter2@h/x'}", "{hook: 'https://h/x?key=hunter2'}",
        "{hook: 'https://h/hunter2hunter2hunter2'}", "{hook: 'ftp://h/hunter2'}",
        "{service: 'tgram://hunter2/x'}", "{service: ['tgram://hunter2/x']}",
        "{hook: '${X}', about: [hunter2]}", "{server: 'smtp://h'}", "{about: [refused]}", "{}",
        "{mail: \"a@b.org\\nBcc: hunter2\", server: 'smtp://h'}", "[hunter2]", "{hook: hunter2}",
        "{mail: a@b.org, server: 'smtp://h:99999'}", "{hook: '${X}', password: {hunter2: 1}}",
    ],
)  # fmt: skip
def test_what_is_not_right_is_told_without_showing_it(notify: str) -> None:
    with pytest.raises(ProfileError) as caught:
        read(f"notify: {notify}\n")
    lines = caught.value.faulty.lines()
    assert all("notify" in line for line in lines)
    assert "hunter2" not in " ".join(lines)


def test_a_misspelt_key_is_told_with_the_nearest() -> None:
    with pytest.raises(ProfileError) as caught:
        read("notify: {hok: '${X}'}\n")
    assert "notify.hok is not a known key; did you mean notify.hook?" in str(caught.value)


def test_a_snapshot_names_where_secrets_are_and_holds_none(monkeypatch) -> None:
    monkeypatch.setenv("FILMHAND_MAIL_PASSWORD", "hunter2")
    monkeypatch.setenv("FILMHAND_SERVICE", "tgram://hunter2/x")
    profile = read_profile(BASE + WHOLE, name="small", file="small.yaml")
    snapshot = json.dumps(to_snapshot(profile))
    assert "hunter2" not in snapshot + repr(profile)
    assert from_snapshot(json.loads(snapshot)) == profile


def test_a_secret_is_read_from_the_environment() -> None:
    assert secret_of(SecretSource(variable="X"), {"X": " hunter2 "}) == "hunter2"
    with pytest.raises(NotifyTrouble, match="variable X is not set"):
        secret_of(SecretSource(variable="X"), {"X": " "})


def test_a_secret_file_must_be_its_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    path.write_text("hunter2\n")
    for mode in (0o600, 0o400):
        path.chmod(mode)
        assert secret_of(SecretSource(file=path)) == "hunter2"
    for mode in (0o640, 0o604, 0o620, 0o666):
        path.chmod(mode)
        with pytest.raises(NotifyTrouble, match=r"others may read .*chmod 600") as caught:
            secret_of(SecretSource(file=path))
        assert "hunter2" not in str(caught.value)


@pytest.mark.parametrize("what", ["missing", "folder", "pipe", "empty", "two lines", "long"])
def test_what_is_no_secret_file_is_told(tmp_path: Path, what: str) -> None:
    path = tmp_path / "secret"
    match what:
        case "folder":
            path.mkdir(mode=0o700)
        case "pipe":
            os.mkfifo(path, 0o600)
        case "missing":
            pass
        case _:
            path.write_text({"empty": "", "two lines": "a\nb", "long": "x" * 5000}[what])
            path.chmod(0o600)
    with pytest.raises(NotifyTrouble, match="secret"):
        secret_of(SecretSource(file=path))
