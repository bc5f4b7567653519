"""A press curve as it is written: pairs of film tone and print tone."""

from __future__ import annotations

import hashlib
import itertools
import math
import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple, Protocol

from filmhand.profile.read.curve_head import curve_head
from filmhand.profile.read.icc_head import LARGEST_ICC, icc_fault, icc_reference
from filmhand.profile.read.read_words import CurveCount, CurveFault, IccFault
from filmhand.profile.terms import GainCurve

FEWEST_POINTS = 3
LARGEST_CURVE = 64 * 1024
"""Bytes of the largest curve file."""
MEASURED = "measured"
"""What stands in ``tone.gain`` for the newest reading of the profile's own wedge."""
ICC_ENDINGS = (".icc", ".icm")
"""How the names of ICC profiles end, which lie beside a profile as curve files do."""
CURVES = "curves"
"""The folder of the readings, in the profile's."""
_DECIMAL_COMMA = re.compile(r"\d{1,3}(?:,\d+)?%?", re.ASCII)
_MOST_TRIED = 50  # of the newest readings, where those before could not be used
_OF_A_READING = re.compile(r"\d{4}-\d{2}-\d{2}[-T0-9A-Za-z]{0,60}\.txt")


class CurveText(NamedTuple):
    """A curve file: its name, as messages and records tell it, and what stands in it.

    ``passed_over`` are sentences on newer readings that could not be used; ``unsure`` is whether
    the disk or the share was at fault, which may pass.
    """

    name: str
    text: str
    passed_over: tuple[str, ...] = ()
    unsure: bool = False


ReadCurve = Callable[[str], CurveText | None]
"""Gives a curve file by its name; raises CurveError where it cannot.

None only for :data:`MEASURED`, where nothing was read yet.
"""


class ReadMeasured(Protocol):
    """Gives the newest reading of a profile."""

    def __call__(self, name: str, folder: Path | None, /, *ink: str) -> CurveText | None:
        """Of the profile's name and its ``folder:``, and perhaps of one of its inks.

        None where nothing was read yet.
        """


class CurveError(ValueError):
    """A whole predicate, such as "has a curve that falls from 44 to 40"."""


def curve_from_points(points: Sequence[tuple[float, float]], *, name: str = "inline") -> GainCurve:
    """A curve whose film tones rise strictly and whose print tones never fall, pinned at both ends.

    Bare film prints nothing and solid film prints solid, whatever the press does between, so
    (0, 0) and (100, 100) are added where they are not given.

    Raises
    ------
    CurveError
        Naming the points that do not fit.

    >>> curve_from_points([(6, 2), (22, 22), (63, 76)]).points[-1]
    (100.0, 100.0)
    """
    pairs = [(float(film), float(printed)) for film, printed in points]
    if len(pairs) < FEWEST_POINTS:
        raise CurveError(CurveCount.FEW_POINTS.say(len(pairs), needed=FEWEST_POINTS))
    for film, printed in pairs:
        if not (0 <= film <= 100 and 0 <= printed <= 100):
            raise CurveError(CurveFault.NO_PERCENT.say(film=f"{film:g}", printed=f"{printed:g}"))
        if (film == 0 and printed != 0) or (film == 100 and printed != 100):
            raise CurveError(CurveFault.NO_END.say(film=f"{film:g}", printed=f"{printed:g}"))
    if pairs[0][0] > 0:
        pairs.insert(0, (0.0, 0.0))
    if pairs[-1][0] < 100:
        pairs.append((100.0, 100.0))
    for (film, printed), (next_film, next_printed) in itertools.pairwise(pairs):
        if next_film <= film:
            raise CurveError(CurveFault.NO_RISE.say(next_film=f"{next_film:g}", film=f"{film:g}"))
        if next_printed < printed:
            raise CurveError(
                CurveFault.FALLS.say(
                    printed=f"{printed:g}",
                    film=f"{film:g}",
                    next_printed=f"{next_printed:g}",
                    next_film=f"{next_film:g}",
                )
            )
    return GainCurve(tuple(pairs), name)


def curve_from_text(text: str, *, name: str) -> GainCurve:
    """A curve from a file: film % and print % on a line, by comma or white space, # for comments.

    Raises
    ------
    CurveError
        Naming the curve file and the line.
    """
    points = []
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        content = line.partition("#")[0].strip()
        if not content:
            continue
        fields = _fields(content)
        try:
            film, printed = (float(field.removesuffix("%")) for field in fields)
        except ValueError:
            raise CurveError(
                CurveFault.NO_PAIR.say(name=name, line=number, found=repr(content[:40]))
            ) from None
        if not (math.isfinite(film) and math.isfinite(printed)):
            raise CurveError(CurveFault.NO_NUMBER.say(name=name, line=number))
        points.append((film, printed))
    try:
        curve = curve_from_points(points, name=name)
    except CurveError as fault:
        raise CurveError(CurveFault.IN_FILE.say(name=name, fault=fault)) from None
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return replace(curve, sha256=digest, head=curve_head(text))


def _fields(content: str) -> list[str]:
    """The numbers of a line, by commas, semicolons or white space.

    Two numbers that a semicolon or white space parts may have commas for their decimals, as
    spreadsheets write them in many countries.

    >>> _fields("12,5; 14,25"), _fields("12.5, 14"), _fields("12,14")
    (['12.5', '14.25'], ['12.5', '14'], ['12', '14'])
    """
    parts = [part for part in re.split(r"[;\s]+", content) if part]
    if len(parts) == 2 and all(_DECIMAL_COMMA.fullmatch(part) for part in parts):
        return [part.replace(",", ".") for part in parts]
    return [field for field in re.split(r"[,;\s]+", content) if field]


def curve_reader(
    folder: Path | None, measured: Callable[[], CurveText | None] | None = None
) -> ReadCurve:
    """Reads curve files relative to a folder; without one every name is refused.

    Of an ICC profile it gives what :func:`~filmhand.profile.read.icc_head.icc_reference` keeps.
    ``measured`` gives the newest reading of the profile; without it nothing was read yet.
    """

    def read(name: str) -> CurveText | None:
        if name == MEASURED:
            return None if measured is None else measured()
        if folder is None:
            raise CurveError(CurveFault.NOT_FROM_HERE.say(name=name))
        path = folder / name
        is_icc = name.lower().endswith(ICC_ENDINGS)
        try:
            if not path.is_file():
                row = IccFault.NOT_BESIDE if is_icc else CurveFault.NOT_BESIDE
                raise CurveError(row.say(name=name))
            with path.open("rb") as file:
                raw = file.read((LARGEST_ICC if is_icc else LARGEST_CURVE) + 1)
        except (OSError, ValueError) as error:
            if isinstance(error, CurveError):
                raise
            why = getattr(error, "strerror", None)
            if not why:
                raise CurveError(CurveFault.NO_FILE_NAME.say(name=name)) from None
            raise CurveError(CurveFault.CANNOT_READ.say(name=name, why=why)) from None
        if not is_icc:
            return CurveText(name, curve_text(raw, name=name))
        fault = icc_fault(raw)
        if fault is not None:
            raise CurveError(IccFault.IN_FILE.say(name=name, fault=fault))
        return CurveText(name, icc_reference(path, raw))

    return read


def curve_text(raw: bytes, *, name: str) -> str:
    """The text of a curve file; CurveError for one that is too long or no text."""
    if len(raw) > LARGEST_CURVE:
        raise CurveError(CurveFault.TOO_LONG.say(name=name))
    try:
        # Some plain editors write UTF-16, and say so with a mark at the start.
        return raw.decode("utf-16" if raw.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8")
    except UnicodeDecodeError:
        raise CurveError(CurveFault.NOT_UTF8.say(name=name)) from None


def is_of_reading(name: str) -> bool:
    """Whether a file in the folder of readings is a curve that was read, by its name."""
    return _OF_A_READING.fullmatch(name) is not None


def newest_usable(
    names: Sequence[str],
    read: Callable[[str], bytes],
    *,
    ink: str = "",
    before: CurveText | None = None,
) -> CurveText | None:
    """The newest of a folder's readings that is a curve; None where there are none at all.

    One that somebody spoiled does not stand in the way of those before it, and is told of. One
    that was read before and cannot be now stays as it was, which is told, too.

    Parameters
    ----------
    read : gives a file's bytes, no more than one over :data:`LARGEST_CURVE`
    ink : the sub-folder that they lie in, of an ink of its own
    before : what was found the last time

    Raises
    ------
    CurveError
        of the newest, where none can be used
    """
    faults: list[CurveError] = []
    unsure = False
    for name in sorted(filter(is_of_reading, names), reverse=True)[:_MOST_TRIED]:
        shown = "/".join(filter(None, (CURVES, ink, name)))
        try:
            text = curve_text(read(name), name=shown)
            curve_from_text(text, name=shown)
        except CurveError as fault:
            faults.append(fault)
        except FileNotFoundError:
            continue  # taken away meanwhile
        except ValueError:
            faults.append(CurveError(CurveFault.TOO_LONG.say(name=shown)))
        except OSError as error:
            why = error.strerror or error
            unread, unsure = CurveError(CurveFault.CANNOT_READ.say(name=shown, why=why)), True
            if before is not None and before.name == shown:
                passed = [CurveFault.PASSED_OVER.say(fault=one, name=shown) for one in faults]
                stays = CurveFault.STAYS_MEANWHILE.say(fault=unread)
                return CurveText(shown, before.text, (*passed, stays), unsure)
            faults.append(unread)
        else:
            passed = [CurveFault.PASSED_OVER.say(fault=one, name=shown) for one in faults]
            return CurveText(shown, text, tuple(passed), unsure)
    if faults:
        raise faults[0]
    return None


def curves_beside(profile: Path, name: str, elsewhere: Path | None, /, *ink: str) -> Path:
    """Where the readings of a profile file lie in its station, or those of one of its inks.

    The station is the folder that holds the profile's, where that is called ``profiles``; else the
    profile's own. ``elsewhere`` is the profile's ``folder:``.
    """
    folder = profile.absolute().parent
    station = folder.parent if folder.name == "profiles" else folder
    return ((elsewhere or station / name) / CURVES).joinpath(*ink)


def measured_beside(profile: Path) -> ReadMeasured:
    """Reads the newest reading of a profile file as it lies in its station."""

    def read(name: str, elsewhere: Path | None, /, *ink: str) -> CurveText | None:
        curves = curves_beside(profile, name, elsewhere, *ink)

        def bytes_of(one: str) -> bytes:
            if not (curves / one).is_file():  # a pipe would keep us waiting
                raise CurveError(CurveFault.NOT_THERE.say(name="/".join((CURVES, *ink, one))))
            with (curves / one).open("rb") as stream:
                return stream.read(LARGEST_CURVE + 1)

        try:
            names = [path.name for path in curves.iterdir()]
            return newest_usable(names, bytes_of, ink="".join(ink))
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            why = error.strerror or error
            raise CurveError(CurveFault.CANNOT_READ.say(name=curves, why=why)) from None

    return read


def print_of_half(curve: GainCurve) -> float:
    """The tone that a film tone of 50 % prints, in percent, between the nearest two pairs.

    >>> print_of_half(GainCurve(((0, 0), (40, 50), (60, 80), (100, 100))))
    65.0
    """
    above = bisect_left(curve.points, 50.0, key=lambda pair: pair[0])
    (left, low), (right, high) = curve.points[above - 1], curve.points[above]
    return low + (high - low) * (50.0 - left) / (right - left)


def _is_own(name: str) -> bool:
    """Whether a file is of the profile's own press, and no ICC profile or reading of an ink."""
    return not name.lower().endswith(ICC_ENDINGS) and name.count("/") < 2


def curve_of_ink(curves: Iterable[tuple[str, str]], ink: str) -> GainCurve | None:
    """The reading of an ink among the texts of a profile, by what its folder is called."""
    above = f"{CURVES}/{ink}/".casefold()
    for name, text in curves:
        if name.casefold().startswith(above):
            return curve_from_text(text, name=name)
    return None


def curves_in(curves: Mapping[str, str]) -> ReadCurve:
    """Reads curve files from texts that are at hand, by name.

    A profile that says :data:`MEASURED` uses one curve at most beside those of its inks, and that
    is the reading.
    """

    def read(name: str) -> CurveText | None:
        if name == MEASURED:
            texts = (CurveText(*pair) for pair in curves.items())
            return next((one for one in texts if _is_own(one.name)), None)
        if name not in curves:
            raise CurveError(CurveFault.NOT_THERE.say(name=name))
        return CurveText(name, curves[name])

    return read
