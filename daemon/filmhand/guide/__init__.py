"""The longer pages, kept in the package so that they can be read without a network."""

from __future__ import annotations

from importlib import resources

GLOSSARY = "glossary"
"""The page whose table leads from words that people know to those of the program."""


def page_names() -> list[tuple[str, str]]:
    """Name and title of every page, in reading order."""
    folder = resources.files(__name__)
    pages = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".md"))
    return [(name[3:-3], _title(name)) for name in pages]


def read_page(name: str) -> str:
    """The text of one page; KeyError where there is none of that name."""
    for entry in resources.files(__name__).iterdir():
        if entry.name.endswith(".md") and entry.name[3:-3] == name:
            return entry.read_text(encoding="utf-8")
    raise KeyError(name)


def picture_path(name: str) -> str:
    """Where a picture lies that a page shows, for people to open."""
    return str(resources.files(__name__) / name)


def index_page() -> str:
    """All pages with their sections, as a page."""
    lines = ["# What stands where", ""]
    for name, title in page_names():
        sections = [
            line.lstrip("# ") for line in read_page(name).splitlines() if line.startswith("## ")
        ]
        lines += [f"**{name}**: {title}", "", *(f"- {section}" for section in sections), ""]
    return "\n".join(lines)


def _title(file: str) -> str:
    first = (resources.files(__name__) / file).read_text(encoding="utf-8").splitlines()[0]
    return first.lstrip("# ").strip()
