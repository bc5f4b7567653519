"""Looking words up in the guide: names of pages first, then where the words stand, best first."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Iterator, Sequence

from filmhand.guide import GLOSSARY, page_names, read_page
from filmhand.values import dataclass

_LONG = 4  # letters from which a word's plural and its other forms count as the word
_ENDINGS = ("ing", "ed", "es", "s", "e")


@dataclass(frozen=True, slots=True)
class GuideHit:
    """A paragraph, table row or example in which all words stand.

    Attributes
    ----------
    page, section : where; the section is the nearest heading above
    text : the paragraph on one line
    rank : how well it fits; more is better
    """

    page: str
    section: str
    text: str
    rank: int


def pages_named(words: Sequence[str]) -> list[tuple[str, str]]:
    """Names and titles of the pages whose name or title has one of the words."""
    patterns = [_pattern(word) for word in words]
    return [
        (name, title)
        for name, title in page_names()
        if any(pattern.search(f"{name} {title}") for pattern in patterns)
    ]


def find_in_guide(words: Sequence[str]) -> list[GuideHit]:
    """Every place in which all the words stand, the best first.

    Best are the glossary's rows for such a word, then what stands below a heading with it, then
    pages in which it comes up often.
    """
    patterns = [_pattern(word) for word in words]
    hits = []
    for name, _ in page_names():
        found = [
            (section, text)
            for section, text in _paragraphs(read_page(name))
            if all(pattern.search(f"{section} {text}") for pattern in patterns)
            and any(pattern.search(text) for pattern in patterns)
        ]
        for section, text in found:
            rank = min(len(found), 9)
            if all(pattern.search(section) for pattern in patterns):
                rank += 20
            if name == GLOSSARY and all(pattern.search(text.split("|")[1]) for pattern in patterns):
                rank += 100
            hits.append(GuideHit(name, section, text, rank))
    return sorted(hits, key=lambda hit: -hit.rank)


def nearest_words(words: Sequence[str]) -> list[str]:
    """Words of the guide that are spelled much like these, the likeliest first."""
    known = Counter(
        word.lower()
        for name, _ in page_names()
        for word in re.findall(r"[^\W\d_]{3,}", read_page(name))
    )
    near = []
    for word in words:
        near += difflib.get_close_matches(word.lower(), known, n=3, cutoff=0.7)
    return list(dict.fromkeys(near))


def _pattern(word: str) -> re.Pattern[str]:
    """The word at the start of a word, without its ending: expose, exposes and exposing."""
    stem = word.strip().lower()
    for ending in _ENDINGS:
        if stem.endswith(ending) and len(stem) - len(ending) >= _LONG:
            stem = stem.removesuffix(ending)
            break
    return re.compile(rf"\b{re.escape(stem)}", re.IGNORECASE)


def _paragraphs(page: str) -> Iterator[tuple[str, str]]:
    """Each paragraph, table row and line of an example, with the heading that it stands under."""
    section, gathered = "", list[str]()
    for line in [*page.splitlines(), ""]:
        alone = line.startswith(("|", "    ", "#"))
        if gathered and (alone or not line.strip() or re.match(r"\s*(?:- |\d+\. )", line)):
            yield section, " ".join(gathered)
            gathered = []
        if line.startswith("#"):
            section = line.lstrip("# ")
        elif re.fullmatch(r"\|[-| ]+\|", line):
            continue
        elif alone:
            yield section, line.strip()
        elif line.strip():
            gathered.append(line.strip())
