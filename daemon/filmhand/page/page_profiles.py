"""Each profile's part of the status page: its state, what is in work and what waits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.language import Sentence
from filmhand.page.markup import address, escaped, isolated, link
from filmhand.page.page_words import PageCount, PageWord

_STATES = {
    "working": (PageWord.WORKING_STATE, "good"),
    "paused": (PageWord.PAUSED_STATE, "bad"),
    "unreachable": (PageWord.UNREACHABLE_STATE, "bad"),
    "not running": (PageWord.NOT_RUNNING_STATE, "bad"),
}
_STEPS = {
    "reading": PageWord.READING,
    "screening": PageWord.SCREENING,
    "measuring": PageWord.MEASURING,
    "writing": PageWord.WRITING,
}
KEPT = 200
_SHOWN = 5


def profile_part(profile: Mapping[str, Any], folder: str | None, *, served: bool = False) -> str:
    """One profile; what it has nothing of is left out.

    ``served`` as for :func:`filmhand.page.status_page.status_page`.
    """
    word, color = _STATES.get(profile["state"], (PageWord.WORKING_STATE, "good"))
    usual = profile.get("usual_s")
    head = (
        f'<div class="head"><h3>{isolated(profile["name"])}</h3>'
        f'<span class="{color}">{word.say()}</span>'
        f'<span class="soft">{isolated(profile.get("makes", ""))}</span>'
    )
    if usual:
        head += f'<span class="soft">{PageWord.USUALLY.say(seconds=f"{usual:.2g}")}</span>'
    if folder is not None and not served:
        head += f'<span class="soft">{link((folder, "drop", ""), PageWord.DROP_HERE.say())}</span>'
    parts = [head + "</div>", _in_work(profile), _waiting(profile)]
    parts += _curves(profile, folder)
    parts += [_listed(PageWord.LEFT_ALONE, [_left(one) for one in profile["left_alone"]])]
    parts += [_listed(PageWord.HOSTS, [_host(one) for one in profile.get("hosts", ())])]
    inside = "".join(filter(None, parts))
    return f'<div class="part" data-part="{escaped(profile["name"])}">{inside}</div>'


def curves_lacking(profile: Mapping[str, Any]) -> list[str]:
    """That films are made without the press curves that they are to go by, in plain text."""
    said = []
    if "name" in (curve := profile.get("curve") or {}) and curve["name"] is None:
        said.append(PageWord.NO_CURVE_YET.say())
    inks = [one["ink"] for one in profile.get("ink_curves", ()) if one["name"] is None]
    if inks:
        said.append(PageWord.NO_CURVE_OF_INKS.say(inks=", ".join(inks)))
    return said


def _curves(profile: Mapping[str, Any], folder: str | None) -> list[str]:
    """The press curves that films go by, with their plots: the profile's, and those of inks."""
    own = profile.get("curve") or {"name": None}
    parts = []
    if own["name"] is not None:
        said = _curve(own, folder, PageWord.CURVE_PLOT.say())
        parts.append(f'<p class="soft">{said}</p>')
    rows = []
    for one in profile.get("ink_curves", ()):
        if one["name"] is not None:
            plot = PageWord.INK_PLOT.say(ink=one["ink"])
            said = _curve(one, folder, plot)
            rows.append(f'{isolated(one["ink"])}: <span class="soft">{said}</span>')
    parts.append(_listed(PageWord.CURVES_OF_INKS, rows))
    return parts + [f'<p class="warn">{escaped(said)}</p>' for said in curves_lacking(profile)]


def _curve(curve: Mapping[str, Any], folder: str | None, plot_words: str) -> str:
    """One press curve and a link to its plot."""
    row = PageWord.CURVE_READ if curve["date"] else PageWord.CURVE
    said = row.say(name=curve["name"], date=curve["date"], print=f"{curve['print_at_50']:.0f}")
    if curve["smallest_dot_um"] is not None:
        said += f"; {PageWord.CURVE_HOLDS.say(dot=round(curve['smallest_dot_um']))}"
    inside = isolated(said)
    if folder is not None and curve["name"].startswith("curves/"):
        place = (folder, *curve["name"].removesuffix(".txt").split("/"))
        plot = (*place[:-1], f"{place[-1]}.png")
        # The words beside it say what it is, so it has none of its own.
        picture = (
            f'<img class="proof" src="{address(plot)}" alt="" loading="lazy" '
            'width="72" height="72">'
        )
        inside += f" {link(plot, picture + escaped(plot_words))}"
    return inside


def _in_work(profile: Mapping[str, Any]) -> str:
    rows = []
    for one in profile["in_work"]:
        row = f"{isolated(one['name'])} "
        row += (
            f'<span class="soft">{PageWord.FOR_SECONDS.say(seconds=round(one["seconds"]))}</span>'
        )
        if "step" in one:
            row += f' <progress max="1" value="{one["behind"]:.2f}" '
            row += f'aria-label="{escaped(one["name"])}"></progress>'
            row += f' <span class="soft">{_STEPS[one["step"]].say()}</span>'
        rows.append(row)
    return _listed(PageWord.IN_WORK_NOW, rows)


def _waiting(profile: Mapping[str, Any]) -> str:
    rows = []
    for one in profile["waiting"][:KEPT]:
        why = isolated(one["why"])
        if one.get("in_s") is not None:
            why = PageWord.WAITS_ABOUT.say(why=why, time=duration_text(one["in_s"]))
        rows.append(f'{isolated(one["name"])} <span class="soft">{why}</span>')
    if not rows:
        return f'<p class="soft">{PageWord.NOTHING_WAITS.say()}</p>'
    shown = _listed(PageWord.WAITS_IN_ORDER, rows[:_SHOWN], ordered=True)
    more = profile["waiting_count"] - len(rows[:_SHOWN])
    if more <= 0:
        return shown
    others = "".join(f"<li>{row}</li>" for row in rows[_SHOWN:])
    inside = f'<ol start="{_SHOWN + 1}">{others}</ol>' if others else ""
    identity = f"waiting-{escaped(profile['name'])}"
    summary = f"<summary>{PageCount.MORE_WAIT.say(more)}</summary>"
    return f'{shown}<details id="{identity}">{summary}{inside}</details>'


def duration_text(seconds: float) -> str:
    """About how long it takes, in the one unit that fits."""
    for size, unit in ((3600, PageWord.HOURS), (60, PageWord.MINUTES)):
        if seconds >= 1.5 * size:
            return unit.say(n=round(seconds / size))
    return PageWord.SECONDS.say(n=max(1, round(seconds)))


def _left(one: Mapping[str, Any]) -> str:
    return f'{isolated(one["name"])} <span class="soft">{isolated(one["why"])}</span>'


def _host(one: Mapping[str, Any]) -> str:
    said = PageWord.HOST_HEARD.say(
        host=one["name"], seconds=round(one["silent_s"]), jobs=one["in_hand"]
    )
    return isolated(said)


def _listed(title: Sentence, rows: Sequence[str], *, ordered: bool = False) -> str:
    if not rows:
        return ""
    kind = "ol" if ordered else "ul"
    inside = "".join(f"<li>{row}</li>" for row in rows)
    return f"<p>{title.say()}</p><{kind}>{inside}</{kind}>"
