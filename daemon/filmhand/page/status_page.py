"""The status page of a station: one file without outside parts, to open on any computer.

Names come from strangers: everything is escaped, and the page's own policy lets nothing run but
the one script whose hash it names. The script only loads the page again, and can be paused; a
page that reloads itself without a switch fails WCAG 2.2, success criterion 2.2.1.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any
from urllib.parse import quote

from filmhand.page.why_note import quantity_text

KEPT = 200
_HARMLESS = "\u00a0\u202f\u200c\u200d"  # spaces that do not break, joiners of letters and emoji
_EVERY = 10  # seconds between two looks of an open page
_STALE = 300  # seconds after which the page says that nobody writes it any more

_SCRIPT = f"""
(() => {{
  const button = document.getElementById("pause");
  const paused = () => location.hash === "#paused";
  const show = () => {{
    button.textContent = paused() ? "Follow again" : "Hold still";
    button.setAttribute("aria-pressed", paused() ? "true" : "false");
  }};
  button.hidden = false;
  button.addEventListener("click", () => {{
    history.replaceState(null, "", paused() ? location.pathname : "#paused");
    show();
  }});
  show();
  const written = Date.parse(document.getElementById("written").dateTime);
  const stale = () => {{
    if (Date.now() - written > {_STALE * 1000}) document.getElementById("stale").hidden = false;
  }};
  stale();
  setInterval(() => {{
    const reading = !document.getSelection().isCollapsed;
    if (!paused() && !reading && !document.hidden) location.reload(); else stale();
  }}, {_EVERY * 1000});
}})();
"""

_STYLE = """
:root { color-scheme: light dark;
  --paper: #faf7f0; --ink: #23211d; --soft: #6a655b; --line: #ddd6c7; --card: #fffdf8;
  --good: #1d6b45; --bad: #a3321f; --busy: #6b4d00; }
@media (prefers-color-scheme: dark) { :root {
  --paper: #191816; --ink: #ece7db; --soft: #a49d8f; --line: #3a3731; --card: #211f1c;
  --good: #7fd0a4; --bad: #f19a87; --busy: #e6c06a; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 1.5rem 1rem 4rem; background: var(--paper);
  color: var(--ink); font: 1rem/1.5 system-ui, sans-serif; }
header { display: flex; flex-wrap: wrap; gap: .4rem 1.2rem; align-items: baseline; }
h1 { font-size: 1.5rem; margin: 0; letter-spacing: -.01em; overflow-wrap: anywhere; }
h2 { font-size: 1.1rem; margin: 2.2rem 0 .5rem; }
p { margin: .3rem 0; }
.soft { color: var(--soft); }
.sums { display: grid; grid-template-columns: repeat(auto-fit, minmax(8rem, 1fr)); gap: .7rem;
  margin: 1.2rem 0; padding: 0; list-style: none; }
.sums li { background: var(--card); border: 1px solid var(--line); border-radius: .5rem;
  padding: .6rem .9rem; }
.sums b { display: block; font-size: 1.7rem; line-height: 1.2; font-weight: 600; }
.box { overflow-x: auto; border: 1px solid var(--line); border-radius: .5rem;
  background: var(--card); }
table { border-collapse: collapse; width: 100%; }
caption { text-align: left; padding: .6rem .9rem; color: var(--soft); }
th, td { text-align: left; vertical-align: top; padding: .5rem .9rem;
  border-top: 1px solid var(--line); }
thead th { font-weight: 600; color: var(--soft); font-size: .85rem; }
th[scope=row] { font-weight: 600; overflow-wrap: anywhere; min-width: 9rem; }
time { white-space: nowrap; }
img { display: block; max-width: 9rem; max-height: 9rem; background: #fff;
  border: 1px solid var(--line); }
.films { display: flex; flex-wrap: wrap; gap: .8rem; margin: 0; padding: 0; list-style: none;
  overflow-wrap: anywhere; }
.good { color: var(--good); } .bad { color: var(--bad); } .busy { color: var(--busy); }
.notice { border: 1px solid var(--bad); border-left-width: .4rem; border-radius: .4rem;
  padding: .6rem .9rem; margin: .8rem 0; background: var(--card); overflow-wrap: anywhere; }
button { font: inherit; color: inherit; background: var(--card); border: 1px solid var(--soft);
  border-radius: .4rem; padding: .15rem .8rem; cursor: pointer; }
a { color: inherit; }
:focus-visible { outline: 3px solid var(--busy); outline-offset: 2px; }
"""

_POLICY = (
    "default-src 'none'; img-src 'self' file:; style-src 'sha256-{style}'; "
    "script-src 'sha256-{script}'; base-uri 'none'; form-action 'none'"
)


def status_page(status: Mapping[str, Any]) -> str:
    """The page of a status as :meth:`filmhand.service.Station.status` gives it.

    Of each profile's entry, `link` is the relative path to its folder, or None if a page on the
    station cannot reach it (no pictures then).
    """
    profiles = list(status["profiles"])
    links = {profile["name"]: profile.get("link") for profile in profiles}
    made, refused = list(status["made"])[:KEPT], list(status["refused"])[:KEPT]
    sums = status["counts"]
    parts = [
        _header(status),
        _notices(status),
        _sums(sums),
        _waiting(profiles, sums["waiting"] + sums["working"]),
        _made(made, links, sums["made"]),
        _refused(refused, sums["refused"]),
        _left_alone(profiles),
    ]
    policy = _POLICY.format(style=_hash(_STYLE), script=_hash(_SCRIPT))
    return (
        "<!doctype html>\n"
        '<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_escaped(_title(status))}</title>\n<style>{_STYLE}</style></head>\n<body>\n"
        + "\n".join(filter(None, parts))
        + f"\n<script>{_SCRIPT}</script>\n</body></html>\n"
    )


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _title(status: Mapping[str, Any]) -> str:
    sums = status["counts"]
    return (
        f"{sums['waiting'] + sums['working']} to do, {sums['made']} made, "
        f"{sums['refused']} refused - {status['station_name']}"
    )


def _header(status: Mapping[str, Any]) -> str:
    at = escape(str(status["at"]))
    state = (
        '<span class="good">&#9679; at work</span>'
        if status["running"]
        else '<span class="bad">&#9632; not running</span>'
    )
    return (
        f"<header><h1>{_text(status['station_name'])}</h1>"
        f'<p role="status">{state} <span class="soft">as of '
        f'<time id="written" datetime="{at}">{escape(_time(at))}</time></span></p>'
        '<button id="pause" type="button" hidden>Hold still</button></header>\n'
        '<p id="stale" class="notice" hidden>This page has not been written for more than five '
        "minutes: filmhand may have stopped, or this computer's clock is wrong.</p>"
    )


def _notices(status: Mapping[str, Any]) -> str:
    lines = [str(fault) for fault in status["faults"]]
    lines += [f"{p['name']}: {p['paused']}" for p in status["profiles"] if p["paused"]]
    return "\n".join(f'<p class="notice">{_text(line)}</p>' for line in lines)


def _sums(sums: Mapping[str, int]) -> str:
    words = (("waiting", "waiting"), ("working", "in work"), ("made", "made"))
    items = "".join(f"<li><b>{sums[key]}</b>{word}</li>" for key, word in words)
    return f'<ul class="sums">{items}<li><b>{sums["refused"]}</b>refused</li></ul>'


def _waiting(profiles: Iterable[Mapping[str, Any]], count: int) -> str:
    rows = []
    for profile in profiles:
        for name in profile["working"]:
            busy = '<span class="busy">&#9654; in work</span>'
            rows.append((_row_head(name), _cell(profile["name"]), f"<td>{busy}</td>"))
        for one in profile["waiting"]:
            rows.append((_row_head(one["name"]), _cell(profile["name"]), _cell(one["why"])))
    columns = ("Art", "Profile", "Why it waits")
    return _table("waiting", "What waits", columns, rows, "Nothing.", count)


def _made(entries: Sequence[Mapping[str, Any]], links: Mapping[str, str | None], count: int) -> str:
    rows = [
        (
            _row_head(entry["name"]),
            f"<td>{_films(entry, links.get(entry['profile']))}</td>",
            _cell(entry["profile"]),
            f"<td>{_time_tag(entry['at'])}</td>",
        )
        for entry in entries
    ]
    columns = ("Art", "Film", "Profile", "When")
    return _table("made", "What was made", columns, rows, "No film yet.", count)


def _films(entry: Mapping[str, Any], link: str | None) -> str:
    items = []
    for film in entry["films"]:
        names = ", ".join(film["files"])
        caption = f'<span class="good">&#10003;</span> {_text(names)}'
        if link is not None:
            path = "/".join(filter(None, (link, "proofs", film["folder"], f"{film['stem']}.jpg")))
            source = quote(path)  # nothing that HTML would have to escape is left of it
            alternative = _escaped(f"Proof of {film['stem']}")
            picture = f'<img src="{source}" alt="{alternative}" loading="lazy">'
            caption = f'<a href="{source}">{picture}</a>{caption}'
        items.append(f"<li>{caption}</li>")
    left_out: list[str] = next(
        (film["left_out"] for film in entry["films"] if film.get("left_out")), []
    )
    pages = "".join(f'<p><span class="bad">&#10007;</span> {_text(say)}</p>' for say in left_out)
    return f'<ul class="films">{"".join(items)}</ul>{pages}'


def _refused(entries: Sequence[Mapping[str, Any]], count: int) -> str:
    rows = []
    for entry in entries:
        found, needed = quantity_text(entry.get("found")), quantity_text(entry.get("needed"))
        measured = [f"Found: {found}." if found else "", f"Needed: {needed}." if needed else ""]
        reason = (
            f'<p><span class="bad">&#10007;</span> {_text(entry["say"])}</p>'
            + (f"<p>{_text(' '.join(filter(None, measured)))}</p>" if any(measured) else "")
            + f'<p class="soft">{_text(entry["do"])}</p>'
        )
        rows.append(
            (
                _row_head(entry["name"]),
                f"<td>{reason}</td>",
                _cell(entry["profile"]),
                f"<td>{_time_tag(entry['at'])}</td>",
            )
        )
    columns = ("Art", "Why, and what to do", "Profile", "When")
    return _table("refused", "What was refused", columns, rows, "Nothing.", count)


def _left_alone(profiles: Iterable[Mapping[str, Any]]) -> str:
    rows = [
        (_row_head(one["name"]), _cell(profile["name"]), _cell(one["why"]))
        for profile in profiles
        for one in profile["left_alone"]
    ]
    if not rows:
        return ""
    columns = ("Name", "Profile", "It is")
    return _table("alone", "What is left alone", columns, rows, "", len(rows))


def _table(
    key: str,
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    empty: str,
    count: int,
) -> str:
    """A table of rows, of which there may be more than are given: `count` in all."""
    head = f'<section aria-labelledby="{key}"><h2 id="{key}">{title}</h2>'
    if not rows:
        return f'{head}<p class="soft">{empty}</p></section>'
    heads = "".join(f'<th scope="col">{column}</th>' for column in columns)
    body = "\n".join(f"<tr>{''.join(row)}</tr>" for row in rows[:KEPT])
    count, shown = max(count, len(rows)), min(KEPT, len(rows))
    told = f"{count} {'entry' if count == 1 else 'entries'}"
    if count > shown:
        told += f", of which {shown} {'is' if shown == 1 else 'are'} shown"
    newest = ", newest first" if "When" in columns else ""
    return (
        f'{head}<div class="box" tabindex="0" role="region" aria-labelledby="{key}"><table>'
        f"<caption>{told}{newest}</caption><thead><tr>{heads}</tr></thead>"
        f"<tbody>\n{body}\n</tbody></table></div></section>"
    )


def _row_head(text: object) -> str:
    return f'<th scope="row">{_text(text)}</th>'


def _cell(text: object) -> str:
    return f"<td>{_text(text)}</td>"


def _text(text: object) -> str:
    """Escaped text; a name that runs from right to left cannot turn what stands beside it."""
    return f"<bdi>{_escaped(text)}</bdi>"


def _escaped(text: object) -> str:
    plain = "".join(c if c.isprintable() or c in _HARMLESS else "\ufffd" for c in str(text))
    return escape(plain, quote=True)


def _time(at: str) -> str:
    return at.replace("T", " ").removesuffix("Z") + " UTC"


def _time_tag(at: str) -> str:
    return f'<time datetime="{escape(at, quote=True)}">{escape(_time(at))}</time>'
