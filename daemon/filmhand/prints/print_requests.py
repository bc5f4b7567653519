"""What people ask of films that are being printed, as files in the folders of the orders.

``.filmhand/<host>/prints/<our id>.cancel`` and ``.again`` ask the service that has the order;
``.filmhand/printing-paused`` holds all films of a profile. Only names and kinds count, so there is
nothing in them that could be forged; each is removed when it has been followed. They lie beside the
order and not with other requests (:mod:`filmhand.jobs.requests`), so that only the host that has
it follows them, and whoever takes it over takes them along.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from enum import StrEnum

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, hosts_in
from filmhand.disk.forms import is_print_id
from filmhand.disk.set_aside import set_aside
from filmhand.errors import FilmhandError
from filmhand.jobs.print_order import ORDERS, Order, OrderState
from filmhand.prints.print_words import QueueWord
from filmhand.values import dataclass

PAUSED = "printing-paused"


class PrintAsked(StrEnum):
    """The ending of a request's name."""

    CANCEL = "cancel"
    AGAIN = "again"


@dataclass(frozen=True, slots=True)
class Listed:
    """What lies in a folder of orders: their ids in the order of publication, and requests."""

    ids: list[str]
    asked: list[tuple[str, PrintAsked]]
    strange: list[str]


def listed(orders: Beneath) -> Listed:
    """What lies there now; nothing if there is no such folder."""
    try:
        names = sorted(orders.names())
    except (FileNotFoundError, NotADirectoryError):
        names = []
    found = Listed([], [], [])
    for name in names:
        identity, _, ending = name.partition(".")
        if is_print_id(name):
            found.ids.append(name)
        elif is_print_id(identity) and ending in set(PrintAsked):
            found.asked.append((identity, PrintAsked(ending)))
        else:
            found.strange.append(name)
    return found


def orders_of(folders: Folders) -> Iterator[Order]:
    """Every order of a profile that can be read, of whichever host, oldest first."""
    with contextlib.suppress(OSError):
        for host in hosts_in(folders.hidden):
            orders = folders.hidden / host / ORDERS
            for identity in listed(orders).ids:
                with contextlib.suppress(OSError, ValueError):
                    yield Order.load(orders / identity)


def find_orders(folders: Folders, profile: str, name: str) -> list[Order]:
    """The orders of a film: by its stem, with or without folder, ending and profile, or our id.

    The name of a set is that of all its films.
    """
    wanted = ways_to_name_film(profile, name)
    return [
        order for order in orders_of(folders) if wanted & (_film_names(order) | _set_names(order))
    ]


def meant_by(order: Order, name: str) -> str:
    """The film of the order, or the set where `name` is that of its set; with its profile."""
    is_film = ways_to_name_film(order.profile, name) & _film_names(order)
    return f"{order.profile}/{order.film if is_film else order.film_set}"


def _film_names(order: Order) -> set[str]:
    return {order.film, file_names.shown(order.stem), order.id}


def _set_names(order: Order) -> set[str]:
    return {order.film_set, file_names.shown(order.set_stem)} if order.set_stem else set()


def ways_to_name_film(profile: str, name: str) -> set[str]:
    """What the film may be called whom somebody names so: without its profile, without ending."""
    names = {name, name.removeprefix(f"{profile}/")}
    return names | {one.rpartition(".")[0] for one in names if "." in one}


def ask_of_print(order: Order, what: PrintAsked) -> None:
    """Leave a request beside the order; FilmhandError where the order is gone meanwhile."""
    if what is PrintAsked.AGAIN and order.state is not OrderState.DOUBTFUL:
        raise FilmhandError(QueueWord.STILL_ON_ITS_WAY.say(film=order.film))
    with contextlib.suppress(FileExistsError):  # it has been asked already
        order.folder.with_name(f"{order.id}.{what}").touch()


def pause_printing(folders: Folders) -> bool:
    """Hold the films of this profile; False if they were held already."""
    if is_paused(folders):
        return False
    (folders.hidden / PAUSED).touch()
    atomic.fsync_folder(folders.hidden)
    return True


def resume_printing(folders: Folders) -> bool:
    """Let them go on; False if they were not held."""
    if not is_paused(folders):
        return False
    (folders.hidden / PAUSED).unlink(missing_ok=True)
    atomic.fsync_folder(folders.hidden)
    return True


def is_paused(folders: Folders) -> bool:
    """True while the films of this profile are held; what is no file there is set aside."""
    note = folders.hidden / PAUSED
    if note.is_file():
        return True
    if note.exists():
        set_aside(note, folders.hidden)
    return False
