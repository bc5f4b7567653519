"""The pixels of Netpbm files and portable float maps."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.art.formats.decoded_pixels import DecodedPixels
from filmhand.art.formats.netpbm import NetpbmHead, netpbm_head


def read_netpbm(data: bytes) -> DecodedPixels:
    """The first picture of a file.

    Raises
    ------
    ValueError
        Where it breaks off, or has numbers larger than it says.
    """
    head = netpbm_head(data)
    if head is None:
        raise ValueError("the head breaks off")
    shape = head.height, head.width, head.channels
    if head.kind in "Ff":
        kind = "<f4" if head.most else ">f4"
        count = head.height * head.width * head.channels
        pixels: NDArray[Any] = np.frombuffer(data, kind, count, head.at).reshape(shape)[::-1]
        return DecodedPixels(pixels.astype(np.float32), "L" if head.channels == 1 else "RGB")
    if head.kind in "123":
        values = _written(data[head.at - 1 :], head)
    elif head.kind == "4":
        rows = (head.width + 7) // 8
        packed = np.frombuffer(data, np.uint8, rows * head.height, head.at)
        values = np.unpackbits(packed.reshape(head.height, rows), axis=1)[:, : head.width]
    else:
        count = head.height * head.width * head.channels
        values = np.frombuffer(data, ">u2" if head.most > 255 else "u1", count, head.at)
    pixels = _filling(values.reshape(shape), head)
    if head.kind in "14":  # ink is 1
        pixels = 255 - pixels
    opacity = head.channels in (2, 4)
    return DecodedPixels(pixels, "L" if head.channels < 3 else "RGB", opacity)


def _written(text: bytes, head: NetpbmHead) -> NDArray[Any]:
    """Numbers written as text; those of a bitmap need nothing between them."""
    text = re.sub(rb"#[^\n]*", b"", text)
    count = head.height * head.width * head.channels
    if head.kind == "1":
        digits = np.frombuffer(text, np.uint8)
        values: NDArray[Any] = digits[(digits == ord("0")) | (digits == ord("1"))] - ord("0")
    else:
        values = np.array(text.split(maxsplit=count)[:count]).astype(np.int64)
    if len(values) < count:
        raise ValueError("there are fewer numbers than pixels")
    return values[:count]


def _filling(values: NDArray[Any], head: NetpbmHead) -> NDArray[Any]:
    """Numbers 0..most as uint8 or uint16 that fill their type, rounded."""
    if values.size and values.max() > head.most:
        raise ValueError("a number is larger than the largest")
    if head.most in (255, 65535):
        return values.astype(np.uint8 if head.most == 255 else np.uint16)
    full, kind = (255, np.uint8) if head.most < 255 else (65535, np.uint16)
    table = (np.arange(head.most + 1) * full + head.most // 2) // head.most
    filled: NDArray[Any] = table.astype(kind)[values]
    return filled
