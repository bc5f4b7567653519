"""What is said of art that is separated already, and of a press that an ICC profile describes."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class PlateNote(Sentence):
    """What the records of a set tell."""

    OWN = "The art is separated already, so each film is the plate of its ink: {inks}."
    OWN_PAGES = "Pages of the art are named after inks, so each is the plate of its ink: {inks}."
    OWN_LAYERS = (
        "Layers of the art are named after inks, so each is the plate of its ink: {inks}. Black, "
        "or the ink's own color, is a solid there."
    )
    LAYERS_IN_PART = (
        "Some layers of the art are called like inks ({named}) and others are not ({others}), so "
        "the layers were not taken as plates and the colors were separated."
    )
    LAYERS_AND_LOOSE = (
        "Layers of the art are called like inks ({named}), but something lies in no layer, so the "
        "layers were not taken as plates and the colors were separated."
    )
    LAYERS_UNCLEAR = (
        "Layers of the art are called like inks, but what some of them show ({layers}) is made by "
        "effects, adjustments, masks of paths or blending that are not followed here, so the "
        "colors were separated."
    )
    LAYERS_UNSEEN = "Layers of the art that are invisible or bare were not taken: {layers}."
    LAYER_OF_OTHER_COLOR = (
        "The layer {layer} has {color}, which is neither black, gray nor its ink's own color or a "
        "tint of it, so it prints {tone} % of its ink there."
    )
    LAYER_HAS_DARKER = (
        "The layer {layer} has its ink's own color ({color}) and darker ones, so black is a solid "
        "there, and the ink's own color prints {tone} % of it; where that is not meant, draw it in "
        "the ink's own color alone, more or less opaque."
    )
    LAYERS_NOT_FOLLOWED = (
        "Layers of the art were not looked at for plates, as {why}; the colors of its flattened "
        "picture were separated."
    )
    NONE_IS_NAMED = (
        "The art has plates of its own ({plates}), but no ink of the set is called like one of "
        "them; its colors were separated."
    )
    NOT_UNDERSTOOD = (
        "It could not be told which inks this page of the document has, so its colors were "
        "separated."
    )
    OTHER_PROCESS_INKS = (
        "The art is in process inks, and no ink of the set is called like its plate {plate}, so "
        "its colors were separated."
    )
    COLORS_BESIDE = (
        "The art has colors besides its process inks, so all its colors were separated together."
    )
    BELOW = "The plate of {ink} was made of all others."
    CUT_TO_TOTAL = "Where its plates have more ink together than {total} % they were made lighter."
    ICC = "Colors became inks by the ICC profile {name} ({intent})."
    ICC_UNREAD = "The ICC profile {name} that the profile names cannot be read: {why}."
    ICC_NOT_FOLLOWED = (
        "The ICC profile {name} that the profile names cannot be followed: its tables are broken "
        "or missing."
    )


class PlateRefusal(RefusalSentence):
    """Why art that is separated already becomes no set of films."""

    PLATE_WITHOUT_INK = (
        Reason.COLORS,
        "“{name}” is separated already, and no ink of the set is called like its plate {plate}.",
        "Add an ink of that name to inks, or rename the plate; with plates that are all called "
        "otherwise than the inks the art's colors would be separated.",
    )
    OTHER_COLORS = (
        Reason.COLORS,
        "“{name}” is separated already, and has colors besides that are on none of its plates "
        "({plates}).",
        "Put these colors on plates, or leave them out; with plates that are all called otherwise "
        "than the inks the art's colors would be separated.",
    )
    OTHER_SIZE = (
        Reason.COLORS,
        "The pages of “{name}” are named after inks ({plates}), but they are not of one size, so "
        "they cannot be plates of one picture.",
        "Save them with one size, or name them otherwise.",
    )
