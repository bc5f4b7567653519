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
from filmhand.service.doctor.doctor_words import DoctorCount, DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding
from filmhand.timing.background_call import BackgroundCall

_WITHIN = 30.0  # seconds


def examine_cluster(name: str, address: str, folders: Folders) -> Iterator[Finding]:
    """Whether the cluster answers, has the same filmhand, and sees the profile's folder."""
    if not folders.present():
        say = DoctorWord.CLUSTER_NOT_ASKED.say(address=address)
        yield Finding(Level.NOTE, name, Topic.CLUSTER, say, DoctorWord.PREPARE_FIRST.say())
        return
    try:
        told = _ask_all(address, folders)
    except EnvironmentTrouble as error:
        do = DoctorWord.CORRECT_WORKERS.say()
        yield Finding(Level.WRONG, name, Topic.CLUSTER, str(error), do)
        return
    except OSError:
        return  # the probe of the folder has told it
    say = DoctorCount.CLUSTER_ANSWERS.say(len(told), address=address)
    yield Finding(Level.OK, name, Topic.CLUSTER, say)
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
            raise EnvironmentTrouble(
                DoctorWord.WORKER_SILENT.say(address=address, seconds=f"{_WITHIN:.0f}")
            )
    finally:
        cluster.close()


def _worker(name: str, place: str, answer: Mapping[str, Any] | str) -> Finding:
    """The finding about one worker; a text instead of its answer says why it gave none."""
    what = Topic.CLUSTER_WORKER
    if isinstance(answer, str):
        say = DoctorWord.WORKER_WITHOUT.say(place=place, why=answer)
        do = DoctorWord.INSTALL_FOR_WORKER.say(version=__version__, extra=CLUSTER_EXTRA)
        return Finding(Level.WRONG, name, what, say, do)
    who = {"place": place, "host": answer["host"]}
    if answer["filmhand"] != __version__:
        say = DoctorWord.WORKER_DIFFERS.say(version=answer["filmhand"], own=__version__, **who)
        do = DoctorWord.SAME_VERSION.say()
    elif lacking := set(installed()) - set(answer["libraries"]):
        say = DoctorWord.WORKER_LACKS.say(libraries=", ".join(sorted(lacking)), **who)
        do = DoctorWord.INSTALL_THERE.say(extra=ART)
    elif not answer["sees"]:
        say, do = DoctorWord.WORKER_BLIND.say(**who), DoctorWord.SAME_PATH.say()
    elif not answer["may_write"]:
        say, do = DoctorWord.WORKER_MAY_NOT_WRITE.say(**who), DoctorWord.ALLOW_WORKER.say()
    else:
        say = DoctorWord.WORKER_FINE.say(version=__version__, python=answer["python"], **who)
        return Finding(Level.OK, name, what, say)
    return Finding(Level.WRONG, name, what, say, do)
