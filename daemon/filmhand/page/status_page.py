"""The status page of a station: one file without outside parts, to open on any computer.

Names come from strangers: everything is escaped, and the page's own policy lets nothing run but
the one script whose hash it names. The script loads the page again, and can be held still; a
page that reloads itself without a switch fails WCAG 2.2, success criterion 2.2.1.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from html import escape
from importlib import resources
from typing import Any

from filmhand.language import spoken
from filmhand.page.markup import escaped, isolated, time_tag
from filmhand.page.page_entries import Links, held_entry, made_entry, refused_entry, since_refused
from filmhand.page.page_printers import printers_part
from filmhand.page.page_profiles import KEPT, profile_part
from filmhand.page.page_words import PageCount, PageWord

_AT_ONCE = 30  # entries that are shown before somebody asks for older ones
_REFUSED_AT_ONCE = 3
_POLICY = (
    "default-src 'none'; img-src 'self' file:; style-src 'sha256-{style}'; "
    "script-src 'sha256-{script}'; base-uri 'none'; form-action 'none'"
)


def status_page(
    status: Mapping[str, Any], links: Links | None = None, *, served: bool = False
) -> str:
    """The page of a status as :meth:`filmhand.service.Station.status` gives it.

    Parameters
    ----------
    links : the relative path to each profile's folder; by default the ``link`` of its entry, which
        is None if a page on the station cannot reach it (no pictures then)
    served : by a server, which does not show the drop folders
    """
    profiles = list(status["profiles"])
    if links is None:
        links = {profile["name"]: profile.get("link") for profile in profiles}
    words = json.dumps(
        {key: PageWord[key.upper()].say() for key in ("hold", "follow", "away", "back")}
    )
    main = [
        _notices(status),
        _sums(status),
        _choose(profiles),
        _to_look_at(status, links),
        _profiles(profiles, links, served=served),
        printers_part(status.get("printers", ())),
        _latest(status, links),
    ]
    return (
        "<!doctype html>\n"
        f'<html lang="{escape(spoken(), quote=True)}" data-station="{escaped(status["station"])}" '
        f'data-running="{"yes" if status["running"] else "no"}"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy())}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escaped(_title(status))}</title>\n<style>{_asset('status.css')}</style></head>\n"
        f"<body>\n{_header(status)}\n<main>\n"
        + "\n".join(filter(None, main))
        + f'\n</main>\n<script type="application/json" id="words">{_in_script(words)}'
        f"</script>\n<script>{_asset('status.js')}</script>\n</body></html>\n"
    )


@cache
def policy() -> str:
    """The page's content security policy, for itself and for a server's header."""
    return _POLICY.format(style=_hash(_asset("status.css")), script=_hash(_asset("status.js")))


@cache
def _asset(name: str) -> str:
    return (resources.files("filmhand.page") / "assets" / name).read_text(encoding="utf-8")


def _in_script(data: str) -> str:
    """JSON that cannot end the element that it stands in."""
    return data.replace("<", "\\u003c")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _title(status: Mapping[str, Any]) -> str:
    sums = status["counts"]
    return PageWord.TITLE.say(
        todo=sums["waiting"] + sums["working"],
        made=sums["made"],
        refused=sums["refused"],
        station=status["station_name"],
    )


def _header(status: Mapping[str, Any]) -> str:
    state = (
        f'<span class="good">&#9679; {PageWord.AT_WORK.say()}</span>'
        if status["running"]
        else f'<span class="bad">&#9632; {PageWord.NOT_RUNNING.say()}</span>'
    )
    return (
        f"<header><h1>{isolated(status['station_name'])}</h1>"
        f'<p role="status">{state} <span class="soft">{PageWord.AS_OF.say()} '
        f"{time_tag(str(status['at']), identity='written')}</span></p>"
        f'<button id="pause" type="button" hidden>{PageWord.HOLD.say()}</button></header>'
    )


def _notices(status: Mapping[str, Any]) -> str:
    lines = [str(fault) for fault in status["faults"]]
    lines += [f"{p['name']}: {p['paused']}" for p in status["profiles"] if p["paused"]]
    stale = f'<p id="stale" class="notice" hidden>{PageWord.STALE.say()}</p>'
    return stale + "".join(f'\n<p class="notice">{isolated(line)}</p>' for line in lines)


def _sums(status: Mapping[str, Any]) -> str:
    sums = status["counts"]
    held = sum(profile.get("held_count", 0) for profile in status["profiles"])
    shown = [
        (sums["waiting"], PageCount.WAITING),
        (sums["working"], PageCount.IN_WORK),
        (sums["made"], PageCount.MADE),
        (sums["refused"], PageCount.REFUSED),
    ]
    shown += [(held, PageCount.HELD)] if held else []
    items = "".join(
        f"<li>{word.say(count, number=f'<b>{count}</b>')}</li>" for count, word in shown
    )
    return f'<ul class="sums">{items}</ul>'


def _choose(profiles: Sequence[Mapping[str, Any]]) -> str:
    """Search and filters, which a script makes work."""
    search = PageWord.SEARCH.say()
    kinds = [
        ("", PageWord.ALL),
        ("made", PageWord.MADE),
        ("warned", PageWord.WARNED),
        ("refused", PageWord.REFUSED),
    ]
    names = [("", escape(PageWord.ALL_PROFILES.say()))]
    names += [(profile["name"], isolated(profile["name"])) for profile in profiles]
    by_profile = _choices("profile", PageWord.PROFILE, names) if len(profiles) > 1 else ""
    by_kind = _choices("kind", PageWord.SHOW, [(k, escape(w.say())) for k, w in kinds])
    return (
        f'<form id="choose" role="search" hidden><input type="search" id="search" '
        f'aria-label="{search}" placeholder="{search}" autocomplete="off">'
        f"{by_kind}{by_profile}</form>"
    )


def _choices(name: str, legend: PageWord, choices: Iterable[tuple[str, str]]) -> str:
    inside = "".join(
        f'<label><input type="radio" name="{name}" value="{escaped(value)}"'
        f"{' checked' if not value else ''}> {words}</label>"
        for value, words in choices
    )
    return f"<fieldset><legend>{legend.say()}</legend>{inside}</fieldset>"


def _to_look_at(status: Mapping[str, Any], links: Links) -> str:
    """What somebody should do something about."""
    entries = [
        refused_entry(one, links, whole=True)
        for one in status["refused"][:KEPT]
        if since_refused(one) is None
    ]
    entries += [
        held_entry(one, profile["name"], links)
        for profile in status["profiles"]
        for one in profile.get("held", ())[:KEPT]
    ]
    return _section(
        "look", PageWord.TO_LOOK_AT, entries, _REFUSED_AT_ONCE, PageWord.NOTHING_TO_LOOK_AT, 0
    )


def _latest(status: Mapping[str, Any], links: Links) -> str:
    both = [(one["at"], 0, made_entry(one, links)) for one in status["made"][:KEPT]]
    both += [
        (one["at"], 1, refused_entry(one, links, whole=False)) for one in status["refused"][:KEPT]
    ]
    both.sort(key=lambda one: one[:2], reverse=True)
    sums = status["counts"]
    more = sums["made"] + sums["refused"] - len(both)
    entries = [entry for *_, entry in both]
    return _section("latest", PageWord.LATEST, entries, _AT_ONCE, PageWord.NOTHING_YET, more)


def _section(
    key: str, title: PageWord, entries: Sequence[str], first: int, empty: PageWord, more: int
) -> str:
    """A list of which the first entries are shown, the others when asked for."""
    head = f'<section data-list="{key}" aria-labelledby="{key}"><h2 id="{key}">{title.say()}</h2>'
    if not entries:
        return f'{head}<p class="soft">{empty.say()}</p></section>'
    body = _list(entries[:first])
    older = entries[first:]
    if older:
        body += (
            f'<details class="older" id="older-{key}"><summary>{PageCount.OLDER.say(len(older))}'
            f"</summary>{_list(older)}</details>"
        )
    if more > 0:
        body += f'<p class="soft">{PageCount.NOT_SHOWN.say(more)}</p>'
    none_found = f'<p class="soft none-found" hidden>{PageWord.NONE_FOUND.say()}</p>'
    return f"{head}{body}{none_found}</section>"


def _list(entries: Sequence[str]) -> str:
    return '<ol class="entries">' + "\n".join(entries) + "</ol>"


def _profiles(profiles: Sequence[Mapping[str, Any]], links: Links, *, served: bool) -> str:
    parts = "\n".join(
        profile_part(profile, links.get(profile["name"]), served=served) for profile in profiles
    )
    title = PageWord.PROFILES.say()
    return f'<section aria-labelledby="profiles"><h2 id="profiles">{title}</h2>{parts}</section>'
