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
python=$here/.venv/bin/python
cd -- "$here/.."

sh tests/environment.sh
if [ $# -eq 0 ]; then
    # Into tests/.real, once, beside the checks that need none of it; what cannot be had is told,
    # and its tests skip.
    told=$(mktemp)
    trap 'rm -f -- "$told"' EXIT
    "$python" tests/real/fetch.py --few >"$told" 2>&1 ||
        echo "Real pictures could not be fetched." >>"$told" &
    fetching=$!
fi
"$python" -m ruff check
"$python" -m ruff format --check
"$python" -m mypy
if [ $# -eq 0 ]; then
    # Side by side, since the failure tests mostly wait; those of one file stay in one process.
    side_by_side=$("$python" -c 'import os; print(2 * len(os.sched_getaffinity(0)))' 2>/dev/null || echo 2)
    export OPENBLAS_NUM_THREADS=1
    # Continuous integration names a user as whom a part runs first.
    [ -z "${TESTS_ELSEWHERE:-}" ] || sh tests/elsewhere.sh "$TESTS_ELSEWHERE"
    wait "$fetching"
    cat -- "$told"
    rm -f -- "$told"
    set -- --numprocesses "$side_by_side" --dist loadfile --no-loadscope-reorder --doctest-modules \
        --pyargs filmhand tests
fi
exec "$python" -P -m pytest "$@"
