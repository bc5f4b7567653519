"""What is said of a profile: its press, its screen, what it warns of; and of films measured."""

from __future__ import annotations

from filmhand.language import Sentence


class ProfileNote(Sentence):
    """What every film of a profile would warn of."""

    OF_INKS = "{inks}: {warning}"
    NO_MESH = "No mesh is named, so films are not judged against one."
    NO_ROOM_FOR_DOTS = (
        "At {lpi} lpi a cell has no room for dots of {wanted} µm, which this mesh prints evenly; "
        "the smallest will be {smallest} µm. The finest advisable ruling is {finest} lpi."
    )
    TOO_LARGE_A_FILE = (
        "A film of this sheet is a file of {size} GiB, and no job may write one of more than "
        "{allowed} GiB, so no art becomes a film; a smaller sheet or a lower dpi would help."
    )
    UNENCRYPTED = (
        "Jobs go to {workers} without encryption: whoever reaches the network between can read "
        "them, and run programs on the cluster's computers. dask+tls:// asks for certificates."
    )
    WITHOUT_MESH = "Without a mesh {keys} judge nothing."
    WAITS_FOR_INKS = (
        "inks is off, so nothing goes by {keys} but films whose ticket asks for several inks."
    )


class PressWord(Sentence):
    """The press that the dots are made for."""

    COVERS = "the print covers what the art's tones say"
    REFLECTS = "the print reflects what the art reflects"
    # notes of a film
    MEASURED = "The dots follow the measured press curve ({name}): {aim}."
    MEASURED_ON = "The dots follow the press curve {name}, read on {date}: {aim}."
    GAIN = "The dots are made for a press that adds {gain} points at the 50 % tone: {aim}."
    NO_GAIN = "The dots are made for a press that adds nothing: {aim}."
    AIM_NOT_SAID = (
        "tone.gain is measured and tone.aim is not given, so the print is made to cover what the "
        "art's tones say; it used to be made to reflect what the art reflects. Write aim: tone or "
        "aim: luminance below tone."
    )
    # in one line of a report
    RULE_MEASURED = "{aim}; made for the measured press curve {name}"
    RULE_MEASURED_ON = "{aim}; made for the press curve {name}, read on {date}"
    RULE_GAIN = "{aim}; made for a press that adds {gain} points at 50 %"
    RULE_GAIN_AND_EDGE = (
        "{aim}; made for a press that adds {gain} points at 50 %, as if every edge of a dot grew "
        "by {edge} µm"
    )
    RULE_NO_GAIN = "{aim}; made for a press that adds nothing (tone.gain: 0)"


class ReadingWord(Sentence):
    """What a reading of the wedge changes, and why one may not hold any more."""

    NO_READING = (
        "tone.gain is measured, but no reading lies in {folder} yet, so films are made for a press "
        "that adds nothing: print the film of filmhand wedge, and read a scan of the print."
    )
    READ_BEFORE = "The press curve {name} may not fit: {changed}; print and read a new wedge."
    OTHER_SCREEN = "it was read at {was}, and the screen is now {now}"
    OTHER_DPI = "it was read at {was} dpi, and the printer now lays down {now} dpi"
    OTHER_MESH = "it was read on the mesh {was}, and the mesh is now {now}"
    NO_MESH = "none"
    HELD = (
        "Sizes that a print held ({name}) count in place of those that the mesh suggests: {sizes}."
    )
    HELD_DOT = "dots of {held} µm (by the mesh {rule} µm)"
    HELD_SHADOW_DOT = "shadow dots of {held} µm (by the mesh {rule} µm)"
    HELD_STROKE = "strokes of {held} µm (by the mesh {rule} µm)"
    HELD_GAP = "gaps of {held} µm (by the mesh {rule} µm)"


class FilmNote(Sentence):
    """What is told of any film that is measured, or whose print is predicted."""

    NARROW_INK = (
        "More than 0.5 % of the ink is in pieces no wider than {limit} µm, which this mesh may not "
        "hold, however long they are."
    )
    NARROW_GAPS = (
        "More than 0.5 % of the clear film beside the ink is in pieces no wider than {limit} µm, "
        "which this mesh may not hold, however long they are."
    )
    SCREEN_OF_PROFILE = "the profile's screen"
    FOUND_LINES = "the screen found on the film, with line dots"
    FOUND_DOTS = "the screen found on the film, with round dots"


class NewProfileWord(Sentence):
    """The comments of a new profile. A line of its own begins with ``#`` and a blank."""

    TITLE_LINE_ART = "Film for line art, mesh {mesh}."
    TITLE_LINE_ART_WITHOUT_MESH = "Film for line art, no mesh named."
    TITLE = "Film for photographs and drawings, mesh {mesh}."
    TITLE_WITHOUT_MESH = "Film for photographs and drawings, no mesh named."
    NO_MESH = (
        "The mesh on the screen, such as 110 (43-80). With none, nothing is judged by it.\n"
        "# It is on the roll or the invoice."
    )
    MESH = (
        "Threads to the inch (threads a cm - thread in µm): {threads} threads a cm\n"
        "# of {thread} µm."
    )
    MESH_ASSUMED = (
        "Threads to the inch (threads a cm - thread in µm): {threads} threads a cm\n"
        "# of {thread} µm. The thread is the usual one for this count: see the roll or the invoice."
    )
