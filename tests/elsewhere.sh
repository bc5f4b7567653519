#!/bin/sh
# Runs a part of the tests as they would run elsewhere: as another user without a home, in another
# language and time zone, with private files, in a folder with a space in its name, and a checkout
# that cannot be written. Needs root, that user, and tests/.venv (tests/run.sh makes it).
#
#   tests/elsewhere.sh USER

set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
python=$here/.venv/bin/python
user=$1
cd -- "$here/.."

as_user() {
    setpriv --reuid="$user" --regid="$user" --clear-groups "$@"
}

if ! as_user "$python" -c 'import filmhand' >/dev/null 2>&1 || ! as_user test -r tests/run.sh; then
    echo "The user $user is not there or cannot run $python; no tests elsewhere."
    exit 0
fi
# Short, since the path of a socket may have 107 bytes (unix(7)).
place=$(mktemp -d /tmp/XXXXXX)
trap 'rm -rf -- "$place"' EXIT
mkdir "$place/a ü"
chown -R "$user" "$place"
umask 077
as_user env -i PATH="$PATH" LC_ALL=tr_TR.UTF-8 TZ=Pacific/Chatham TMPDIR="$place/a ü" \
    PYTHONDONTWRITEBYTECODE=1 OPENBLAS_NUM_THREADS=1 \
    "$python" -P -m pytest -q -p no:cacheprovider --numprocesses 4 --dist loadfile \
    tests/unit/profile tests/unit/sheet tests/unit/page tests/unit/service tests/unit/queue \
    tests/unit/jobs tests/unit/intake tests/unit/disk tests/unit/peers tests/unit/timing \
    tests/unit/cli tests/unit/test_units.py tests/failure/test_sandbox.py \
    tests/unit/art/test_drawing_fonts.py
