#!/bin/sh
# Runs every check: style, types, then all tests. Arguments go to pytest instead of "all tests":
#
#   tests/run.sh
#   tests/run.sh tests/unit/film -x
#
# Works in tests/.venv, made on the first run (which needs a network) and kept. The package is
# installed as a user would install it, not read from the source folder, so that a file missing
# from the package is noticed.

set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
root=$(dirname -- "$here")
venv=$here/.venv
python=$venv/bin/python
stamp=$venv/tools-are-in
cd -- "$root"

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

pip_install() {
    "$python" -m pip install --quiet --disable-pip-version-check "$@"
}

if [ ! -f "$stamp" ] || [ -n "$(find pyproject.toml -newer "$stamp")" ]; then
    base=$(find_python) || give_up "The tests need Python 3.11 or newer; name it with PYTHON=/path/to/python3."
    "$base" -c 'import venv, ensurepip' >/dev/null 2>&1 || give_up "$base cannot make virtual environments; on Debian and Ubuntu install python3-venv."
    printf '%s\n' "Making $venv ..."
    "$base" -m venv --clear "$venv"
    pip_install 'setuptools>=77' '.[test]'
    : >"$stamp"
fi

# setuptools would pack whatever an earlier build left behind, also modules that are gone.
rm -rf build
pip_install --no-build-isolation --no-deps --force-reinstall .
rm -rf build

"$python" -m ruff check
"$python" -m ruff format --check
"$python" -m mypy
if [ $# -eq 0 ]; then
    # Side by side, since the failure tests mostly wait; those of one file stay in one process.
    side_by_side=$("$python" -c 'import os; print(2 * len(os.sched_getaffinity(0)))' 2>/dev/null || echo 2)
    export OPENBLAS_NUM_THREADS=1
    # Into tests/.real, once; what cannot be had is told, and its tests skip.
    "$python" tests/real/fetch.py --few || echo "Real pictures could not be fetched."
    # Continuous integration names a user as whom a part runs first.
    [ -z "${TESTS_ELSEWHERE:-}" ] || sh tests/elsewhere.sh "$TESTS_ELSEWHERE"
    set -- --numprocesses "$side_by_side" --dist loadfile --doctest-modules --pyargs filmhand tests
fi
exec "$python" -P -m pytest "$@"
