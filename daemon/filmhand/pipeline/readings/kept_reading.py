"""What is kept of a wedge that was read: its figures, its press curve and a plot of both."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from filmhand.errors import Refused
from filmhand.language import and_list
from filmhand.page.curve_plot import PlottedCurve, plot_curves
from filmhand.pipeline.readings.earlier_readings import (
    OWN,
    NamedReading,
    NoReadingError,
    agreeing,
    alone_note,
    blend_note,
    named_reading,
    of_same_wedge,
    own_as_json,
)
from filmhand.pipeline.readings.measured_press import resolution_text, screen_text
from filmhand.pipeline.readings.read_scan import read_scan
from filmhand.pipeline.readings.reading_words import ReadingsWord
from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink
from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Profile
from filmhand.profile.scan_place import scan_place
from filmhand.profile.terms import CurveHead, HeldSizes
from filmhand.reading.curve_file import curve_file
from filmhand.reading.curve_words import CurveWord
from filmhand.reading.fitted_curve import FittedCurve, fit_curve
from filmhand.reading.reading import ReadOf, WedgeReading, reading_as_json
from filmhand.reading.several import as_one
from filmhand.request import JobRequest, JobResult
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class KeptReading:
    """A reading of one wedge, from one scan or several.

    Attributes
    ----------
    reading : all scans as one, with what the curve's notes say
    curve : the press curve through them; None of a film, which tells of no press
    files : what is kept, by ending
    """

    reading: WedgeReading
    curve: FittedCurve | None
    files: dict[str, bytes]


def keep_reading(request: JobRequest) -> JobResult:
    """Read one scan and leave in ``out`` what is kept of it; Refused where it is not to be trusted.

    Scans of the film itself lie in a sub-folder of their own (:func:`scan_place`).
    """
    inks = ink_folders(request.profile.inks, request.profile.underbase)
    place = scan_place(request.sub.split("/"), inks)
    of = ReadOf.FILM if place.of_film else ReadOf.PRINT
    if place.ink:
        request = replace(request, profile=profile_of_ink(request.profile, place.ink))
    reading = read_scan(request.art, profile=request.profile, of=of, name=request.name)
    kept = _with_earlier(NamedReading(request.name, reading), request)
    written = {}
    for end, data in kept.files.items():
        written[end] = request.out / f"reading{end}"
        written[end].write_bytes(data)
    return JobResult(reading=written)


def _with_earlier(own: NamedReading, request: JobRequest) -> KeptReading:
    """What is kept of a scan with those that came shortly before and show the same wedge.

    Where no curve goes through all of them, the new scan counts alone, and that is told.
    """
    profile, earlier, notes = request.profile, [], []
    for path in request.earlier:
        try:
            one = named_reading(path.read_bytes())
        except NoReadingError as fault:
            notes.append(ReadingsWord.NOT_READ.say(name=path.name, why=fault))
            continue
        if of_same_wedge(one.reading, own.reading):
            earlier.append(one)
    alone = replace(own.reading, notes=(*own.reading.notes, *notes))
    if not earlier:
        return kept_reading([alone], profile, scans=[own.scan])
    together = replace(alone, notes=(*alone.notes, blend_note(earlier)))
    try:
        return kept_reading(
            [*(one.reading for one in earlier), together],
            profile,
            scans=[*(one.scan for one in earlier), own.scan],
            own=own,
        )
    except Refused as refusal:
        note = alone_note(earlier, refusal.say)
        alone = replace(alone, notes=(*alone.notes, note))
        return kept_reading([alone], profile, scans=[own.scan], head_notes=[note])


def kept_reading(
    readings: Sequence[WedgeReading],
    profile: Profile,
    *,
    scans: Sequence[str],
    own: NamedReading | None = None,
    head_notes: Sequence[str] = (),
) -> KeptReading:
    """What is kept of readings of one wedge of the profile.

    A scan that lies far from all others is left out, and that is told.

    Parameters
    ----------
    readings : at least one, all of the print or all of the film
    scans : the names of the files that were read, one a reading
    own : the newest of them, which figures then keep by itself, too
    head_notes : those of the readings' notes that stand in the head of the curve as well

    Raises
    ------
    Refused
        where no curve goes through them
    """
    named, said = agreeing([NamedReading(*one) for one in zip(scans, readings, strict=True)])
    readings, scans = [one.reading for one in named], [one.scan for one in named]
    reading = as_one(readings)
    reading = replace(reading, notes=(*reading.notes, *said))
    date = f"{datetime.now(UTC):%Y-%m-%d}"
    told = reading_as_json(reading) | {"date": date, "scans": scans}
    if own is not None:
        told |= {OWN: own_as_json(own)}
    if reading.of is ReadOf.FILM:
        return KeptReading(reading, None, {".json": _json_bytes(told)})
    curve = fit_curve(readings)
    reading = replace(reading, notes=(*reading.notes, *curve.notes))
    told |= {"notes": list(reading.notes)}
    head = curve_head_of(profile, reading, date=date, scans=scans)
    text = curve_file(curve.points, head, [*head_notes, *said, *curve.notes])
    tones = [(tone.film_pct, tone.measured_pct, tone.error_pct) for tone in curve.tones]
    plot = plot_curves(PlottedCurve(curve.points, tones), lines=plot_lines(head, reading))
    told |= {"curve": [list(pair) for pair in curve.points], "mesh": head.mesh}
    files = {".txt": text.encode(), ".json": _json_bytes(told), ".png": plot}
    return KeptReading(reading, curve, files)


def curve_head_of(
    profile: Profile, reading: WedgeReading, *, date: str, scans: Sequence[str]
) -> CurveHead:
    """The head of a curve: what the wedge was made by, and what it was seen to hold."""
    held = reading.smallest_held
    return CurveHead(
        date=date,
        profile=profile.name,
        mesh="" if profile.mesh is None else profile.mesh.label,
        screen=screen_text(profile),
        dpi=resolution_text(profile),
        scans=and_list(list(scans)),
        held=HeldSizes(
            *(_rounded(size) for size in (held.dots, held.shadow_dots, held.lines, held.gaps))
        ),
    )


def plot_lines(head: CurveHead, reading: WedgeReading) -> list[str]:
    """What stands above the plot of a curve."""
    at_50 = f"{50 + reading.gain_at_50:.0f}"
    lines = [CurveWord.PLOT_TITLE.say(profile=head.profile, date=head.date, at_50=at_50)]
    lines.append(", ".join(part for part in (head.mesh, head.screen) if part))
    if head.held.dot is not None:
        lines.append(CurveWord.PLOT_HELD.say(dot=f"{head.held.dot:.0f}"))
    return lines


def _rounded(size: float | None) -> float | None:
    return None if size is None else round(size, 1)


def _json_bytes(told: dict[str, object]) -> bytes:
    return json.dumps(told, indent=1).encode() + b"\n"
