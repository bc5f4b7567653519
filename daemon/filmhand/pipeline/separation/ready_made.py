"""What sets of films need that takes seconds to work out, kept beside the threshold tiles."""

from __future__ import annotations

import hashlib
import struct
from dataclasses import astuple
from functools import partial
from pathlib import Path

import numpy as np

from filmhand import __version__
from filmhand.ink.color_table import ColorTable
from filmhand.ink.mixing import PrintModel
from filmhand.ink.solving import InkRules, separation_table
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.pipeline.render.tile_cache import kept_body, tile_of
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, plan_set
from filmhand.pipeline.separation.planning.wanted_inks import asked_mode, known_inks
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.separation.separated_art import model_of, rules_of
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.tone import FULL

_MARK = b"filmhand inks 2\n"
_SHAPE = struct.Struct("<QQ")


def table_of(model: PrintModel, rules: InkRules, folder: Path | None) -> ColorTable:
    """The table from colors to inks, from the folder if it lies there, and put there if not.

    Coverages are whole multiples of 1/65535, so that the last bits of a solver, which differ from
    processor to processor, hardly ever change a film.
    """
    if folder is None:
        return _decoded(_coded(separation_table(model, rules)))
    inputs = (__version__, model.primaries.round(9).tolist(), model.yule_nielsen, astuple(rules))
    key = hashlib.sha256(repr(inputs).encode()).hexdigest()[:32]
    build = partial(_built, model, rules)
    return _decoded(kept_body(folder / f"{key}.inks", _MARK, build))


def _built(model: PrintModel, rules: InkRules) -> bytes:
    return _coded(separation_table(model, rules))


def _coded(table: ColorTable) -> bytes:
    size, inks = len(table.values), table.values.shape[-1]
    steps = np.rint(np.clip(table.values, 0, 1) * FULL).astype("<u2")
    return _SHAPE.pack(size, inks) + steps.tobytes()


def _decoded(body: bytes) -> ColorTable:
    size, inks = _SHAPE.unpack_from(body)
    steps = np.frombuffer(body, "<u2", offset=_SHAPE.size)
    return ColorTable(steps.reshape(size, size, size, inks) / FULL)


def keep_for_sets(profile: Profile, folder: Path) -> None:
    """See that tiles and tables are kept for the inks that a profile names.

    Inks that are found in art are not known before it is read.
    """
    inks = known_inks(profile)
    if inks is None or profile.art.treat is Treat.LINE:
        return
    # Where the art decides, most art for named inks is flat; what else comes works it out itself.
    mode = asked_mode(profile) or SeparationMode.SPOT
    wanted = wanted_set(profile, inks, mode)
    for film in plan_set(wanted).films:
        tile_of(plan_screen(inks.profile_of(film, profile)), folder)
    if mode is not SeparationMode.SPOT and profile.icc is None:
        table_of(model_of(wanted), rules_of(wanted), folder)
