"""Reads a print from a screen that was exposed in steps: what held in each of them."""

from __future__ import annotations

from filmhand.errors import Refused
from filmhand.reading.evening import blur_of, even_light
from filmhand.reading.read_wedge import ScannedPicture, check_wedge_pixels, wedge_in
from filmhand.reading.reading import SizesHeld
from filmhand.reading.scan_words import ScanRefusal
from filmhand.reading.small_things import look_at_small_things
from filmhand.reading.windows import Picture
from filmhand.sheet.exposure_layout import exposure_layout
from filmhand.sheet.wedge_identity import WedgeIdentity, WedgeKind
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class StepReading:
    """The smallest sizes that held in one step of an exposure film."""

    number: int
    held: SizesHeld


def read_exposure(scan: ScannedPicture, expected: WedgeIdentity) -> tuple[StepReading, ...]:
    """What held in each step, the least exposed first.

    Parameters
    ----------
    expected : the exposure film that the profile makes

    Raises
    ------
    Refused
        where the picture is not to be trusted, with why
    """
    found, codes = wedge_in(scan.codes, expected)
    identity = found.identity
    if identity.kind is not WedgeKind.EXPOSURE:
        raise ScanRefusal.NO_EXPOSURE_FILM.refused()
    if identity.name != expected.name:
        raise _of_other_profile(identity, expected)
    picture = Picture(codes, found.matrix)
    check_wedge_pixels(picture, found.layout)
    blur = blur_of(picture, found.layout)
    evened = even_light(picture, found.layout, blur_mm=blur)
    layout = exposure_layout(*identity.size_mm, dpi=identity.acetate_dpi)
    assert layout is not None  # or it had not been found
    return tuple(
        StepReading(
            step.number,
            look_at_small_things(
                evened, layout.as_wedge(step), identity.acetate_dpi, blur_mm=blur
            ).held,
        )
        for step in layout.steps
    )


def _of_other_profile(made: WedgeIdentity, expected: WedgeIdentity) -> Refused:
    return ScanRefusal.OTHER_PROFILE.refused(made_for=made.name, expected=expected.name)
