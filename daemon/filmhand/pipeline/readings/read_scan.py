"""A scan or photograph of a wedge, opened as any art is, and read."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

from filmhand.pipeline.printer_films.exposure_film import exposure_identity
from filmhand.pipeline.printer_films.wedge_film import patch_bits, wedge_identity
from filmhand.pipeline.readings.scan_colors import MOST_SCAN_PIXELS, colors_of_scan
from filmhand.profile.model import Profile
from filmhand.reading.read_exposure import StepReading, read_exposure
from filmhand.reading.read_wedge import ScannedPicture, read_wedge
from filmhand.reading.reading import ReadOf, WedgeReading
from filmhand.reading.scan_words import ScanNote


def read_scan(
    path: Path, *, profile: Profile, of: ReadOf, lit_through: bool = False, name: str = ""
) -> WedgeReading:
    """What a scan or photograph of the profile's wedge says.

    Parameters
    ----------
    path : a picture of any kind that is read as art, within the profile's limits
    of : what was scanned
    lit_through : whether the light passed through a film that was scanned
    name : what the file is called, for the sentences; its own name unless given

    Raises
    ------
    Refused
        where the file cannot be read, or what it shows is not to be trusted
    EnvironmentTrouble
        where the disk or the rights fail
    """
    colors = colors_of_scan(path, name=name or path.name, limits=profile.limits)
    scan = ScannedPicture(colors.codes, colors.ppi, of, lit_through)
    reading = read_wedge(scan, wedge_identity(profile), partial(patch_bits, profile))
    if colors.shrunk == 1:
        return reading
    note = ScanNote.SHRUNK.say(shrunk=colors.shrunk, most=MOST_SCAN_PIXELS // 1_000_000)
    return replace(reading, notes=(*reading.notes, note))


def read_exposure_scan(path: Path, *, profile: Profile, name: str = "") -> tuple[StepReading, ...]:
    """What a scan or photograph says of a print from the profile's exposure film, step by step.

    Raises
    ------
    Refused, EnvironmentTrouble
        as :func:`read_scan`
    """
    colors = colors_of_scan(path, name=name or path.name, limits=profile.limits)
    scan = ScannedPicture(colors.codes, colors.ppi, ReadOf.PRINT)
    return read_exposure(scan, exposure_identity(profile))
