"""What a job's process answers where a scan is to be read and nothing kept, and how it is read.

Figures go over in full, so that what is made of them is the same as if they had never left.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from filmhand.pipeline.readings.earlier_readings import held_from_json, named_from_json
from filmhand.pipeline.readings.read_scan import read_exposure_scan, read_scan
from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink
from filmhand.profile.model import Profile
from filmhand.reading.read_exposure import StepReading
from filmhand.reading.reading import ReadOf, WedgeReading, reading_as_json
from filmhand.request import JobRequest
from filmhand.sheet.exposure_layout import LAST_STEP


def answer_of_wedge(request: JobRequest, asked: dict[str, Any]) -> dict[str, Any]:
    """What a scan of a wedge says, for :func:`reading_of_answer`; raises as ``read_scan``.

    Parameters
    ----------
    asked : ``of``, ``lit_through`` and ``ink``, of which the last may be None
    """
    profile = _asked_press(request, asked)
    reading = read_scan(
        request.art,
        profile=profile,
        of=ReadOf(asked["of"]),
        lit_through=asked["lit_through"],
        name=request.name,
    )
    return reading_as_json(reading, in_full=True) | {"scans": [request.name]}


def _asked_press(request: JobRequest, asked: dict[str, Any]) -> Profile:
    """The profile, or that of the ink that is asked for."""
    ink = asked["ink"]
    return request.profile if ink is None else profile_of_ink(request.profile, str(ink))


def reading_of_answer(answer: dict[str, Any]) -> WedgeReading:
    """The reading that was answered; NoReadingError, a ValueError, for what can be none."""
    return named_from_json(answer).reading


def answer_of_exposure(request: JobRequest, asked: dict[str, Any]) -> dict[str, Any]:
    """What a scan of an exposure film's print says; raises as ``read_exposure_scan``.

    ``asked`` has an ``ink``, which may be None.
    """
    profile = _asked_press(request, asked)
    steps = read_exposure_scan(request.art, profile=profile, name=request.name)
    return {"steps": [{"number": one.number, "held": asdict(one.held)} for one in steps]}


def steps_of_answer(answer: dict[str, Any]) -> tuple[StepReading, ...]:
    """The steps that were answered; ValueError and the like for what can be none."""
    steps = [
        StepReading(int(one["number"]), held_from_json(one["held"])) for one in answer["steps"]
    ]
    numbers = [one.number for one in steps]
    if not numbers or numbers != sorted(set(numbers) & set(range(1, LAST_STEP + 1))):
        raise ValueError("no steps of an exposure film")
    return tuple(steps)
