"""What a shop full of strangers drops: good art, bad art, hostile art, odd names, odd manners."""

from __future__ import annotations

import errno
import io
import os
import random
import struct
import time
import zlib
from collections import Counter
from pathlib import Path

from PIL import Image, ImageDraw

from filmhand.disk.atomic import rename_no_replace

_NAMES = (
    "poster", "logo", "class 4", "Größe – façade", "it's <b>", "-rf", "CON", "=1+1", "a\nb\x1b[31m",
    "\u202egnp", "x" * 200, "漢字", "$(reboot)", "100%", "caf\udce9",
)  # fmt: skip
_RED, _BLUE = "#b3261e", "#2038a0"
_INKS = (
    f'inks: [{{name: red, color: "{_RED}"}}, {{name: blue, color: "{_BLUE}"}}]\n'
    "separate: spot\nart: {treat: line}"
)
_ENDS = {"PNG": ".png", "JPEG": ".jpg", "TIFF": ".tif", "GIF": ".gif", "BMP": ".bmp", "WEBP": ""}


class Dropper:
    """Drops files into one folder and counts every content; single-threaded, seeded."""

    def __init__(self, drop: Path, chance: random.Random) -> None:
        self.drop = drop
        self.contents: Counter[bytes] = Counter()
        self.number = 0
        self.kinds: Counter[str] = Counter()
        self.failed = 0
        self._chance = chance
        self._open: list[tuple[float, int, bytes]] = []  # when, descriptor, what is to come
        self._seen: list[bytes] = []

    # --- what ------------------------------------------------------------------------------------

    def one(self) -> None:
        """Drop one thing, in one of the ways in which people and programs do."""
        kind = self._chance.choices(
            [
                "good",
                "pages",
                "again",
                "spoiled",
                "refused",
                "bomb",
                "junk",
                "ticket",
                "odd",
                "set",
            ],
            [40, 6, 8, 14, 12, 3, 5, 8, 4, 8],
        )[0]
        self.number += 1
        self.kinds[kind] += 1
        form = self._chance.choice(list(_ENDS))
        name = self._chance.choice(_NAMES) + _ENDS[form]
        if self._chance.random() < 0.1:
            name = f"class {self._chance.randrange(3)}/{name}"
        try:
            self._one(kind, form, name)
        except OSError as error:
            if error.errno not in {errno.ENOSPC, errno.EEXIST}:
                raise
            self.failed += 1

    def _one(self, kind: str, form: str, name: str) -> None:
        match kind:
            case "good":
                self._put(name, self.picture(form))
            case "pages":
                self._put(name, self.picture("TIFF", pages=2))
            case "again":
                self._put(name, self._chance.choice(self._seen or [b"nothing yet"]))
            case "spoiled":
                self._put(name, self._spoiled(self.picture(form)))
            case "refused":
                self._put(name, self._chance.choice([b"%PDF-1.4 ", b"PK\3\4", b"a letter "])
                          + b"%d" % self.number)  # fmt: skip
            case "bomb":
                self._put(name, _bomb(self.number))
            case "junk":
                self._put(name, self._chance.choice([b"", self._chance.randbytes(3000)]))
            case "ticket":
                wish = self._chance.choice(
                    ["lpi: 12", "lpi: many", "marks: {label: false}", "sheet: a4"]
                )
                self._with_ticket(name, self.picture(form), wish)
            case "set":
                self._with_ticket(name, self.flat_colors(form), _INKS)
            case _:
                self._odd(name)

    def picture(self, form: str, *, pages: int = 1) -> bytes:
        """A small sound picture that no other is like."""
        side = self._chance.randrange(40, 90)
        image = Image.new("L", (side, 60), 255)
        draw = ImageDraw.Draw(image)
        for _ in range(4):
            corner = self._chance.randrange(30), self._chance.randrange(30)
            box = (*corner, corner[0] + 25, corner[1] + 25)
            draw.ellipse(box, fill=self._chance.randrange(40, 200))
        for bit in range(20):  # its number in dots, so that each content is another
            image.putpixel((bit, 0), 0 if self.number >> bit & 1 else 255)
        buffer = io.BytesIO()
        more = {"save_all": True, "append_images": [image] * (pages - 1)} if pages > 1 else {}
        image.save(buffer, form, **more)
        return buffer.getvalue()

    def flat_colors(self, form: str) -> bytes:
        """A small drawing of two inks that no other is like."""
        image = Image.new("RGB", (80, 80), "white")
        draw = ImageDraw.Draw(image)
        draw.rectangle((2, 20, 38, 60), fill=_RED)
        draw.rectangle((42, 20, 70, 60), fill=_BLUE)
        for bit in range(20):
            if self.number >> bit & 1:
                draw.rectangle((4 * (bit % 10), 64 + 8 * (bit // 10), 4 * (bit % 10) + 3,
                                67 + 8 * (bit // 10)), fill=_RED)  # fmt: skip
        buffer = io.BytesIO()
        image.save(buffer, form)
        return buffer.getvalue()

    def _spoiled(self, data: bytes) -> bytes:
        spoiled = bytearray(data)
        for _ in range(self._chance.randrange(1, 6)):
            spoiled[self._chance.randrange(12, len(spoiled))] ^= 1 << self._chance.randrange(8)
        match self._chance.randrange(4):
            case 0:
                del spoiled[self._chance.randrange(20, len(spoiled)) :]
            case 1:
                keep = self._chance.randrange(20, len(spoiled))
                spoiled[keep:] = bytes(len(spoiled) - keep)
        return bytes(spoiled)

    # --- how -------------------------------------------------------------------------------------

    def _free(self, name: str) -> Path:
        path = self.drop / name
        path.parent.mkdir(exist_ok=True)
        return path

    def _put(self, name: str, data: bytes) -> None:
        """Under a name for the time being and then renamed, or written in place, or slowly."""
        path = self._free(name)
        way = self._chance.random()
        if way < 0.7 or len(data) < 100:
            part = self.drop / f".{self.number}.part"
            try:
                part.write_bytes(data)
                if not rename_no_replace(part, path):
                    raise OSError(errno.EEXIST, "this system cannot rename without replacing")
            except OSError:
                part.unlink(missing_ok=True)
                raise
        else:
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            half = self._chance.randrange(len(data)) if way < 0.9 else 0
            self._write(descriptor, data[:half])
            self._open.append((time.monotonic() + self._chance.uniform(0, 3), descriptor, data))
        self.contents[data] += 1
        self._seen = [*self._seen[-30:], data]

    def _write(self, descriptor: int, data: bytes) -> None:
        try:
            os.pwrite(descriptor, data, 0)
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise

    def writing(self) -> bool:
        """True while a slow copy is under way."""
        return bool(self._open)

    def go_on(self, *, at_once: bool = False) -> None:
        """End the slow copies whose time has come."""
        now = time.monotonic()
        for one in list(self._open):
            due, descriptor, data = one
            if at_once or now >= due:
                os.pwrite(descriptor, data, 0)
                os.ftruncate(descriptor, len(data))
                os.close(descriptor)
                self._open.remove(one)

    def _with_ticket(self, name: str, art: bytes, wish: str) -> None:
        """Art with a ticket, right or wrong, sometimes with a mask; the art last."""
        path = self._free(name)
        if path.exists() or len(path.name) > 200:
            return
        companions = [(f"{path.name}.ticket.yaml", f"{wish}  # {self.number}\n".encode())]
        if wish != _INKS and self._chance.random() < 0.3:  # no set has a mask
            companions.append((f"{path.name}.clear.png", self.picture("PNG")))
        written: list[Path] = []
        try:
            for companion, data in [*companions, (path.name, art)]:
                part = self.drop / f".{companion[-20:]}.part"
                part.write_bytes(data)
                written.append(part)
            # The art goes last, or it might be taken before its ticket is there.
            for part, (companion, data) in zip(
                written, [*companions, (path.name, art)], strict=True
            ):
                if not rename_no_replace(part, path.with_name(companion)):
                    raise OSError(errno.EEXIST, "this system cannot rename without replacing")
                self.contents[data] += 1
        finally:
            for part in written:
                part.unlink(missing_ok=True)

    def supply_missing_art(self) -> None:
        """Give art to a ticket or mask that is alone, which would be waited for."""
        for path in self.drop.rglob("*"):
            for end in (".ticket.yaml", ".clear.png"):
                art = path.with_name(path.name.removesuffix(end))
                if path.name.endswith(end) and not os.path.lexists(art):
                    self.number += 1
                    data = self.picture("PNG")
                    art.write_bytes(data)
                    self.contents[data] += 1

    def _odd(self, name: str) -> None:
        """What is no file: it is left alone."""
        path = self._free(f"odd {self.number} {Path(name).name[:40]}")
        if self._chance.random() < 0.5:
            path.symlink_to("/etc/hostname")
        else:
            os.mkfifo(path)


def _bomb(number: int) -> bytes:
    """A PNG of 900 megapixels in some kilobytes."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + check

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 1, 0, 0, 0, 0)
    note = chunk(b"tEXt", b"Comment\0%d" % number)
    data = chunk(b"IDAT", zlib.compress(bytes(3751 * 300), 9))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + note + data + chunk(b"IEND", b"")
