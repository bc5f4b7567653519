#!/bin/sh
# Makes a folder of wheels, filmhand and all that it needs, for a computer without a network:
#
#     sh deploy/wheels.sh FOLDER            for a computer such as this, with the same Python
#     PYTHON=python3.12 sh deploy/wheels.sh FOLDER
#
# Carry FOLDER and the sources over and run `sh deploy/install.sh --wheels FOLDER` there. Wheels are
# made for one version of Python, system and processor: make them with what the other computer has.

set -eu
give_up() {
    printf '%s\n' "wheels.sh: $*" >&2
    exit 1
}
[ -n "${1:-}" ] || give_up "name one folder for the wheels."
sources=$(dirname -- "$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)")
mkdir -p -- "$1"
folder=$(CDPATH='' cd -- "$1" && pwd)
[ -z "$(ls -A -- "$folder")" ] || give_up "$folder holds something; name a new folder, so that no old wheels are among them."
# From a copy, since setuptools would pack what an earlier build left among the sources.
copy=$(mktemp -d)
trap 'rm -rf -- "${copy:?}"' EXIT
cp -R -- "$sources/pyproject.toml" "$sources/README.md" "$sources/daemon" "$copy/"
"${PYTHON:-python3}" -m pip wheel --quiet --disable-pip-version-check --wheel-dir "$folder" "${copy}[all]" ||
    give_up "the wheels could not be made; the lines above tell why."
printf '%s\n' "$(find "$folder" -name '*.whl' | wc -l) wheels are in $folder."
