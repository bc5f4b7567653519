"""What stands on wedges and on the pages of instructions beside them."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class WedgeWord(Sentence):
    """The head of a wedge, on the film."""

    TITLE = "WEDGE of profile {profile}"
    SCREEN = "{lpi} lpi {dot}, {angle}°"
    PRINTER = "{dpi} dpi | mesh {mesh} | filmhand {version}"
    NO_MESH = "none"
    NO_LIBRARY = (
        "The code that a wedge carries is drawn by a library that is not installed: {install}"
    )
    THIS_SIDE_UP = "right-reading, image side up"
    MIRRORED = "MIRRORED: right-reading, image side down"


class WedgePageWord(Sentence):
    """The page of instructions of a wedge, a paragraph a row, in their order."""

    HEAD = "The wedge of profile {profile}: what to do with {files}"
    WHAT = (
        "It shows {patches} patches of the profile's own screen from 0 to 100 %, dots, shadow "
        "dots, lines and gaps by size, and solids. The profile's tone curve, hold and verdict are "
        "left out on purpose: it is to show what your press does."
    )
    PRINT_IT = (
        "1. Print the film at 100 %, not fitted to the page, on the film and with the settings "
        "that you use for work. Let it cool or dry, and lie flat."
    )
    MEASURE_BAR = (
        "2. Lay a steel rule along the bar at the foot: the first edges of its first and last line "
        "must be {length} mm apart. If not, something scaled the film: see filmhand ruler."
    )
    PULL = (
        "3. Coat, expose, wash out and print it as you do for work: same mesh, emulsion, light, "
        "time, ink, squeegee and cloth or paper. Write date, ink and your name on the print."
    )
    LOOK = (
        "4. With a loupe, find the smallest dots, shadow dots, lines and gaps that are all there. "
        "Where much more is lost than filmhand check says, set the exposure right first: "
        "filmhand wedge --exposure makes a film for that."
    )
    SCAN = (
        "5. When the print is dry, scan it flat in color, at 300 pixels per inch or more, with all "
        "corrections and sharpening off, as PNG or TIFF. Or photograph it from straight above in "
        "even light, without flash and glare. All four corner marks and some bare ground around "
        "them must be in the picture."
    )
    READ = (
        "6. filmhand calibrate SCAN --profile {file} reads it and writes a curve for tone.gain. "
        "A scan of the film itself, with --of film, tells what the printer adds."
    )
    CAUTION_HEAD = "Cautions"
    CAUTION_FIRST = (
        "The safety data sheet of each product, your local codes, and people who are trained or "
        "licensed for the work come before this page."
    )
    CAUTION_LIGHT = (
        "Never look into an exposure lamp, and let nobody else: ultraviolet light burns eyes and "
        "skin and is felt hours later. Close lid or curtain first, cover skin."
    )
    CAUTION_WASH = (
        "Emulsion, sensitizer and stripper: gloves and eye protection, fresh air, never mix "
        "products, no dichromate in schools. A pressure washer needs eye and ear protection and a "
        "socket with earth-leakage protection."
    )
    CAUTION_INK = (
        "Solvent inks and thinners: fresh air, no flame, soaked rags in a metal can with a lid. "
        "Nothing goes down the drain unless your water authority allows it."
    )
    CAUTION_FILM = "Ordinary film melts in a laser printer: take film that its maker rates for it."


class WedgeRefusal(RefusalSentence):
    """Why no wedge can be made."""

    NO_ROOM = (
        Reason.TOO_BIG,
        "The sheet of {profile}, {sheet}, has no room for the tones of a wedge.",
        "Make it with a profile of the same printer, screen and mesh that has a larger sheet.",
    )
