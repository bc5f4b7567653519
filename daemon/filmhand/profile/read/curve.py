"""A press curve as it is written: pairs of film tone and print tone."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

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
        raise CurveError(f"has {len(pairs)} points, and a curve needs {FEWEST_POINTS} or more")
    for film, printed in pairs:
        if not (0 <= film <= 100 and 0 <= printed <= 100):
            raise CurveError(
                f"has the point {film:g}, {printed:g}, and both must be percent from 0 to 100"
            )
        if (film == 0 and printed != 0) or (film == 100 and printed != 100):
            raise CurveError(
                f"has the point {film:g}, {printed:g}, but 0 must print 0 and 100 must print 100"
            )
    if pairs[0][0] > 0:
        pairs.insert(0, (0.0, 0.0))
    if pairs[-1][0] < 100:
        pairs.append((100.0, 100.0))
    for (film, printed), (next_film, next_printed) in itertools.pairwise(pairs):
        if next_film <= film:
            raise CurveError(
                f"has film tone {next_film:g} after {film:g}, and film tones must rise"
            )
        if next_printed < printed:
            raise CurveError(
                f"has a print that falls from {printed:g} at film tone {film:g} to "
                f"{next_printed:g} at {next_film:g}; measure these patches again"
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
                f"names the curve file {name}, whose line {number} must be film % and print %, "
                f"such as 50, 65, not {content[:40]!r}"
            ) from None
        if not (math.isfinite(film) and math.isfinite(printed)):
            raise CurveError(f"names the curve file {name}, whose line {number} is not a number")
        points.append((film, printed))
    try:
        return curve_from_points(points, name=name)
    except CurveError as fault:
        raise CurveError(f"names the curve file {name}, which {fault}") from None


def curve_reader(folder: Path | None) -> ReadCurve:
    """Reads curve files relative to a folder; without one every name is refused."""

    def read(name: str) -> str:
        if folder is None:
            raise CurveError(f"names the curve file {name}, which cannot be read from here")
        path = folder / name
        try:
            if not path.is_file():
                raise CurveError(f"names the curve file {name}, which is not beside the profile")
            raw = path.read_bytes()[: 64 * 1024 + 1]
        except (OSError, ValueError) as error:
            if isinstance(error, CurveError):
                raise
            why = getattr(error, "strerror", None) or "not a file name"
            raise CurveError(f"names the curve file {name}, which cannot be read: {why}") from None
        if len(raw) > 64 * 1024:
            raise CurveError(f"names the curve file {name}, which is over 64 KiB")
        try:
            return raw.decode("utf-8")
        except UnicodeDecodeError:
            raise CurveError(f"names the curve file {name}, which is not UTF-8 text") from None

    return read


def curves_in(curves: Mapping[str, str]) -> ReadCurve:
    """Reads curve files from texts that are at hand, by name."""

    def read(name: str) -> str:
        if name not in curves:
            raise CurveError(f"names the curve file {name}, which is not there")
        return curves[name]

    return read
