"""What is said of 144 ordinary set-ups, beside what the handbooks say of them.

    python tests/benchmarks/ordinary_setups.py

Eighteen pairs of a common mesh and a ruling that shops put on it, at 22.5 and at 45 degrees, on
printers of 300, 600, 720 and 1200 dpi; round dots, all else as a profile has it by itself. The
handbooks:

- M. Coudray, All Things Are Not as They Appear, Screen Printing, April 2003: 3.5 and 4 threads a
  line are the figures most repeated. help.screenprinting.com, What's LPI: divide the mesh by 5, or
  by 4.
- SEFAR, Questions about half-tone printing: films at 0, 45 and 90 degrees to the mesh are the
  worst; 7.5, 22.5, 52.5 and 82.5, or 22.5 for all, are advised.
- moacirzapone.com.br, Retículas na serigrafia: no tone under 10 %, often 15 % is advised.
  precisemedia.com, presto CD artwork: 15 to 85 %.
- Gray levels: common practice, no source.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from filmhand.mesh.checks import Verdict
from filmhand.mesh.limits import smallest_tone
from filmhand.pipeline.profile_report import profile_warnings
from filmhand.pipeline.render.screen_moire import longest_art_mm, moire_check, tile_moire
from filmhand.pipeline.render.screen_plan import limits_of, plan_screen, screen_checks
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile

PAIRS = (
    ("43-80", 25), ("43-80", 30), ("43-80", 35), ("49-55", 25), ("49-55", 35), ("55-64", 30),
    ("55-64", 35), ("62-64", 35), ("62-64", 40), ("62-64", 45), ("77-55", 40), ("77-55", 45),
    ("77-55", 55), ("90-48", 45), ("90-48", 55), ("90-48", 65), ("120-34", 55), ("120-34", 65),
)  # fmt: skip
ANGLES = (22.5, 45)
RESOLUTIONS = (300, 600, 720, 1200)
# The highest of the smallest tones that are advised.
_SMALLEST_TONE = 15.0

STATEMENTS = {
    "mesh to lpi ratio": "Coudray: at least 3.5 threads a line",
    "moire": "SEFAR: 45 degrees is among the worst",
    "gray levels": "common practice, no source: at least 64 sizes",
}
"""What is agreed with, where a check warns."""
PIXELS = "no handbook: bands of the printer's pixels"
COARSE = "SEFAR: a finer mesh shows less moire"
ADVISED = "SEFAR: 22.5 degrees; Coudray: from 3.5 threads a line"
NOT_SEEN = "Coudray: from 3.5 threads a line; its bands at 45 degrees are short or weak"


@dataclass(frozen=True, slots=True)
class SetUp:
    """One set-up and what is said of it.

    ``ratio`` is threads a line, ``tone`` the smallest that prints evenly in percent, ``visibility``
    that of the bands seen most, ``warns`` the names of the checks that do not pass.
    """

    mesh: str
    lpi: int
    angle: float
    dpi: int
    ratio: float
    tone: float
    visibility: float
    warns: tuple[str, ...]

    @property
    def advised(self) -> bool:
        """Whether the handbooks advise it: ratio, angle, and the range of tones."""
        return self.ratio >= 3.5 and self.angle == 22.5 and self.tone <= _SMALLEST_TONE

    @property
    def statement(self) -> str:
        """The handbook's statement that it agrees with; what it is against begins so."""
        if not self.warns:
            return ADVISED if self.advised else NOT_SEEN
        if self.advised and self.warns == ("moire",):
            return "AGAINST " + ADVISED
        moire = PIXELS if "gray levels" in self.warns else COARSE
        return "; ".join(
            moire if name == "moire" and self.angle != 45 else STATEMENTS[name]
            for name in self.warns
        )


def profile_text(mesh: str, lpi: float, angle: float, dpi: int, dot: str = "round") -> str:
    """A profile of a set-up that says nothing else of its own."""
    return (
        f"sheet: letter\ndpi: {dpi}\nlpi: {lpi}\ndot: {dot}\nthreshold: 50\nmesh: {mesh}\n"
        f"margin: 6 mm\nangle: {angle}\n"
    )


def set_ups(resolutions: Sequence[int] = RESOLUTIONS) -> Iterator[SetUp]:
    """All of them on these printers, with what is said of each as its tile is made."""
    for angle in ANGLES:
        for mesh, lpi in PAIRS:
            for dpi in resolutions:
                text = profile_text(mesh, lpi, angle, dpi)
                profile = read_profile(text, name="set-up", file="set-up.yaml")
                yield _looked_at(profile, mesh=mesh, lpi=lpi, angle=angle, dpi=dpi)


def _looked_at(profile: Profile, *, mesh: str, lpi: int, angle: float, dpi: int) -> SetUp:
    plan, limits = plan_screen(profile), limits_of(profile)
    moire = tile_moire(profile, plan, plan.tile(), longest_art_mm(profile))
    assert limits is not None and moire is not None
    checks = [*screen_checks(profile, plan), moire_check(profile, moire)]
    warns = tuple(str(check.name) for check in checks if check.verdict is not Verdict.PASS)
    # Nothing else is warned of, or it would be missed here.
    assert len(profile_warnings(profile, plan, moire)) == len(warns)
    ratio = checks[0].measured
    assert ratio is not None
    tone = 100 * smallest_tone(limits.dot.warn_um, lpi)
    return SetUp(mesh, lpi, angle, dpi, ratio, tone, moire.visibility, warns)


def main() -> int:
    """Print the table."""
    print("mesh    lpi   dpi  angle  ratio  tone   visible  warns of / agrees with")
    advised, warned = 0, 0
    for one in set_ups():
        advised += one.advised
        warned += one.advised and bool(one.warns)
        print(
            f"{one.mesh:7} {one.lpi:3}  {one.dpi:4}  {one.angle:5}  {one.ratio:5.2f}  "
            f"{one.tone:4.1f} %  {one.visibility:6.4f}  {', '.join(one.warns) or 'nothing'} / "
            f"{one.statement}"
        )
    print(f"{warned} of the {advised} that the handbooks advise warn of anything")
    return 0


if __name__ == "__main__":
    sys.exit(main())
