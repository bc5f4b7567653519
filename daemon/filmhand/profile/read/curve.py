"""A press curve as it is written: pairs of film tone and print tone."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from filmhand.profile.read.read_words import CurveCount, CurveFault
from filmhand.profile.terms import GainCurve

FEWEST_POINTS = 3
ReadCurve = Callable[[str], str]
"""Gives the text of a curve file by its name; raises CurveError where it cannot."""


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
        fields = [field for field in re.split(r"[,;\s]+", content) if field]
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
        return curve_from_points(points, name=name)
    except CurveError as fault:
        raise CurveError(CurveFault.IN_FILE.say(name=name, fault=fault)) from None


def curve_reader(folder: Path | None) -> ReadCurve:
    """Reads curve files relative to a folder; without one every name is refused."""

    def read(name: str) -> str:
        if folder is None:
            raise CurveError(CurveFault.NOT_FROM_HERE.say(name=name))
        path = folder / name
        try:
            if not path.is_file():
                raise CurveError(CurveFault.NOT_BESIDE.say(name=name))
            raw = path.read_bytes()[: 64 * 1024 + 1]
        except (OSError, ValueError) as error:
            if isinstance(error, CurveError):
                raise
            why = getattr(error, "strerror", None)
            if not why:
                raise CurveError(CurveFault.NO_FILE_NAME.say(name=name)) from None
            raise CurveError(CurveFault.CANNOT_READ.say(name=name, why=why)) from None
        if len(raw) > 64 * 1024:
            raise CurveError(CurveFault.TOO_LONG.say(name=name))
        try:
            return raw.decode("utf-8")
        except UnicodeDecodeError:
            raise CurveError(CurveFault.NOT_UTF8.say(name=name)) from None

    return read


def curves_in(curves: Mapping[str, str]) -> ReadCurve:
    """Reads curve files from texts that are at hand, by name."""

    def read(name: str) -> str:
        if name not in curves:
            raise CurveError(CurveFault.NOT_THERE.say(name=name))
        return curves[name]

    return read
