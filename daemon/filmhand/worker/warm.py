"""What the process that forks jobs loads and works out beforehand, for all of them.

Nothing here depends on anybody's art. What is left out, a job loads or works out by itself.
"""

from __future__ import annotations

import gc
import importlib

import numpy as np
from PIL import Image, ImageColor

from filmhand import tone
from filmhand.art.analysis.likeness import darkness
from filmhand.art.files import gray
from filmhand.art.repair import descreen
from filmhand.film.formats import Format
from filmhand.kernels.loops import compiled
from filmhand.language import languages, speaking, translated
from filmhand.page.page_words import ProofCaption
from filmhand.page.proof_page import TEXT_SIZE
from filmhand.pipeline.proof_facts import ProofFact
from filmhand.profile.read.load import from_snapshot, read_profile, to_snapshot
from filmhand.profile.ticket.wishes import wishes_in
from filmhand.screen.lattice import orders_by_size
from filmhand.sheet.accents import font_of, length_of
from filmhand.sheet.lettering import plain_text

# A profile and a name like most, so that all words and patterns are at hand.
_PROFILE = "sheet: a4\ndpi: 600\nlpi: 45\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 5 mm\n"
_NAME = "art [width=7in,lpi=30,angle=22.5,copies=2].png"
# What a job loads, and what it would load on its way.
_LOADED = (
    "encodings.ascii",
    "filmhand.pipeline.make",
    "filmhand.pipeline.finished",
    "filmhand.pipeline.gang",
    "filmhand.pipeline.trial.trial_sheet",
    "filmhand.pipeline.verdict.remedies",
    "filmhand.profile.read.yaml_reader",
    "filmhand.worker.child",
    "difflib",
    "numpy.fft",
    "numpy.ma",
    "numpy.random",
    "PIL.ImageChops",
    "PIL.ImageSequence",
)


def get_ready() -> None:
    """Load what jobs need, and work out the tables that every one of them reads."""
    for name in _LOADED:
        importlib.import_module(name)
    for kind in Format:
        kind.codec()
    Image.preinit()
    ImageColor.getrgb("white")
    compiled()
    gray.light_of_codes()
    gray.codes_of_light()
    gray.lightness_of_codes()
    gray.codes_of_srgb_steps()
    tone.tone_of_steps()
    darkness(np.zeros(1, np.float32))
    descreen.window_tables()
    orders_by_size()
    from_snapshot(to_snapshot(read_profile(_PROFILE, name="usual", file="usual.yaml")))
    wishes_in(_NAME)
    _read_words()
    gc.collect()
    gc.freeze()  # so that collecting in a fork touches, and copies, none of it


def _read_words() -> None:
    """Read the catalogs, and measure the letters of the sentences that stand on most proofs."""
    for language in languages():
        with speaking(language):
            for row in (*ProofFact, *ProofCaption):
                length_of(plain_text(translated(row.value)), font_of(TEXT_SIZE))
