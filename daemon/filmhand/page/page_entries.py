"""What was made, refused and held, each as an entry of a list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.page.markup import address, escaped, isolated, link, time_tag
from filmhand.page.page_words import PageCount, PageWord, ProofCaption
from filmhand.page.swatch import swatch_color
from filmhand.page.why_note import quantity_text

Links = Mapping[str, str | None]
"""The relative path to each profile's folder; None where a page on the station cannot reach it."""


def made_entry(entry: Mapping[str, Any], links: Links) -> str:
    """A job that made films; one with a warning says which, and what to know."""
    folder = links.get(entry["profile"])
    films = entry["films"]
    warnings, reminders = _said_of(films, "warnings"), _said_of(films, "reminders")
    left_out: list[str] = next((film["left_out"] for film in films if film.get("left_out")), [])
    if warnings:
        verdict = f'<span class="warn">&#9888; {PageWord.MADE_WARNED.say()}</span>'
    else:
        word = PageWord.MADE if films else PageWord.WAS_READ
        verdict = f'<span class="good">&#10003; {word.say()}</span>'
    said = "".join(f"<li>{isolated(words)}</li>" for words in (*warnings, *reminders, *left_out))
    body = _head(entry, verdict) + (f"<ul>{said}</ul>" if said else "")
    of_sets = [film for film in films if film.get("set")]
    body += _sets(of_sets, folder)
    links_row = [one for film in films if film not in of_sets for one in _film_links(film, folder)]
    links_row += _proofs_of_sets(of_sets, folder)
    if folder is not None and entry.get("original"):
        path = (folder, "originals", *entry["original"].split("/"))
        links_row.append(link(path, PageWord.ORIGINAL.say()))
    kinds = "made warned" if warnings or left_out else "made"
    picture = ""
    if folder is not None and films:
        picture = _picture(films[0], folder, (films[0].get("set") or {}).get("stem"))
    return _item(entry, kinds, body, links_row, picture)


def _said_of(films: Sequence[Mapping[str, Any]], key: str) -> list[str]:
    """Each sentence once; of a set with the inks that it is said of, unless it is of all."""
    inks: dict[str, list[str]] = {}
    for film in films:
        for said in film.get(key, ()):
            inks.setdefault(said, []).append((film.get("set") or {}).get("ink", ""))
    return [
        said
        if len(named) == len(films) or not all(named)
        else f"{', '.join(dict.fromkeys(named))}: {said}"
        for said, named in inks.items()
    ]


def _sets(films: Sequence[Mapping[str, Any]], folder: str | None) -> str:
    """The films of each set, ink by ink, under one heading a set."""
    sets: dict[str, list[Mapping[str, Any]]] = {}
    for film in films:
        sets.setdefault(film["set"]["id"], []).append(film)
    parts = []
    for one in sets.values():
        rows = "".join(f"<li>{_film_of_set(film, folder)}</li>" for film in one)
        count = PageCount.FILMS_OF_SET.say(one[0]["set"]["of"])
        stem = one[0]["set"].get("stem")
        name = f" {isolated(stem)}" if stem and len(sets) > 1 else ""
        parts.append(f'<p class="soft">{count}{name}</p><ol class="inks">{rows}</ol>')
    return "".join(parts)


def _film_of_set(film: Mapping[str, Any], folder: str | None) -> str:
    picture = "" if folder is None else _picture(film, folder)
    links = "".join(f"<li>{one}</li>" for one in _film_links(film, folder))
    return f'{picture}<div>{ink_field(film["set"])}<ul class="links">{links}</ul></div>'


def ink_field(place: Mapping[str, Any]) -> str:
    """The ink of a film of a set, with its number there and a field of its color."""
    color = f"#{bytes(swatch_color(place['color'])).hex()}"
    alternative = escaped(PageWord.INK_COLOR.say(color=color))
    # The page's policy takes no style of an element, but a drawing's own attributes.
    swatch = (
        f'<svg class="swatch" role="img" aria-label="{alternative}" viewBox="0 0 1 1">'
        f'<rect width="1" height="1" fill="{color}"></rect></svg>'
    )
    said = ProofCaption.FILM_OF_INK.say(k=place["k"], of=place["of"], ink=place["ink"])
    return f'<span class="ink">{swatch} {isolated(said)}</span>'


def _proofs_of_sets(films: Sequence[Mapping[str, Any]], folder: str | None) -> list[str]:
    if folder is None:
        return []
    places = dict.fromkeys(
        (film["folder"], film["set"]["stem"]) for film in films if film["set"].get("stem")
    )
    return [
        link((folder, "proofs", sub, f"{stem}.jpg"), PageWord.PROOF_OF_SET.say())
        for sub, stem in places
    ]


def _film_links(film: Mapping[str, Any], folder: str | None) -> list[str]:
    if folder is None:
        return [isolated(name) for name in film["files"]]
    sub, stem = film["folder"], film["stem"]
    row = [link((folder, "positives", sub, name), isolated(name)) for name in film["files"]]
    row.append(link((folder, "proofs", sub, f"{stem}.jpg"), PageWord.PROOF.say()))
    row.append(link((folder, "records", sub, f"{stem}.json"), PageWord.RECORD.say()))
    return row


def _picture(film: Mapping[str, Any], folder: str, stem: str | None = None) -> str:
    """The proof of a film, or of another `stem` beside it."""
    stem = stem or film["stem"]
    source = address((folder, "proofs", film["folder"], f"{stem}.jpg"))
    alternative = escaped(PageWord.PROOF_OF.say(name=stem))
    return (
        f'<a href="{source}"><img class="proof" src="{source}" alt="{alternative}" '
        'loading="lazy" width="72" height="72"></a>'
    )


def refused_entry(entry: Mapping[str, Any], links: Links, *, whole: bool) -> str:
    """A refusal; ``whole`` tells what to do as well, and can be put away."""
    verdict = f'<span class="bad">&#10007; {PageWord.REFUSED.say()}</span>'
    found, needed = quantity_text(entry.get("found")), quantity_text(entry.get("needed"))
    measured = [PageWord.FOUND.say(found=found)] if found else []
    measured += [PageWord.NEEDED.say(needed=needed)] if needed else []
    body = _head(entry, verdict)
    if since := since_refused(entry):
        body += f'<p class="good">&#10003; {since.say()}</p>'
    body += f"<p>{isolated(entry['say'])}</p>"
    if whole:
        body += f"<p>{isolated(' '.join(measured))}</p>" if measured else ""
        body += f'<p class="soft">{isolated(entry["do"])}</p>'
    row = []
    folder, kept = links.get(entry["profile"]), entry.get("kept")
    if folder is not None and kept:
        path = (folder, "rejected", *kept.split("/"))
        row.append(link((*path[:-1], f"{path[-1]}.why.txt"), PageWord.NOTE.say()))
        row.append(link(path, PageWord.ORIGINAL.say()))
    if whole:
        row.append(f'<button class="away" type="button" hidden>{PageWord.AWAY.say()}</button>')
    return _item(entry, "refused", body, row, refusal=whole)


def since_refused(entry: Mapping[str, Any]) -> PageWord | None:
    """What has come of it since, so that nobody need do anything about the refusal."""
    if entry.get("after_all"):
        return PageWord.AFTER_ALL
    return PageWord.TRIED_AGAIN if entry.get("tried_again") else None


def held_entry(entry: Mapping[str, Any], profile: str, links: Links) -> str:
    """A finished film that waits for somebody, or for the next day."""
    folder, film = links.get(profile), entry["film"]
    entry = {**entry, "profile": profile}
    verdict = f'<span class="busy">&#8214; {PageWord.HELD.say()}</span>'
    body = _head(entry, verdict)
    body += f"<p>{isolated(PageWord.HELD_UNTIL.say(why=entry['why']))}</p>"
    body += f'<p class="soft">{isolated(PageWord.UNTIL.say(until=entry["until"]))}</p>'
    if places := entry.get("inks"):
        inks = "".join(f"<li>{ink_field(place)}</li>" for place in places)
        count = PageCount.FILMS_OF_SET.say(len(places))
        body += f'<p class="soft">{count}</p><ol class="inks">{inks}</ol>'
    row = []
    if folder is not None:
        row.append(link((folder, "held", *entry["proof"].split("/")), PageWord.PROOF.say()))
        row.append(link((folder, "held", *f"{film}.why.txt".split("/")), PageWord.NOTE.say()))
    return _item(entry, "held", body, row)


def _head(entry: Mapping[str, Any], verdict: str) -> str:
    whose = f'<span class="soft">{isolated(entry["for"])}</span>' if entry.get("for") else ""
    return (
        f'<div class="head"><h3>{isolated(entry["name"])}</h3>{verdict}'
        f'<span class="soft">{isolated(entry["profile"])}</span>{whose}'
        f'<span class="soft">{time_tag(entry["at"])}</span></div>'
    )


def _item(
    entry: Mapping[str, Any],
    kinds: str,
    body: str,
    links_row: Sequence[str],
    picture: str = "",
    *,
    refusal: bool = False,
) -> str:
    links = "".join(f"<li>{one}</li>" for one in links_row)
    row = f'<ul class="links">{links}</ul>' if links else ""
    return (
        f"<li{'' if picture else ' class=' + chr(34) + 'plain' + chr(34)} data-entry "
        f'data-job="{escaped(entry.get("job", ""))}" data-kind="{kinds}"'
        f'{" data-refusal" if refusal else ""} data-profile="{escaped(entry["profile"])}">'
        f'{picture}<div class="said">{body}{row}</div></li>'
    )
