"""Bad PDF and SVG: cut short, swollen, locked, wanting other files, carrying scripts."""

from __future__ import annotations

import builtins
import re
import socket
from collections import Counter
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pikepdf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from filmhand.art.files.open_art import Art, count_pages, open_art
from filmhand.errors import Reason, Refused

pytest.importorskip("pypdfium2")
pytest.importorskip("resvg_py")
LIMITS: Any = SimpleNamespace(megapixels=20.0, megabytes=512.0, pages=50, memory=2**31)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'viewBox="0 0 40 30">{}</svg>'
)
SQUARE = '<rect x="5" y="5" width="20" height="20"/>'


def read(path: Path, data: bytes | str) -> Art:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    channel: Any = "luminance"
    return open_art(path, name=path.name, limits=LIMITS, channel=channel)


def refused(path: Path, data: bytes | str) -> Refused:
    with pytest.raises(Refused) as caught:
        read(path, data)
    assert caught.value.say.endswith(".") and caught.value.do.endswith(".")
    return caught.value


def outcome(path: Path, data: bytes | str) -> Reason | None:
    try:
        read(path, data)
    except Refused as fault:
        return fault.reason
    return None


def pdf(change: Any = None, **save: Any) -> bytes:
    made = pikepdf.new()
    page = made.add_blank_page(page_size=(40, 30))
    page.Contents = made.make_stream(b"0 g 5 5 20 20 re f")
    if change:
        change(made, page)
    out = BytesIO()
    made.save(out, **save)
    return out.getvalue()


GOOD = {"a.pdf": pdf(), "a.svg": SVG.format(SQUARE).encode(), "b.pdf": pdf(linearize=True)}


@pytest.mark.parametrize("name", GOOD)
def test_the_sound_file_is_read(tmp_path: Path, name: str) -> None:
    assert read(tmp_path / name, GOOD[name]).coded.min() == 0


@pytest.mark.parametrize("name", GOOD)
def test_truncations_are_damaged(tmp_path: Path, name: str) -> None:
    data = GOOD[name].rstrip()
    for hundredth in range(2, 100):
        cut = data[: len(data) * hundredth // 100]
        # A few first bytes of an SVG are text, no more.
        early = {Reason.DAMAGED, Reason.NOT_ART} if len(cut) < 40 else {Reason.DAMAGED}
        # The end mark of a PDF is a dozen bytes before the end of the file.
        late = {None} if len(cut) > len(data) - 12 else set()
        assert outcome(tmp_path / name, cut) in early | late, hundredth


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    name=st.sampled_from(sorted(GOOD)),
    flips=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 7)), min_size=1, max_size=8),
)
def test_flipped_bits_give_a_film_or_a_refusal(
    tmp_path: Path, name: str, flips: list[tuple[float, int]]
) -> None:
    data = bytearray(GOOD[name])
    for where, bit in flips:
        data[min(len(data) - 1, int(where * len(data)))] ^= 1 << bit
    outcome(tmp_path / name, bytes(data))  # anything but Refused is the failure


def test_wrong_suffixes_are_read_by_content_and_noted(tmp_path: Path) -> None:
    art = read(tmp_path / "poster.jpg", GOOD["a.pdf"])
    assert art.format == "PDF" and any("content is PDF" in note for note in art.notes)
    art = read(tmp_path / "poster.png", GOOD["a.svg"])
    assert art.format == "SVG" and any("content is SVG" in note for note in art.notes)


def test_documents_with_a_password_are_locked(tmp_path: Path) -> None:
    lock = pikepdf.Encryption(user="open", owner="sesame", R=6)
    fault = refused(tmp_path / "a.pdf", pdf(encryption=lock))
    assert fault.reason is Reason.LOCKED and "password" in fault.say
    # A password that only forbids changes does not keep anybody from looking.
    assert (
        outcome(tmp_path / "a.pdf", pdf(encryption=pikepdf.Encryption(user="", owner="x"))) is None
    )


def test_page_limit(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    path.write_bytes(pdf(lambda made, page: [made.add_blank_page() for _ in range(50)]))
    with pytest.raises(Refused) as caught:
        count_pages(path, name="a.pdf", limits=LIMITS)
    assert caught.value.reason is Reason.TOO_BIG
    assert caught.value.found and caught.value.found.value == 51


@pytest.mark.parametrize("box", ["0 0 1 20000", "0 0 10000000 10000000", "0 0 0.1 0.1"])
def test_pages_of_impossible_size(tmp_path: Path, box: str) -> None:
    def resize(made: Any, page: Any) -> None:
        page.MediaBox = pikepdf.Object.parse(f"[{box}]".encode())

    assert refused(tmp_path / "a.pdf", pdf(resize)).reason is Reason.DAMAGED


def test_large_pages_are_drawn_with_fewer_pixels(tmp_path: Path) -> None:
    art = read(
        tmp_path / "a.pdf", pdf(lambda made, page: setattr(page, "MediaBox", [0, 0, 9000, 9000]))
    )
    assert 19e6 < art.width_px * art.height_px <= 20e6


def test_picture_bombs_within_a_page(tmp_path: Path) -> None:
    def add(made: Any, page: Any) -> None:
        picture = made.make_stream(
            b"", Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image, Width=60_000,
            Height=60_000, ColorSpace=pikepdf.Name.DeviceGray, BitsPerComponent=1,
        )  # fmt: skip
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=picture))
        page.Contents = made.make_stream(b"q 40 0 0 30 0 0 cm /P Do Q")

    fault = refused(tmp_path / "a.pdf", pdf(add))
    assert fault.reason is Reason.TOO_BIG and "60000 x 60000" in fault.say


def nested(form: int) -> Any:
    def add(made: Any, page: Any) -> None:
        inner = made.make_stream(b"0 g 1 1 5 5 re f", Type=pikepdf.Name.XObject)
        for _ in range(form):
            inner.Subtype, inner.BBox = pikepdf.Name.Form, [0, 0, 40, 30]
            outer = made.make_stream(b"/F Do " * 10, Type=pikepdf.Name.XObject)
            outer.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(F=inner))
            inner = outer
        inner.Subtype, inner.BBox = pikepdf.Name.Form, [0, 0, 40, 30]
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(F=inner))
        page.Contents = made.make_stream(b"/F Do")

    return add


def test_nested_forms_are_looked_through_in_bounds(tmp_path: Path) -> None:
    assert read(tmp_path / "a.pdf", pdf(nested(3))).coded.min() == 0


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts connections; the renderers themselves are watched by what they draw."""
    seen: Counter[str] = Counter()
    monkeypatch.setattr(socket.socket, "connect", lambda *_: seen.update(["connect"]))
    return seen


def test_scripts_and_actions_of_documents_do_nothing(tmp_path: Path, watched: Counter[str]) -> None:
    def add(made: Any, page: Any) -> None:
        script = pikepdf.Dictionary(
            S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert(1); this.getField('x')")
        )
        launch = pikepdf.Dictionary(
            S=pikepdf.Name.Launch, F=pikepdf.String(f"touch {tmp_path}/was-run")
        )
        made.Root.OpenAction = script
        made.Root.AA = pikepdf.Dictionary(WC=script)
        page.AA = pikepdf.Dictionary(
            O=launch,
            C=pikepdf.Dictionary(S=pikepdf.Name.URI, URI=pikepdf.String("http://127.0.0.1/")),
        )

    plain = read(tmp_path / "a.pdf", GOOD["a.pdf"])
    loaded = read(tmp_path / "b.pdf", pdf(add))
    assert np.array_equal(plain.coded, loaded.coded)
    assert not watched and {one.name for one in tmp_path.iterdir()} == {"a.pdf", "b.pdf"}


def test_documents_never_open_the_files_that_they_name(tmp_path: Path) -> None:
    secret = tmp_path / "secret.bin"
    secret.write_bytes(bytes(100))  # black, if it were read as ten by ten gray pixels

    def add(made: Any, page: Any) -> None:
        picture = made.make_stream(
            b"", Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image, Width=10, Height=10,
            ColorSpace=pikepdf.Name.DeviceGray, BitsPerComponent=8, F=pikepdf.String(str(secret)),
        )  # fmt: skip
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=picture))
        page.Contents = made.make_stream(b"q 20 0 0 20 0 0 cm /P Do Q 0 g 30 20 5 5 re f")

    with_secret = read(tmp_path / "a.pdf", pdf(add)).coded.copy()
    secret.write_bytes(b"\xff" * 100)
    assert np.array_equal(with_secret, read(tmp_path / "a.pdf", pdf(add)).coded)


def png_file(path: Path) -> Path:
    Image.new("L", (10, 10)).save(path)
    return path


@pytest.mark.parametrize(
    "body",
    [
        '<image width="9" height="9" href="{}"/>',
        '<image width="9" height="9" xlink:href="file://{}"/>',
        '<image width="9" height="9" xlink:href="http://127.0.0.1/a.png"/>',
        '<use xlink:href="{}#a"/>',
        '<filter id="f"><feImage xlink:href="{}"/></filter><rect filter="url(#f)"/>',
        '<pattern xlink:href="{}#a"/>',
    ],
)
def test_drawings_that_want_other_files_are_refused_unopened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, watched: Counter[str], body: str
) -> None:
    secret = png_file(tmp_path / "secret.png")
    monkeypatch.setattr(
        "filmhand.art.drawings.svg._render", lambda *_, **__: pytest.fail("was drawn")
    )
    fault = refused(tmp_path / "a.svg", SVG.format(SQUARE + body.format(secret)))
    assert fault.reason is Reason.DAMAGED and "another file" in fault.say
    assert not watched


def test_hidden_ways_to_name_another_file(tmp_path: Path) -> None:
    secret = png_file(tmp_path / "secret.png")
    image = f'<image width="9" height="9" xlink:href="{secret}"/>'
    inner = SVG.format(image).replace('"', "'").replace("<", "%3C").replace(">", "%3E")
    inner = inner.replace("#", "%23")
    for data in (
        f'<!DOCTYPE svg [<!ENTITY e "{secret}">]>' + SVG.format(image.replace(str(secret), "&e;")),
        f"<!DOCTYPE svg [<!ENTITY e '{image}'>]>" + SVG.format("&e;"),
        SVG.format(f'<image width="9" height="9" xlink:href="data:image/svg+xml,{inner}"/>'),
    ):
        assert refused(tmp_path / "a.svg", data).reason is Reason.DAMAGED
        assert "another file" in refused(tmp_path / "a.svg", data).say


def test_external_entities_are_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("hidden")
    path = tmp_path / "a.svg"
    opened: list[str] = []
    real = builtins.open
    monkeypatch.setattr(
        builtins, "open", lambda file, *a, **k: (opened.append(str(file)), real(file, *a, **k))[1]
    )
    data = f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{secret}">]>' + SVG.format(
        f"<desc>&x;</desc>{SQUARE}"
    )
    assert outcome(path, data) in (None, Reason.DAMAGED)
    assert str(secret) not in opened


def test_scripts_of_drawings_are_not_run_and_told(tmp_path: Path) -> None:
    plain = read(tmp_path / "a.svg", GOOD["a.svg"])
    script = "<script>document.documentElement.remove()</script>"
    art = read(tmp_path / "b.svg", SVG.format(script + SQUARE))
    assert np.array_equal(plain.coded, art.coded)
    assert any("not run" in note for note in art.notes)


def test_animation_stands_still_and_foreign_parts_are_told(tmp_path: Path) -> None:
    body = SQUARE.replace("/>", '><animate attributeName="x" to="9" dur="1s"/></rect>')
    assert any("at rest" in note for note in read(tmp_path / "a.svg", SVG.format(body)).notes)
    body = SQUARE + '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">x</p></foreignObject>'
    assert any("foreignObject" in n for n in read(tmp_path / "a.svg", SVG.format(body)).notes)


def test_swelling_drawings_are_too_big(tmp_path: Path) -> None:
    entities = '<!ENTITY a "' + "x" * 50 + '">' + "".join(
        f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(9)
    )  # fmt: skip
    lol = f"<!DOCTYPE svg [{entities}]>" + SVG.format("<desc>&j;</desc>")
    copies = SQUARE.replace("<rect", '<rect id="a0"') + "".join(
        f'<g id="a{i}">' + f'<use xlink:href="#a{i - 1}"/>' * 10 + "</g>" for i in range(1, 12)
    )
    deep = "<g>" * 5000 + "</g>" * 5000
    for body in (lol, SVG.format(copies), SVG.format(deep)):
        assert refused(tmp_path / "a.svg", body).reason is Reason.TOO_BIG


def test_rings_of_copies_end(tmp_path: Path) -> None:
    ring = '<g id="a"><use xlink:href="#b"/></g><g id="b"><use xlink:href="#a"/></g>'
    assert outcome(tmp_path / "a.svg", SVG.format(ring + SQUARE)) in (None, Reason.DAMAGED)


@pytest.mark.parametrize(
    "size",
    ['width="1e8" height="1e8"', 'width="-5" height="9"', 'viewBox="0 0 0 5"', "",
     'width="9" height="1e-9"', 'viewBox="0 0 inf nan"'],
)  # fmt: skip
def test_drawings_of_impossible_size(tmp_path: Path, size: str) -> None:
    data = SVG.format(SQUARE).replace('viewBox="0 0 40 30"', size)
    assert refused(tmp_path / "a.svg", data).reason is Reason.DAMAGED


def test_fonts_that_are_missing_are_refused_by_name(tmp_path: Path) -> None:
    for text in (
        '<text y="20" font-family="Nosuchface">hi</text>',
        '<text y="20" style="font: bold 12px/1 Nosuchface">hi</text>',
        "<style>text{{font-family:Nosuchface}}</style><text y='20'>hi</text>",
    ):
        fault = refused(tmp_path / "a.svg", SVG.format(text.replace("{{", "{").replace("}}", "}")))
        assert fault.reason is Reason.NOT_ART and "Nosuchface" in fault.say
        assert "outlines" in fault.do


@pytest.mark.parametrize(
    ("name", "module"), [("a.pdf", "pypdfium2"), ("a.svg", "resvg_py"), ("a.heic", "pillow_heif")]
)
def test_without_its_library_a_kind_is_refused_and_the_addition_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, module: str
) -> None:
    def missing(wanted: str) -> Any:
        if wanted.startswith(module):
            raise ModuleNotFoundError(wanted)
        return __import__(wanted)

    monkeypatch.setattr("filmhand.art.files.extras.importlib.import_module", missing)
    boxes = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0\0\0\x08meta" + b"\0\0\0\x08mdat"
    fault = refused(tmp_path / name, GOOD.get(name, boxes))
    assert fault.reason is Reason.NOT_ART
    assert re.search(r"pip install .*filmhand\[art\]", fault.do)
