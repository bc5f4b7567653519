"""Where messages go: mail, a web hook, or a service that a library speaks with.

Each call ends or fails; it may take long, so it is made beside the service's own threads. What
fails is told without anything secret: only errors of our own wording leave this module.
"""

from __future__ import annotations

import contextlib
import http.client
import ipaddress
import json
import logging
import smtplib
import ssl
from collections.abc import Callable
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import formatdate, make_msgid
from urllib.parse import urlsplit

from filmhand.notify.message import Message
from filmhand.notify.notify_words import SendingTrouble, TargetWord
from filmhand.notify.secret import NotifyTrouble, secret_of
from filmhand.profile.notifying import MailServer, NotifyWishes, SecretSource
from filmhand.values import dataclass

_SECONDS = 20.0  # for each answer
_LARGEST_ANSWER = 1 << 16


@dataclass(frozen=True, slots=True)
class Target:
    """One way to tell: its key in the state folder, its name for people, and how it is done."""

    key: str
    shown: str
    send: Callable[[Message], None]


def targets_of(wishes: NotifyWishes) -> list[Target]:
    """Every target that a profile names."""
    found = []
    if wishes.mail:
        found.append(_mail_target(wishes))
    if wishes.hook is not None:
        hook = wishes.hook
        found.append(Target("hook", _hook_shown(hook), lambda message: _post(hook, message)))
    for number, source in enumerate(wishes.service, 1):
        found.append(
            Target(
                f"service-{number}",
                TargetWord.SERVICE.say(source=source),
                lambda message, source=source: _tell_service(source, message),  # type: ignore[misc]
            )
        )
    return found


# --- mail ----------------------------------------------------------------------------------------


def _mail_target(wishes: NotifyWishes) -> Target:
    server = wishes.server
    assert server is not None
    shown = TargetWord.MAIL.say(addresses=", ".join(wishes.mail), host=server.host)
    return Target("mail", shown, lambda message: _mail(wishes, server, message))


def _mail(wishes: NotifyWishes, server: MailServer, message: Message) -> None:
    password = None if wishes.password is None else secret_of(wishes.password)
    letter = _letter(wishes, message)
    context = ssl.create_default_context()
    try:
        with _connected(server, context) as smtp:
            if password is not None:
                assert server.user is not None
                smtp.login(server.user, password)
            smtp.send_message(letter)
    except smtplib.SMTPAuthenticationError:
        raise NotifyTrouble(SendingTrouble.WRONG_PASSWORD.say(host=server.host)) from None
    except smtplib.SMTPNotSupportedError:
        row = SendingTrouble.NO_LOGIN if server.tls else SendingTrouble.NO_STARTTLS
        raise NotifyTrouble(row.say(host=server.host)) from None
    except smtplib.SMTPRecipientsRefused:
        raise NotifyTrouble(SendingTrouble.WRONG_RECIPIENTS.say(host=server.host)) from None
    except smtplib.SMTPResponseException as error:
        say = SendingTrouble.ANSWERED.say(host=server.host, status=error.smtp_code)
        raise NotifyTrouble(say) from None
    except (smtplib.SMTPException, OSError, ValueError) as error:
        say = SendingTrouble.FAILED.say(host=server.host, why=_network_reason(error))
        raise NotifyTrouble(say) from None


def _connected(server: MailServer, context: ssl.SSLContext) -> smtplib.SMTP:
    if server.tls:
        return smtplib.SMTP_SSL(server.host, server.port, timeout=_SECONDS, context=context)
    smtp = smtplib.SMTP(server.host, server.port, timeout=_SECONDS)
    try:
        smtp.ehlo()
        # What does not leave this computer needs no cover; a server that offers it gets it.
        if smtp.has_extn("starttls") or not _is_here(server.host):
            smtp.starttls(context=context)
            smtp.ehlo()
    except BaseException:
        smtp.close()
        raise
    return smtp


def _letter(wishes: NotifyWishes, message: Message) -> EmailMessage:
    letter = EmailMessage(policy=SMTP)
    sender = wishes.sender or wishes.mail[0]
    # The library takes an encoded word (RFC 2047) for what it stands for, which may be a new line.
    letter["Subject"] = message.subject.replace("=?", "= ?")
    letter["From"] = Address("filmhand", addr_spec=sender)
    letter["To"] = [Address(addr_spec=one) for one in wishes.mail]
    letter["Date"] = formatdate(localtime=True)
    letter["Message-ID"] = make_msgid(domain=sender.rpartition("@")[2])
    letter["Auto-Submitted"] = "auto-generated"  # RFC 3834: nobody's machine is to answer
    letter.set_content(message.text)
    return letter


def _is_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


# --- web hook ------------------------------------------------------------------------------------


def _hook_shown(hook: SecretSource | str) -> str:
    if isinstance(hook, SecretSource):
        return TargetWord.HOOK_OF.say(source=hook)
    return TargetWord.HOOK.say(address=hook)


def _post(hook: SecretSource | str, message: Message) -> None:
    """Post the message as JSON. No redirect is followed: the address was given for one host."""
    address = hook if isinstance(hook, str) else secret_of(hook)
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError:
        host = None
    if host is None or parts.scheme not in ("http", "https"):
        raise NotifyTrouble(SendingTrouble.NO_ADDRESS.say(target=_hook_shown(hook)))
    body = json.dumps({**message.facts, "subject": message.subject, "text": message.text})
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    kind = http.client.HTTPSConnection if parts.scheme == "https" else http.client.HTTPConnection
    try:
        connection = kind(host, port, timeout=_SECONDS)
        try:
            head = {"Content-Type": "application/json", "User-Agent": "filmhand"}
            connection.request("POST", path, body.encode(), head)
            answer = connection.getresponse()
            answer.read(_LARGEST_ANSWER)
        finally:
            connection.close()
    except (OSError, ValueError, http.client.HTTPException) as error:
        say = SendingTrouble.FAILED.say(host=host, why=_network_reason(error))
        raise NotifyTrouble(say) from None
    if not 200 <= answer.status < 300:
        raise NotifyTrouble(SendingTrouble.ANSWERED.say(host=host, status=answer.status))


# --- the library's services ----------------------------------------------------------------------


def _tell_service(source: SecretSource, message: Message) -> None:
    try:
        import apprise  # noqa: PLC0415 - only where a profile names a service
    except ImportError:
        raise NotifyTrouble(SendingTrouble.NO_LIBRARY.say()) from None
    address = secret_of(source)
    _hush("apprise", "requests", "urllib3")
    known = sent = False
    # Whatever it raises may hold the address, so nothing of that is told.
    with contextlib.suppress(Exception):
        told = apprise.Apprise()
        known = bool(told.add(address))
        sent = known and bool(
            told.notify(body=message.text, title=message.subject, body_format="text")
        )
    if not known:
        raise NotifyTrouble(SendingTrouble.UNKNOWN_SERVICE.say(source=source))
    if not sent:
        raise NotifyTrouble(SendingTrouble.SERVICE_REFUSES.say())


def _hush(*names: str) -> None:
    """Keep a library's own log, which may tell addresses, from every stream."""
    for name in names:
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [logging.NullHandler()], False


def _network_reason(error: Exception) -> str:
    """Why a connection failed, in words that hold nothing that was sent."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return SendingTrouble.UNTRUSTED.say(why=error.verify_message)
    if isinstance(error, ssl.SSLError):
        return SendingTrouble.NO_TLS.say()
    if isinstance(error, TimeoutError):
        return SendingTrouble.SILENT.say()
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return SendingTrouble.SENSELESS.say()
