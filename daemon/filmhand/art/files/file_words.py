"""What is said of dropped files: refusals, notes of the record, and the words within both."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence

_COPY_AGAIN = (
    "Copy or export it again; if that does not help, open it, save it as PNG and drop that."
)


class FileRefusal(RefusalSentence):
    """The refusals of files that cannot be read, or not here."""

    # Files that are no sound picture.
    EMPTY = (
        Reason.DAMAGED,
        "“{name}” is empty: it holds no bytes at all.",
        "Copy or save it again; the first copy seems to have failed.",
    )
    DAMAGED = Reason.DAMAGED, "“{name}” is damaged: {why}.", _COPY_AGAIN
    NO_PIXELS = (
        Reason.DAMAGED,
        "“{name}” has no pixels ({width} x {height}).",
        "Save it again and drop that.",
    )
    # Kinds that are not read.
    UNREAD_SORT = (
        Reason.NOT_ART,
        "“{name}” is a picture of the kind {kind}, but of a sort that is not read here.",
        "Open it in the program it was made with, save it as PNG and drop that.",
    )
    UNREAD_TIFF = (
        Reason.NOT_ART,
        "“{name}” is a TIFF whose pixels are of a kind that is not read here.",
        "Save it as TIFF or PNG with 8 bits a color and drop that.",
    )
    UNREAD_TIFF_WITHOUT_ADDITION = (
        Reason.NOT_ART,
        "“{name}” is a TIFF whose pixels are of a kind that is not read here.",
        "Save it as TIFF or PNG with 8 bits a color and drop that, or install what reads deep "
        "color ({command}).",
    )
    LACKS_ADDITION = (
        Reason.NOT_ART,
        "“{name}” is {what}, which needs an addition that is not installed.",
        "Install the addition ({command}), or save the art as PNG, TIFF or JPEG and drop that.",
    )
    NOT_FLATTENED = (
        Reason.NOT_ART,
        "“{name}” is a layered working file that was saved without its flattened picture.",
        "Save it again with the flattened picture included, or flatten it and save a copy as "
        "TIFF or PNG.",
    )
    UNREAD_LAYERED_BITS = (
        Reason.NOT_ART,
        "“{name}” is a layered working file with {bits} bits a color, which is not read here.",
        "Flatten it, save a copy as TIFF or PNG, and drop that.",
    )
    UNREAD_LAYERED_COLORS = (
        Reason.NOT_ART,
        "“{name}” is a layered working file with a kind of colors that is not read here.",
        "Flatten it, save a copy as TIFF or PNG, and drop that.",
    )
    # What the profile bounds.
    TOO_MANY_PAGES = (
        Reason.TOO_BIG,
        "“{name}” has {pages} pages; the profile allows at most {allowed}.",
        "Choose some of them (pages: {some} in {name}.ticket.yaml), split it, or raise "
        "limits.pages in the profile to {pages}.",
    )
    TOO_MANY_PIXELS = (
        Reason.TOO_BIG,
        "“{name}” has {megapixels} megapixels ({width} x {height}); the profile allows at most "
        "{allowed}.",
        "Save it smaller, or raise limits.megapixels in the profile to {megapixels}.",
    )
    PICTURE_HAS_TOO_MANY_PIXELS = (
        Reason.TOO_BIG,
        "“{name}” holds a picture of {megapixels} megapixels ({width} x {height}); the profile "
        "allows at most {allowed}.",
        "Save the document with smaller pictures, or raise limits.megapixels in the profile to "
        "{megapixels}.",
    )
    MORE_PIXELS_THAN_ANY = (
        Reason.TOO_BIG,
        "“{name}” has {megapixels} megapixels ({width} x {height}); the profile allows at most "
        "{allowed}, and none may allow more than {most}.",
        "Save it with at most {allowed} megapixels.",
    )
    UNPACKS_TOO_LARGE = (
        Reason.TOO_BIG,
        "“{name}” unpacks to more than the {allowed} megapixels that the profile allows.",
        "Save it smaller, or raise limits.megapixels in the profile.",
    )
    # What the profile asks for and the art does not have.
    NO_TRANSPARENCY = (
        Reason.BLANK,
        "“{name}” has no transparency, so with channel alpha all of it would print.",
        "Save it with a transparent ground, or write art: {{channel: luminance}} in "
        "the profile or the ticket.",
    )


class DamageWord(Sentence):
    """What is wrong with a file: a part of the sentence that refuses it or tells of it."""

    CONTRADICTORY = "it breaks off or contradicts itself"
    BAD_BEGINNING = "its beginning makes no sense"
    NOT_NUMBERS = "some of its pixels are not numbers"
    # Where a file ends.
    NO_END = "its end is missing"
    NO_BYTES = "the file is empty"
    ENDS_IN_ZEROS = "the last part of the file is empty (all zeros)"
    HALF_OF_ZEROS = "the second half of the file is empty (all zeros)"
    SHORTER_THAN_SAID = "it is shorter than it says"
    SHORTER_THAN_PIXELS = "it is shorter than its size in pixels needs"
    PART_BEHIND_END = "a part of the picture lies behind the end of the file"
    NOT_UNPACKED = "it cannot be unpacked"
    # Of a TIFF.
    HEADER_BREAKS_OFF = "the file breaks off in its header"
    PAGES_IN_A_RING = "its pages point back at each other"
    DESCRIPTION_OUTSIDE = "a page's description lies outside the file"
    PAGE_WITHOUT_SIZE = "a page has no size"
    NO_PAGE = "it describes no page"
    # Of a PNG.
    WRONG_SUM = "a check sum is wrong"
    WRONG_SUM_FROM = "a check sum is wrong, from {share} % of its height on"
    # Of a JPEG, by its decoder's own words.
    PART_WRONG = "its decoder says “{warning}”, and a part of its picture is wrong"
    ROWS_WRONG = (
        "its decoder says “{warning}”, and its picture is wrong from {where} of its height from "
        "the top"
    )
    FROM_TO = "{first} to {last} %"
    MORE_PLACES = "more"


class FrameCount(Counted):
    """What is left of an animation that breaks off: a part of the sentence that tells of it."""

    ENDS = "1 frame is whole, then it ends", "{n} frames are whole, then it ends"


class UnreadWord(Sentence):
    """What files that are not read are, and what helps."""

    CANNOT_BE_READ = "“{name}” cannot be read: {fault}."
    # Kinds that are not read.
    IS = "“{name}” is {what}."
    POSES = "“{name}” is named like a picture, but it is {what}."
    POSTSCRIPT = "a PostScript file"
    SAVE_AS_PDF = "Save it as PDF, or export it as PNG or TIFF at 300 ppi or more, and drop that."
    RAW = "a camera's raw file"
    DEVELOP = (
        "Develop it in the program that came with the camera, save it as JPEG or TIFF, and drop "
        "that."
    )
    OTHER_PICTURE = "a picture of a kind that is not read here"
    SAVE_AS_PICTURE = "Save or export it as PNG, TIFF or JPEG and drop that."
    OFFICE = "an office document"
    SAVE_PICTURE_ALONE = (
        "Save the picture itself as PNG, TIFF or JPEG and drop that, not the document around it."
    )
    ARCHIVE = "a packed archive"
    UNPACK = "Unpack it and drop the folder that comes out."
    VIDEO = "a video"
    SAVE_A_FRAME = "Save a single frame as PNG or JPEG and drop that."
    SOUND = "a sound recording"
    TEXT = "text"
    UNKNOWN = "of no kind known here"
    DROP_A_PICTURE = "Drop a picture instead, such as JPEG, PNG, TIFF, PDF or SVG."


class AdditionWord(Sentence):
    """What is read with the addition only: as a file is called, and as doctor lists it."""

    # A file is …
    PDF = "a PDF document"
    PDF_INKS = "a PDF document whose colors may be inks"
    SVG = "an SVG drawing"
    HEIC = "a HEIC photograph"
    AVIF = "an AVIF picture"
    JPEG_XL = "a JPEG XL picture"
    DEEP_JPEG_2000 = "a JPEG 2000 picture of deep color"
    RARE_JPEG = "a JPEG picture of a rare kind"
    RARE_TIFF = "a TIFF of a rare kind"
    DEEP = "a picture of deep color"
    # The addition reads …
    READS_JPEG_XL = "JPEG XL"
    READS_HEIC = "HEIC"
    READS_PDF = "PDF"
    READS_PDF_INKS = "inks of documents"
    READS_DEEP = "all bits of deep color"
    READS_SVG = "SVG"
    READS_JPEG_DAMAGE = "wrong codes within a JPEG"
    READS_RARE_TIFF = "rare sorts of TIFF"


class FileNote(Sentence):
    """What the record tells of a file that was read."""

    # A figure of a refusal, in words.
    OVER = "over {allowed}"
    # What it is, and how much of it was used.
    OTHER_KIND = "The name ends in {suffix}, but the content is {kind}; it was read as {kind}."
    OTHER_KIND_LAYERED = (
        "The name ends in {suffix}, but the file is a layered working file; it was read as one."
    )
    CHECK_LOWER_EDGE = "Please check the lower edge of the film: {why}."
    FIRST_OF_BROKEN_ANIMATION = (
        "The art is an animation that breaks off: {frames}; its first frame is used."
    )
    FIRST_FRAME = "The art is an animation; only its first frame is used."
    MAIN_PICTURE = "The file holds several pictures; its main one is used."
    TURNED = "The art was turned upright as its camera noted."
    PLACEHOLDER_PPI = (
        "The file says {ppi} ppi, which programs write when they know nothing; its resolution "
        "counts as unknown."
    )
    SHRUNK = (
        "The art was read at 1/{shrink} of its width and height: a progressive JPEG of so many "
        "pixels takes more memory than the profile allows."
    )
    # Small damage.
    PART_LEFT_OUT = "A part of the file beside its pixels ({part}) is broken and was left out."
    PIXELS_RIGHT = "A check sum of the file is wrong, but another says its pixels are right."
    FEW_ROWS_WRONG = (
        "The file is damaged (its decoder says “{warning}”): {share} % of its rows are wrong, "
        "from {where} of its height from the top. Please look there on the proof."
    )
    # What its numbers mean.
    LIGHTNESS = "The gray is CIE lightness: tone is 100 - L*."
    PLAIN_INKS = "The inks carry no color profile; they were mixed plainly, (1 - ink)(1 - black)."
    INKS_INVERTED = "The file does not say how its inks are stored; inverted was assumed."
    OWN_INKS = "Each ink of the file was taken as black: the film has whatever any of them prints."
    BLACK_INK = "Only the black ink is used; it was taken as it is."
    COMPUTED_BLACK = (
        "The art has no black ink plane; it was computed from red, green and blue (as the "
        "smallest of the three complements)."
    )
    COMPUTED_INK = (
        "The art has no {channel} ink plane; it was computed from red, green and blue (as the "
        "complement)."
    )
    CUT_TO_EIGHT_BITS = (
        "The art has {bits} bits a color, of which 8 were used; filmhand[art] adds deep color."
    )
    CHANNELS_LEFT_OUT = (
        "The art has {found} color channels; those after number {kept} were left out."
    )
    FURTHER_CHANNELS = "Channels beyond color and opacity were left out."
    FURTHER_LAYERED_CHANNELS = "The layered file's further channels were left out."
    GAMMA = "The file's own gamma of {gamma} was applied."
    LINEAR_FRACTIONS = "The art stores fractions; they were taken as linear light, white at 1."
    CODED_FRACTIONS = (
        "The art stores fractions; they were taken as sRGB-coded gray with white at {white}."
    )
    LARGE_NUMBERS = (
        "The art stores large whole numbers; they were taken as sRGB-coded gray with white at "
        "{white}."
    )
    # Color profiles.
    NAMED_PROFILE = (
        "The embedded color profile ({profile}) was followed, to sRGB, relative colorimetric with "
        "black point compensation."
    )
    PROFILE = (
        "The embedded color profile was followed, to sRGB, relative colorimetric with black point "
        "compensation."
    )
    NAMED_GRAY_PROFILE = (
        "The embedded gray profile ({profile}) was followed, to sRGB, relative colorimetric with "
        "black point compensation, by a curve of 256 points."
    )
    GRAY_PROFILE = (
        "The embedded gray profile was followed, to sRGB, relative colorimetric with black point "
        "compensation, by a curve of 256 points."
    )
    BROKEN_PROFILE = (
        "The embedded color profile is broken or does not fit the art; the art was taken as sRGB."
    )
    BROKEN_INK_PROFILE = (
        "The embedded color profile is broken or does not fit the art; its inks were mixed plainly."
    )
    WIDER_COLORS_PERHAPS = (
        "The file may have wider colors than sRGB; they were taken as sRGB, which makes strong "
        "colors a little paler."
    )
    WIDER_COLORS = (
        "The file has wider colors than sRGB but brings no color profile; it was taken as sRGB, "
        "which makes strong colors a little paler."
    )
