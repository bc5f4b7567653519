"""What can go wrong, and what each kind means for the caller.

::

    FilmhandError
    ├── Refused          this art gets no film; carries the reason a person reads
    ├── ProfileError     one or more faults in a profile file        (exit 78)
    ├── AlreadyRunning   another process owns this station           (exit 75)
    ├── EnvironmentTrouble  disk full, share gone, rights lost: nobody's art is to blame
    └── ProgramFailed    a bug of ours; its details are in a log that the sentence names
"""

from __future__ import annotations

from dataclasses import KW_ONLY, field
from enum import Enum, IntEnum
from math import ceil

from filmhand.language import Sentence, translated
from filmhand.rows import RowEnum
from filmhand.values import dataclass


class ExitCode(IntEnum):
    """Exit codes of every command."""

    DONE = 0
    REFUSED = 1
    USAGE = 2
    NOT_RUNNING = 3
    TRY_LATER = 75
    PROFILE = 78


class Reason(RowEnum):
    """Why art was refused, and when. The words are part of the refusal log and never change."""

    when: str

    NOT_ART = "not-art", "not an image that can be read"
    DAMAGED = "damaged", "an image that breaks off or contradicts itself, or an empty file"
    LOCKED = "locked", "needs a password"
    UNREADABLE = "unreadable", "could not be read for a day (rights), with whose file it is"
    DISCARDED = "discarded", "a held film that somebody gave up"
    CRASHED = "crashed", "made its worker fail three times; the log tells why"
    TOO_BIG = "too-big", "more pixels, bytes or pages than the profile allows"
    TOO_SMALL = "too-small", "fewer image pixels per inch on film than the screen can use"
    BLANK = "blank", "nothing would print, or everything would"
    DOTS_TOO_FINE = "dots-too-fine", "the mesh would not hold the smallest dots"
    HOLES_TOO_FINE = "holes-too-fine", "the same for shadow dots, the open spots in the ink"
    LINES_TOO_FINE = "lines-too-fine", "line art with strokes or gaps that the mesh would not hold"
    MOIRE = "moire", "dots and threads would show bands, and the profile refuses that"
    COLORS = "colors", "colors that no ink of the set comes near"
    BAD_TICKET = "bad-ticket", "the ticket, mask or wish in the name is wrong, or alone"
    BAD_SCAN = "bad-scan", "a scan or photograph of a wedge that is not to be trusted"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured or needed value with its unit, as the refusal log shows it."""

    value: float | str | None
    unit: str


class FilmhandError(Exception):
    """Base of everything that is not a bug."""

    exit_code: ExitCode = ExitCode.REFUSED


@dataclass(eq=False, repr=False)
class Refused(FilmhandError):
    """The art gets no film.

    Parameters
    ----------
    reason : Reason
        The stable word for the log.
    say : str
        One sentence for the person who dropped the art: what was found.
    do : str
        One sentence: what would help.
    found, needed : Quantity or None
        The measured value and the value it would take.
    """

    reason: Reason
    say: str
    do: str
    _: KW_ONLY
    found: Quantity | None = None
    needed: Quantity | None = None

    def __post_init__(self) -> None:
        super().__init__(f"{self.say} {self.do}")


class RefusalSentence(Enum):
    """Rows of a refusal each: its reason, what was found, and what would help."""

    def refused(
        self, *, found: Quantity | None = None, needed: Quantity | None = None, **parts: object
    ) -> Refused:
        """The refusal in the language in force, the parts of both sentences filled in."""
        reason, say, do = self.value
        return Refused(
            reason,
            translated(say).format(**parts),
            translated(do).format(**parts),
            found=found,
            needed=needed,
        )


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault in a YAML file: where it stands, which key, and the sentence that explains it."""

    line: int
    column: int
    key: str
    message: str


@dataclass(frozen=True, slots=True)
class FaultyFile:
    """All faults of one YAML file."""

    file: str
    faults: tuple[Fault, ...] = field(default_factory=tuple)

    def lines(self) -> list[str]:
        """One plain line a fault: ``file line 3, column 1: lpi must be …``.

        What is wrong with the whole file stands at no line, which is line 0.
        """
        return [
            CommonWord.FAULT_AT.say(
                file=self.file, line=fault.line, column=fault.column, fault=fault.message
            )
            if fault.line
            else CommonWord.FAULT_OF_FILE.say(file=self.file, fault=fault.message)
            for fault in self.faults
        ]


class ProfileError(FilmhandError):
    """A profile cannot be used; carries every fault of the file at once."""

    exit_code = ExitCode.PROFILE

    def __init__(self, faulty: FaultyFile) -> None:
        super().__init__("\n".join(faulty.lines()))
        self.faulty = faulty


class AlreadyRunning(FilmhandError):
    """Another process already works on this station."""

    exit_code = ExitCode.TRY_LATER


class ProgramFailed(FilmhandError):
    """A bug: the program itself failed, and what it worked on is not to blame."""

    def __init__(self, over: str, how: str, details: str) -> None:
        super().__init__(CommonWord.FAILED_ITSELF.say(over=over, how=how, details=details))


class EnvironmentTrouble(FilmhandError):
    """The disk, the share or the rights failed; the art is not to blame and waits."""

    exit_code = ExitCode.TRY_LATER


# --- sentences that several rooms say ------------------------------------------------------------


class CommonWord(Sentence):
    """What several rooms say."""

    FAULT_OF_FILE = "{file}: {fault}"
    FAULT_AT = "{file} line {line}, column {column}: {fault}"
    FAILED_ITSELF = "Filmhand itself failed over {over} ({how}), which is not to blame. {details}"
    MORE = "more"  # than is allowed, nobody knows how much
    NO_SPACE = "There is no space left; make room and filmhand goes on by itself."
    NO_SPACE_AT = "There is no space left ({where}); make room and filmhand goes on by itself."


_TIME_TO_SPARE = 3  # of what is needed at the least, so that what is advised is enough


class TooMuch(RefusalSentence):
    """The refusals of art that is larger than its profile allows."""

    MORE_MEMORY = (
        Reason.TOO_BIG,
        "{what} needs more memory than the {allowed} GiB of the profile.",
        "Save it with fewer pixels, or raise limits.memory in the profile.",
    )
    MEMORY = (
        Reason.TOO_BIG,
        "{what} has {megapixels} megapixels and needs about {memory} GiB of memory; the profile "
        "allows {allowed} GiB.",
        "Save it with at most {most} megapixels, or raise limits.memory in the profile to {memory} "
        "GiB.",
    )
    MEMORY_FOR_NO_PIXELS = (
        Reason.TOO_BIG,
        "{what} has {megapixels} megapixels and needs about {memory} GiB of memory; the profile "
        "allows {allowed} GiB.",
        "Save it with fewer pixels, or raise limits.memory in the profile to {memory} GiB.",
    )
    MEGABYTES = (
        Reason.TOO_BIG,
        "{what} has {megabytes} megabytes; this profile takes at most {allowed}.",
        "Save it with fewer pixels or stronger compression, or raise limits.megabytes in the "
        "profile to {enough}.",
    )
    TIME = (
        Reason.TOO_BIG,
        "{what} comes to {megapixels} megapixels of film, which take at least {least} seconds on "
        "this computer; the profile allows a job {allowed} seconds.",
        "Ask for a smaller size or fewer pages, use a profile with a lower dpi, or raise "
        "limits.seconds in the profile to {enough}.",
    )
    TIME_RAN_OUT = (
        Reason.TOO_BIG,
        "{what} was not finished in the {allowed} seconds that the profile allows a job.",
        "Ask for a smaller size or fewer pages, use a profile with a lower dpi, or raise "
        "limits.seconds in the profile.",
    )
    LARGE_FILE = (
        Reason.TOO_BIG,
        "The film of {what} takes a file of {size} GiB; no job may write one of more than "
        "{allowed} GiB.",
        "Choose a smaller sheet, or a profile with a lower dpi.",
    )
    LARGER_FILE = (
        Reason.TOO_BIG,
        "{what} takes a file of more than {allowed} GiB, which no job may write.",
        "Choose a smaller sheet or size, or a profile with a lower dpi.",
    )


def needs_too_much_memory(
    what: str, allowed: int, *, pixels: int = 0, needed: int = 0, fitting: int = 0
) -> Refused:
    """The refusal of art that needs more memory than its profile allows.

    Parameters
    ----------
    what : the art, as it is called
    allowed : bytes that the profile allows
    pixels, needed : how many it has, and about how many bytes that takes; 0 where nobody knows
    fitting : how many pixels would fit
    """
    told = {"what": what, "allowed": f"{allowed / 2**30:.3g}"}
    most = Quantity(float(told["allowed"]), "GiB of memory")
    if not needed:
        found = Quantity(CommonWord.MORE.say(), "GiB of memory")
        return TooMuch.MORE_MEMORY.refused(found=found, needed=most, **told)
    gib, fits = ceil(needed / 2**30 * 10) / 10, int(fitting / 1e6)
    row = TooMuch.MEMORY if fits > 0 else TooMuch.MEMORY_FOR_NO_PIXELS
    return row.refused(
        found=Quantity(gib, "GiB of memory"),
        needed=most,
        megapixels=f"{pixels / 1e6:.0f}",
        memory=f"{gib:g}",
        most=fits,
        **told,
    )


def needs_too_much_time(what: str, *, pixels: int, rate: float, allowed: float) -> Refused:
    """The refusal of art that cannot be made in the time that its profile allows.

    Parameters
    ----------
    what : the art, as it is called
    pixels : device pixels of film that it comes to
    rate : how many of them this computer makes in a second, at the most
    allowed : seconds
    """
    needed = pixels / rate
    return TooMuch.TIME.refused(
        found=Quantity(ceil(needed), "seconds"),
        needed=Quantity(float(f"{allowed:g}"), "seconds"),
        what=what,
        megapixels=ceil(pixels / 1e6),
        least=ceil(needed),
        allowed=f"{allowed:g}",
        enough=ceil(_TIME_TO_SPARE * needed / 60) * 60,
    )


def took_too_much_time(what: str, allowed: float) -> Refused:
    """The refusal of art that was still being made when its seconds had run out."""
    return TooMuch.TIME_RAN_OUT.refused(
        found=Quantity(CommonWord.MORE.say(), "seconds"),
        needed=Quantity(float(f"{allowed:g}"), "seconds"),
        what=what,
        allowed=f"{allowed:g}",
    )


def needs_too_large_a_file(what: str, allowed: int, *, size: int = 0) -> Refused:
    """The refusal of art whose film takes a larger file than a job may write.

    Parameters
    ----------
    what : the art, as it is called
    allowed : bytes that a file may have
    size : how many it would have; 0 where nobody knows
    """
    most = f"{allowed / 2**30:.3g}"
    gib = ceil(size / 2**30 * 10) / 10
    row = TooMuch.LARGE_FILE if size else TooMuch.LARGER_FILE
    return row.refused(
        found=Quantity(gib if size else CommonWord.MORE.say(), "GiB in one file"),
        needed=Quantity(float(most), "GiB in one file"),
        what=what,
        size=f"{gib:g}",
        allowed=most,
    )


def has_too_many_megabytes(what: str, found: float, allowed: float) -> Refused:
    """The refusal of a file that has more megabytes than its profile allows."""
    tenths = round(found * 10)
    shown = (tenths if tenths > allowed * 10 else ceil(found * 10)) / 10
    return TooMuch.MEGABYTES.refused(
        found=Quantity(shown, "megabytes"),
        needed=Quantity(float(f"{allowed:g}"), "megabytes"),
        what=what,
        megabytes=f"{shown:.1f}",
        allowed=f"{allowed:g}",
        enough=ceil(found),
    )


def no_space_left(where: str = "") -> str:
    """What is said of a full disk or share; ``where`` is the file that had no room, if known."""
    return CommonWord.NO_SPACE_AT.say(where=where) if where else CommonWord.NO_SPACE.say()
