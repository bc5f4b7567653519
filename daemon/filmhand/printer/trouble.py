"""What can be in the way between a film and a printer, as one sentence and of which kind."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from filmhand.errors import ExitCode, FilmhandError
from filmhand.language import Sentence


class TroubleKind(StrEnum):
    """What a trouble means for the films that wait.

    The first four pass by themselves, or when somebody goes to the printer; the next two are of
    films of this kind; one is of a single film; the last needs who looks after the service.
    """

    AWAY = "away"  # off, asleep, not on the network
    BUSY = "busy"  # with other jobs
    STOPPED = "stopped"  # paused, or takes no jobs
    OTHER_SHEET = "other-sheet"  # another sheet lies in the tray
    UNABLE = "unable"  # it cannot print this film at all: size, resolution, one bit, media
    REFUSED = "refused"  # it said no to what we asked
    SPOILED = "spoiled"  # what was kept of this very film is not what was written
    WRONG = "wrong"  # address, certificate, password, or it answers no sense


WAITS_FOR_PRINTER = frozenset({TroubleKind.AWAY, TroubleKind.BUSY, TroubleKind.STOPPED})
OF_THE_FILM = frozenset(
    {TroubleKind.OTHER_SHEET, TroubleKind.UNABLE, TroubleKind.REFUSED, TroubleKind.SPOILED}
)


class PrinterTrouble(FilmhandError):
    """A printer cannot be worked with, or cannot print this film.

    Attributes
    ----------
    kind : TroubleKind
    nothing_sent : bool
        True where it is certain that no document, nor a part of one, will be printed of it.
    """

    exit_code = ExitCode.TRY_LATER

    def __init__(self, say: str, kind: TroubleKind, *, nothing_sent: bool = False) -> None:
        super().__init__(say)
        self.say, self.kind, self.nothing_sent = say, kind, nothing_sent


class TroubleSentence(Sentence):
    """Rows of a sentence each on what is in the way, and of which kind that is."""

    kind: TroubleKind

    def __new__(cls, text: str, kind: TroubleKind) -> Self:
        """A row of its text and its kind."""
        row = str.__new__(cls, text)
        row._value_ = text
        row.kind = kind
        return row

    def trouble(self, *, nothing_sent: bool = False, **parts: object) -> PrinterTrouble:
        """The trouble in the language in force; see :class:`PrinterTrouble`."""
        return PrinterTrouble(self.say(**parts), self.kind, nothing_sent=nothing_sent)

    def before_sending(self, **parts: object) -> PrinterTrouble:
        """The trouble where it is met before anything is sent."""
        return self.trouble(nothing_sent=True, **parts)


class UnknownCertificate(PrinterTrouble):
    """Nobody vouches for a printer's certificate, or it is another than was written down.

    `fingerprint` is the SHA-256 of the one that it shows now.
    """

    def __init__(self, say: str, fingerprint: str) -> None:
        super().__init__(say, TroubleKind.WRONG, nothing_sent=True)
        self.fingerprint = fingerprint
