"""Why a scan of a wedge is not trusted, and what is told of one that is."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class ScanRefusal(RefusalSentence):
    """The refusals of scans and photographs of wedges."""

    LACKS_ADDITION = (
        Reason.NOT_ART,
        "Reading a scan of a wedge takes an addition that is not installed here.",
        "Install it: {command}.",
    )
    NO_WEDGE = (
        Reason.BAD_SCAN,
        "No whole wedge of this profile was found: four rings around discs, with its patches "
        "between them.",
        "Take all of the wedge with some bare paper around it, flat, sharp and from above; the "
        "small patches of marks.steps are for the eye, and filmhand wedge makes what is read.",
    )
    CUT_OFF = (
        Reason.BAD_SCAN,
        "The wedge is cut off: a corner mark lies outside the picture.",
        "Take all of the wedge with some bare paper around it, and try again.",
    )
    MARK_HIDDEN = (
        Reason.BAD_SCAN,
        "A corner mark of the wedge could not be seen; something covers it, or it is not printed.",
        "Clear it, or print the wedge again, and take it whole.",
    )
    NEWER_WEDGE = (
        Reason.BAD_SCAN,
        "The wedge was made by a newer filmhand than this one.",
        "Bring filmhand up to date, or make the wedge again with this one.",
    )
    EXPOSURE_FILM = (
        Reason.BAD_SCAN,
        "This is the exposure film, which has no tones to read.",
        "Scan the print of the wedge that filmhand wedge makes.",
    )
    NO_EXPOSURE_FILM = (
        Reason.BAD_SCAN,
        "This is a wedge, and no exposure film.",
        "Give it to filmhand calibrate, or scan a print of the film that filmhand wedge --exposure "
        "makes.",
    )
    OTHER_PROFILE = (
        Reason.BAD_SCAN,
        "This is the wedge of the profile {made_for}, and not of {expected}.",
        "Name the profile that it was made for, and with --ink or the ink's folder in calibrate/ "
        "the ink if it is one's; or scan the wedge of this one.",
    )
    OTHER_SCREEN = (
        Reason.BAD_SCAN,
        "The wedge was made with {before}, and the profile now has {now}.",
        "Make the wedge again with the profile as it is now, and scan that.",
    )
    TOO_FEW_PIXELS = (
        Reason.BAD_SCAN,
        "The picture has {seen} pixels to an inch of the wedge, and {least} are needed.",
        "Scan it with 300 ppi or more, or photograph it from nearer.",
    )
    BLURRED = (
        Reason.BAD_SCAN,
        "The picture is blurred: edges spread over {seen} mm, where at most {most} mm can be told "
        "from the bare paper between the patches.",
        "Hold the camera still and focus on the wedge, or scan it, and try again.",
    )
    CLIPPED_PAPER = (
        Reason.BAD_SCAN,
        "The bare ground is so bright in the picture that its light is cut off.",
        "Scan without automatic corrections and a little darker, or expose the photograph less.",
    )
    FAINT = (
        Reason.BAD_SCAN,
        "Solid ink and bare ground hardly differ in the picture: by {seen} % of the light.",
        "Scan without automatic corrections, or print the wedge in an ink that can be seen.",
    )
    UNEVEN_LIGHT = (
        Reason.BAD_SCAN,
        "A reflex, a shadow or a crease lies on the wedge: light on bare ground differs by {seen} "
        "% from what lies around it, and {most} % can be evened.",
        "Light it from the side or scan it flat, and try again.",
    )
    COPIES_DIFFER = (
        Reason.BAD_SCAN,
        "Two patches of {tone} % on the film read {one} % and {other} %, so something lies on one "
        "of them or the print is uneven.",
        "Wipe print and glass, light it evenly or print it again, and try again.",
    )
    FALLING = (
        Reason.BAD_SCAN,
        "The tones do not rise: {tone} % on the film reads {one} %, and {darker} % reads {other} "
        "%.",
        "Scan without automatic corrections of tone, and see whether the wedge is printed clean.",
    )


class ScanNote(Sentence):
    """What is told of a scan that was read."""

    MIRRORED = "The wedge was seen from its other side, mirrored; it was turned over."
    NO_CODE = "The wedge's code could not be read, so it is taken for this profile's."
    TOO_COARSE = "The picture is too coarse to tell whether these and smaller ones held: {sizes}."
    SHRUNK = (
        "The picture has more than {most} million pixels, so it was read at 1/{shrunk} of its "
        "width and height."
    )
    DOTS = "dots of"
    SHADOW_DOTS = "shadow dots of"
    LINES = "lines of"
    GAPS = "gaps of"
    NONE_HELD = "Not even the largest held: {kinds}."
    ALL_DOTS = "dots"
    ALL_SHADOW_DOTS = "shadow dots"
    ALL_LINES = "lines"
    ALL_GAPS = "gaps"
    DENSITY_BY_REFLECTION = (
        "The film's density is not told: that takes light that passes through, and this scan may "
        "have been lit from the front."
    )
    DENSITY_AT_LEAST = (
        "The solid is darker than the scan can tell: its density is more than {least}."
    )
    NO_PPI = "Lengths are not told: the file does not say how many pixels an inch has."
    OTHER_PPI = "Lengths are not told: the file says another resolution than it was scanned with."
    NO_LENGTHS = "Lengths are not told: a photograph is no ruler. Scan it on a flatbed for them."
    OPTICAL_GAIN = (
        "Printed tones are those that a densitometer reads by Murray-Davies, so the shadow of dots "
        "in the paper counts as ink."
    )
