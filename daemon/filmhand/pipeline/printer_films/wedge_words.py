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
        "filmhand wedge --exposure {options} makes a film for that."
    )
    SCAN = (
        "5. When the print is dry, scan it flat in color, at 300 pixels per inch or more, with all "
        "corrections and sharpening off, as PNG or TIFF. Or photograph it from straight above in "
        "even light, without flash and glare. All four corner marks and some bare ground around "
        "them must be in the picture."
    )
    READ = (
        "6. filmhand calibrate SCAN {options} reads it and writes a curve for tone.gain. In a "
        "station, drop the picture into calibrate/ of the profile's folder instead. A scan of the "
        "film itself, with --of film, tells what the printer adds."
    )
    READ_OF_INK = (
        "6. filmhand calibrate SCAN {options} reads it, writes a curve for this ink alone, and "
        "says where that goes. In a station, drop the picture into calibrate/{ink}/ of the "
        "profile's folder instead. Either way tone: {{gain: measured}} in the profile takes it for "
        "this ink's films. A scan of the film itself, with --of film, tells what the printer adds."
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


class ExposureWord(Sentence):
    """The head of an exposure film, on the film."""

    TITLE = "EXPOSURE of profile {profile}"
    PRINTER = "{dpi} dpi | filmhand {version}"
    FIELDS = "dots, shadow dots, lines, gaps in µm"


class ExposurePageWord(Sentence):
    """The page of instructions of an exposure film, a paragraph a row, in their order."""

    HEAD = "The exposure film of profile {profile}: what to do with {files}"
    WHAT = (
        "It has {count} bands with the same dots, shadow dots, lines and gaps. A card that is "
        "moved on from band to band gives each band 1.41 times the light of the one before; two "
        "bands on is twice the light. Step 4 gets the time that you take for work."
    )
    PRINT_IT = (
        "1. Print the film at 100 % as you print films for work. Let it cool or dry. Coat a screen "
        "of the mesh that you will print with as you do for work, and let it dry through."
    )
    LAY_CARD = (
        "2. Lay the film on as you do for work, and have a card at hand that no light gets "
        "through. The short lines at both sides say where its edge goes."
    )
    STEPS = (
        "3. Light in these spells, one after the other; switch off or close the shutter, lay the "
        "card on, and light again:"
    )
    SPELL_SHARE = "{share} % of your time, then lay the card over step {step} and all above it"
    LAST_SHARE = "{share} % of your time, and step {step} is done"
    SPELL_SECONDS = "{seconds} s, then lay the card over step {step} and all above it"
    LAST_SECONDS = "{seconds} s, and step {step} is done"
    WASH = (
        "4. Wash it out as you do for work, and let it dry. Note the first step whose stencil is "
        "hard all through: not slimy on the squeegee side, its color no longer changing from step "
        "to step (solid). Note the last step in which the finest dots, lines and gaps that you "
        "need are washed open (open)."
    )
    READ = "5. filmhand exposure --time TIME --solid STEP --open STEP says which time to take."
    READ_SCAN = (
        "6. Or pull a print from the screen, scan it flat at 300 pixels per inch or more, and let "
        "filmhand exposure SCAN --time TIME {options} find the step that holds the finest."
    )


class ExposureAdvice(Sentence):
    """What the steps of an exposure say; ``{time}`` is the time that follows."""

    TAKE_IT = (
        "Take {time}: there the stencil is just hard all through and fine things still open. From "
        "{shortest} to {longest} would do."
    )
    NARROW = (
        "Take {time}: only this step is hard and open, so keep lamp, distance and coating as "
        "they are, or look at contact and film for more room."
    )
    NOWHERE_SOLID = (
        "No step is hard all through. Make the test again with {time} as your time; if that fails "
        "too, look at the age of lamp and emulsion and at how dry the screen was."
    )
    NOWHERE_OPEN = "No step washes open. Make the test again with {time} as your time."
    SOLID_AT_ONCE = (
        "The first step is hard already, and less light may do. Make the test again with {time} as "
        "your time."
    )
    NO_TIME_DOES_BOTH = (
        "No time does both: with {time} the stencil is hard, but what is fine does not open."
    )
    LIGHT_GETS_UNDER = (
        "Light gets under or through the black: lay the film's image side against the emulsion, "
        "press it closer, make the black denser (film: {{stack: 2}}), or choose coarser dots."
    )
    FINEST = "The finest dots, shadow dots, lines and gaps stand where {time} of light fell."
    FINEST_AT_END = (
        "The finest stands at one end of the film, so a time beyond it may be better: make the "
        "test again with {time} as your time."
    )
    FEEL_IT = (
        "A picture does not tell whether the stencil is hard all through: feel the squeegee side "
        "of that step."
    )
    GRAY_SCALE = (
        "Step {held} stayed, and step 7 is to: take {time}. Step by step is 1.41 times the light; "
        "after a change of more than one step, test again."
    )
    GRAY_SCALE_RIGHT = "Step 7 stayed, as it is to: keep {time}."


class WedgeRefusal(RefusalSentence):
    """Why no wedge can be made."""

    NO_ROOM = (
        Reason.TOO_BIG,
        "The sheet of {profile}, {sheet}, has no room for the tones of a wedge, which takes 27 x "
        "27 mm inside the margin at the least.",
        "Make it with a profile of the same printer, screen and mesh that has a larger sheet.",
    )
    NO_ROOM_FOR_STEPS = (
        Reason.TOO_BIG,
        "The sheet of {profile}, {sheet}, has no room for the steps of an exposure film.",
        "Make it with a profile of the same printer and mesh that has a larger sheet.",
    )
