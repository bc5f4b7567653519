#!/bin/sh
# Makes tests/.venv (a network is needed for that), or brings what it has of filmhand up to date:
# nothing is done where neither pyproject.toml nor the package changed. tests/run.sh calls this.

set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
venv=$here/.venv
python=$venv/bin/python
tools=$venv/tools-are-in
package=$venv/package-that-is-in
cd -- "$here/.."

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

# setuptools would pack whatever an earlier build left behind, also modules that are gone.
pip_install() {
    rm -rf build
    "$python" -m pip install --quiet --disable-pip-version-check "$@"
    rm -rf build
}

# By content, since a file that is put back as it was may have its old time again.
what_the_package_is() {
    find daemon pyproject.toml README.md -type f ! -path '*/__pycache__/*' ! -name '*.so' \
        ! -path '*.egg-info/*' -exec cksum {} + | LC_ALL=C sort | cksum
}

now=$(what_the_package_is)
if [ ! -f "$tools" ] || [ -n "$(find pyproject.toml -newer "$tools")" ]; then
    base=$(find_python) || give_up "The tests need Python 3.11 or newer; name it with PYTHON=/path/to/python3."
    "$base" -c 'import venv, ensurepip' >/dev/null 2>&1 || give_up "$base cannot make virtual environments; on Debian and Ubuntu install python3-venv."
    printf '%s\n' "Making $venv ..."
    "$base" -m venv --clear "$venv"
    pip_install 'setuptools>=77'
    pip_install --no-build-isolation '.[test]'
    printf '%s\n' "$now" >"$package"
    : >"$tools"
elif [ ! -f "$package" ] || [ "$now" != "$(cat -- "$package")" ]; then
    pip_install --no-build-isolation --no-deps --force-reinstall .
    printf '%s\n' "$now" >"$package"
fi
