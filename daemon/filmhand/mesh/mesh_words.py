"""What is said of meshes and of what they hold, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class MeshWord(Sentence):
    """How a mesh was read, and how it is to be written."""

    READ_PER_CM = (
        "Mesh {count} is read as threads a cm, and a thread of {thread} µm is assumed: {mesh}."
    )
    READ_PER_INCH = (
        "Mesh {count} is read as the inch label, and a thread of {thread} µm is assumed: {mesh}."
    )
    READ_PER_INCH_OF_BOTH = (
        "Mesh {count} is read as the inch label, and a thread of {thread} µm is assumed: {mesh}. "
        "If it counts threads a cm, it is {other}."
    )
    THREADS_OF_COUNT = (
        "Threads that are woven at {count} a cm, and what each holds: {threads}. Write the one on "
        "the roll or its data sheet, such as mesh: {pair}."
    )
    HOLDS = (
        "{mesh}: dots over {dot} µm, shadow dots over {shadow_dot} µm, both evenly from {even} µm"
    )
    HOLDS_FROM_MEMORY = (
        "{mesh}, from memory: dots over {dot} µm, shadow dots over {shadow_dot} µm, both evenly "
        "from {even} µm"
    )

    # Each completes "must be …".
    MESH = (
        "threads per cm and thread such as 43-80, a count alone such as 110 to the inch or 77 a "
        "cm, or none for no mesh"
    )
    MESH_AND_WHY = (
        "threads per cm and thread such as 43-80, a count alone such as 110 to the inch or 77 a "
        "cm, or none for no mesh; {why}"
    )
    ONE_OF = "one of {words}"
    COUNT = "a number such as 43"
    COUNT_GIVEN = "given: a number such as 43"
    COUNT_IN_RANGE = "a count from 5 to 250 threads per cm"
    THREAD = "a length with its unit, such as 80 um"
    THREAD_GIVEN = "given: such as 80 um"
    THREAD_IN_RANGE = "a diameter from 10 µm to 500 µm"
    THREAD_IN_PITCH = "thinner than the pitch, {pitch} µm at {count} a cm"
    OPENING = "a length with its unit, such as 149 um"
    OPENING_IN_PITCH = "smaller than the pitch, {pitch} µm at {count} a cm"
    THICKNESS = "a length with its unit, such as 130 um"
    THICKNESS_IN_THREADS = "from one to two threads, {least} µm to {most} µm"
    STRETCH = "a number of percent from 0 to 10"

    # Each tells why a mesh that is written well enough is none.
    LETTER = (
        "the letter {letter} does not tell the thread, so write it in micrometers, such as {pair}"
    )
    OTHER_INCH_LABEL = (
        "{count} threads a cm are {exact} to the inch and not {label}, so write {pair} alone if "
        "that is the mesh"
    )
    NOTHING_OPEN = "{count} threads a cm of {thread} µm leave almost nothing open"
    NOTHING_OPEN_BUT_PER_INCH = (
        "{count} threads a cm of {thread} µm leave almost nothing open; if {count} counts the "
        "threads per inch, write {pair}"
    )


class MeshCount(Counted):
    """What is said of counts that the table of meshes lacks; so many are near."""

    NOT_IN_TABLE = (
        "the inch label {count} is not in the table, and neither is that count per cm: the nearest "
        "is {near}",
        "the inch label {count} is not in the table, and neither is that count per cm: the nearest "
        "are {near}",
    )
