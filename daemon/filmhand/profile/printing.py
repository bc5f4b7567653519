"""Which printer a film goes to, and how many sheets may go there."""

from __future__ import annotations

import re

from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.values import NotAWordError, is_number, read_parts, whole
from filmhand.values import dataclass

MOST_COPIES = 99
MOST_SHEETS_A_DAY = 100_000
_SCALE_PERCENT = (90.0, 110.0)
_KEYWORD = r"[A-Za-z0-9][A-Za-z0-9._-]{0,254}"  # a keyword or name of RFC 8011, 5.1.4
_URI = (
    r"ipps?://(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::(\d{1,5}))?"
    r"(?:/[A-Za-z0-9._~!$&'()*+,;=:@%/-]{0,1000})?"
)
_SHA256 = r"[0-9a-f]{64}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintWishes:
    """How films reach the acetate.

    Attributes
    ----------
    printer : URI of an IPP printer; None where films are printed by hand
    media, tray : keywords or names that the printer offers; None for the best of those for film
    copies : sheets of each film
    certificate : SHA-256 of the printer's own certificate, lower-case hexadecimal digits
    scale : what 1 across and 1 down measure on the printer's film
    """

    printer: str | None = None
    media: str | None = None
    tray: str | None = None
    copies: int = 1
    certificate: str | None = None
    scale: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Budget:
    """Sheets a day, of the whole profile and of one person; None where there is no limit."""

    day: int | None = None
    person: int | None = None


def read_print(value: object) -> PrintWishes | None:
    """``off`` (None), or a group with the printer's address.

    >>> read_print({"printer": "ipp://film-printer.local/ipp/print"}).copies
    1
    """
    if value == "off" or value is False:
        return None
    if not isinstance(value, dict):
        raise NotAWordError(("off",), more=Allowed.PRINT.say())
    readers = {
        "printer": _read_printer,
        "media": _read_keyword,
        "tray": _read_keyword,
        "copies": whole(1, MOST_COPIES),
        "certificate": _read_certificate,
        "scale": read_scale,
    }
    return PrintWishes(**read_parts(value, readers))


def read_budget(value: object) -> Budget | None:
    """``off`` (None), or sheets a day: ``{day: 40, person: 3}``."""
    if value == "off" or value is False:
        return None
    if not isinstance(value, dict) or not value:
        raise NotAWordError(("off",), more=Allowed.BUDGET.say())
    sheets = whole(1, MOST_SHEETS_A_DAY)
    return Budget(**read_parts(value, {"day": sheets, "person": sheets}))


def _read_printer(value: object) -> str | None:
    if value is None:
        return None
    found = re.fullmatch(_URI, value) if isinstance(value, str) else None
    if not isinstance(value, str) or not found or not 1 <= int(found[1] or 631) <= 65535:
        raise ValueError(Allowed.PRINTER.say())
    return value


def _read_keyword(value: object) -> str | None:
    if value == "auto":
        return None
    if not isinstance(value, str) or not re.fullmatch(_KEYWORD, value):
        raise ValueError(Allowed.PRINTER_KEYWORD.say())
    return value


def _read_certificate(value: object) -> str | None:
    if value is None:
        return None
    digits = value.replace(":", "").lower() if isinstance(value, str) else ""
    if not re.fullmatch(_SHA256, digits):
        raise ValueError(Allowed.CERTIFICATE.say())
    return digits


def read_scale(value: object) -> tuple[float, float]:
    """Two percentages as factors.

    >>> read_scale(["99.6 %", 100.2])
    (0.996, 1.002)
    """
    low, high = _SCALE_PERCENT
    allowed = Allowed.SCALE.say(low=f"{low:g}", high=f"{high:g}")
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(allowed)
    across, down = (_read_percent(one, allowed) for one in value)
    return across / 100, down / 100


def _read_percent(value: object, allowed: str) -> float:
    found = re.fullmatch(
        r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*%?\s*", value if isinstance(value, str) else ""
    )
    if is_number(value):
        percent = float(value)  # type: ignore[arg-type]
    elif found:
        percent = float(found[1])
    else:
        raise ValueError(allowed)
    if not _SCALE_PERCENT[0] <= percent <= _SCALE_PERCENT[1]:
        raise ValueError(allowed)
    return percent
