"""What `filmhand doctor` looks at where a profile hands its jobs to a cluster."""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Mapping
from typing import Any

from filmhand import __version__
from filmhand.art.files.extras import ART_EXTRA as ART
from filmhand.art.files.extras import installed
from filmhand.cluster.scheduler import CLUSTER_EXTRA, Cluster
from filmhand.cluster.task import HERE
from filmhand.disk import atomic
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble
from filmhand.service.doctor.folder_probe import Finding, Level
from filmhand.timing.background_call import BackgroundCall

_WITHIN = 30.0  # seconds


def examine_cluster(name: str, address: str, folders: Folders) -> Iterator[Finding]:
    """Whether the cluster answers, has the same filmhand, and sees the profile's folder."""
    if not folders.present():
        say = f"{address} is not asked before the folder is there."
        do = "Start the service once, or prepare the folder with --init; then doctor again."
        yield Finding(Level.NOTE, name, "cluster", say, do)
        return
    try:
        told = _ask_all(address, folders)
    except EnvironmentTrouble as error:
        do = "Start it or correct `workers` in the profile; until then its art waits."
        yield Finding(Level.WRONG, name, "cluster", str(error), do)
        return
    except OSError:
        return  # the probe of the folder has told it
    count = f"{len(told)} {'workers' if len(told) > 1 else 'worker'}"
    say = f"{address} answers and has {count}."
    yield Finding(Level.OK, name, "cluster", say)
    for place, answer in sorted(told.items()):
        yield _worker(name, place, answer)


def _ask_all(address: str, folders: Folders) -> dict[str, Any]:
    token = secrets.token_hex(16)
    cluster = Cluster(address)
    try:
        with atomic.temporary_folder(folders.hidden) as trial:
            atomic.write_atomic(trial / HERE, token.encode())
            asking = BackgroundCall[dict[str, Any]]("ask the cluster")
            asking.start(lambda: cluster.ask_all(trial.path, token))
            asking.wait(_WITHIN)
            for told in asking.result():
                return told
            raise EnvironmentTrouble(f"A worker of {address} has not answered for {_WITHIN:.0f} s.")
    finally:
        cluster.close()


def _worker(name: str, place: str, answer: Mapping[str, Any] | str) -> Finding:
    """The finding about one worker; a text instead of its answer says why it gave none."""
    what = "cluster worker"
    if isinstance(answer, str):
        say = f"The worker at {place} cannot load filmhand ({answer})."
        do = f"Install filmhand {__version__} for the Python that runs it ({CLUSTER_EXTRA})."
        return Finding(Level.WRONG, name, what, say, do)
    where = f"The worker at {place} on {answer['host']}"
    if answer["filmhand"] != __version__:
        say = f"{where} has filmhand {answer['filmhand']}; here is {__version__}."
        do = "Install the same version on all."
    elif lacking := set(installed()) - set(answer["libraries"]):
        say = f"{where} lacks {', '.join(sorted(lacking))}, which is installed here."
        do = f"Install it there ({ART})."
    elif not answer["sees"]:
        say = f"{where} does not see this profile's folder."
        do = "Let the folder lie on a share that all have under the same path."
    elif not answer["may_write"]:
        say = f"{where} has no right to write in this profile's folder."
        do = "Give the user that runs it the right to read and write there."
    else:
        say = (
            f"{where} has filmhand {answer['filmhand']} and Python {answer['python']}, sees the "
            "folder and may write there."
        )
        return Finding(Level.OK, name, what, say)
    return Finding(Level.WRONG, name, what, say, do)
