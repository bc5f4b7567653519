#!/bin/sh
# Shows filmhand at work: draws some art, drops it into a station, and tells what became of it.
#
#   demo/run.sh            in demo/station
#   demo/run.sh FOLDER     in a folder of your own
#
# Needs a shell and Python 3.11 or newer. The first run fetches a few Python packages into
# demo/.venv; later runs use them again and need no network. Remove demo/.venv and demo/station to
# be rid of everything.

set -u

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd) || exit 1
root=$(dirname -- "$here")
venv=$here/.venv
stamp=$venv/filmhand-is-in

give_up() {
    printf '%s\n' "$*" >&2
    exit 1
}

find_python() {
    for name in "${PYTHON:-}" python3 python3.14 python3.13 python3.12 python3.11 python; do
        [ -n "$name" ] || continue
        "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || continue
        printf '%s\n' "$name"
        return 0
    done
    return 1
}

installed() {
    # The inner loops are compiled anew when their sources have changed.
    [ -f "$stamp" ] && [ -z "$(find "$root/pyproject.toml" "$root/daemon/filmhand/kernels" \
        \( -name '*.toml' -o -name '*.[ch]' \) -newer "$stamp")" ] || return 1
    "$venv/bin/python" -P -c '
import sys, pathlib, filmhand, filmhand.cli
root = pathlib.Path(sys.argv[1]).resolve()
sys.exit(not pathlib.Path(filmhand.__file__).resolve().is_relative_to(root))
' "$root" >/dev/null 2>&1
}

install() {
    python=$(find_python) || give_up "Python 3.11 or newer was not found. Install it from python.org or your system's packages, or name it: PYTHON=/path/to/python3 demo/run.sh"
    "$python" -c 'import venv, ensurepip' >/dev/null 2>&1 || give_up "$python cannot make virtual environments. On Debian and Ubuntu install the package python3-venv; elsewhere a Python from python.org has what is needed."
    printf '%s\n' "Making a virtual environment in $venv ..."
    "$python" -m venv --clear "$venv" || give_up "The virtual environment could not be made in $venv; is there space, and may you write there?"
    printf '%s\n' "Installing filmhand and the libraries that it needs; this can take a minute ..."
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable "${root}[art]" || give_up "The installation failed; the lines above tell why. It needs a network the first time."
    : >"$stamp"
}

[ $# -le 1 ] || give_up "Usage: demo/run.sh [FOLDER]"
installed || install
exec "$venv/bin/python" "$here/show.py" "${1:-$here/station}"
