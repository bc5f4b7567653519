"""PDF pages in inks, for tests: one inch square, with everything that can name a color."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name
from PIL import Image

from filmhand.art.drawings.vector import FilmSize

SIDE = 288  # pixels that a page is drawn with, four to the point


def own_pixels(_width: float, _height: float) -> FilmSize:
    """The size of the drawn page."""
    return FilmSize(SIDE, SIDE, float(SIDE))


def ink_page(path: Path, content: bytes) -> Path:
    """A page with this content.

    Spaces: /R and /B are the inks Red and Deep Blue, /N both, /All every plate. States: /O
    overprints, /X does not, /A is half opaque, /M multiplies. Objects: pictures /I in /N, /P a
    palette of /R, /D a JPEG in process inks, /G gray; /F a form. /S is a shading in /N, /T and /H
    are patterns.
    """
    document = pikepdf.new()
    page = document.add_blank_page(page_size=(72, 72))
    page.obj.Contents = document.make_stream(content)
    red, blue = _ink("Red", (0, 1, 1, 0)), _ink("Deep Blue", (1, 1, 0, 0))
    shown = document.make_stream(b"{ 0 0 }", FunctionType=4, Domain=[0, 1] * 2, Range=[0, 1] * 4)
    names = Array([Name("/Red"), Name("/Deep Blue")])
    both = Array([Name.DeviceN, names, Name.DeviceCMYK, shown])
    shading = Dictionary(
        ShadingType=2, ColorSpace=both, Coords=[0, 0, 72, 0], Extend=[True, True],
        Function=Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 1], C1=[1, 0], N=1),
    )  # fmt: skip
    pictures = _pictures(document, red, both)
    form = document.make_stream(
        b"/R cs 1 scn 0 0 12 12 re f 0 0 1 0 k 4 4 2 2 re f q 8 0 0 8 16 0 cm /P Do Q",
        Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 72, 72],
        Resources=Dictionary(ColorSpace=Dictionary(R=blue), XObject=Dictionary(P=pictures["P"])),
    )  # fmt: skip
    tile = document.make_stream(
        b"/R cs 1 scn 0 0 4 4 re f 4 4 4 4 re f", Type=Name.Pattern, PatternType=1, PaintType=1,
        TilingType=1, BBox=[0, 0, 8, 8], XStep=8, YStep=8,
        Resources=Dictionary(ColorSpace=Dictionary(R=red)),
    )  # fmt: skip
    page.Resources = Dictionary(
        ColorSpace=Dictionary(R=red, B=blue, N=both, All=_ink("All", (1, 1, 1, 1))),
        ExtGState=Dictionary(
            O=Dictionary(OP=True, op=True, OPM=1),
            X=Dictionary(OP=False, op=False),
            A=Dictionary(ca=0.5),
            M=Dictionary(BM=Name.Multiply),
        ),
        XObject=Dictionary(**pictures, F=form),
        Shading=Dictionary(S=shading),
        Pattern=Dictionary(T=tile, H=Dictionary(PatternType=2, Shading=shading)),
    )
    document.save(path)
    return path


def _ink(name: str, shown: tuple[int, ...]) -> Array:
    tint = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0] * 4, C1=list(shown), N=1)
    return Array([Name.Separation, Name("/" + name), Name.DeviceCMYK, tint])


def _pictures(document: pikepdf.Pdf, red: Array, both: Array) -> dict[str, pikepdf.Stream]:
    size = {"Type": Name.XObject, "Subtype": Name.Image, "BitsPerComponent": 8}
    ramp = np.arange(64, dtype=np.uint8)
    two = np.stack([ramp * 4, 255 - ramp], axis=-1)
    palette = Array([Name.Indexed, red, 63, pikepdf.String(bytes(range(0, 256, 4)))])
    coarse = np.random.default_rng(0).integers(0, 255, (9, 9, 4)).astype(np.uint8)
    coded = BytesIO()
    Image.fromarray(coarse, "CMYK").resize((72, 72), 3).save(coded, "JPEG", quality=95)
    eight = size | {"Width": 8, "Height": 8}
    return {
        "I": document.make_stream(two.tobytes(), ColorSpace=both, **eight),
        "P": document.make_stream(ramp.tobytes(), ColorSpace=palette, **eight),
        "G": document.make_stream((ramp * 4).tobytes(), ColorSpace=Name.DeviceGray, **eight),
        "D": document.make_stream(
            coded.getvalue(), ColorSpace=Name.DeviceCMYK, Filter=Name.DCTDecode,
            Decode=[1, 0] * 4, Width=72, Height=72, **size,
        ),
    }  # fmt: skip
