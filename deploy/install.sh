#!/bin/sh
# Installs filmhand as a service of systemd, brings an installed one up to date, or removes it:
#
#     sh deploy/install.sh                       installs, or upgrades to these sources
#     sh deploy/install.sh --wheels FOLDER       the same without a network (deploy/wheels.sh)
#     sh deploy/install.sh --remove              removes the program, never films, art or profiles
#
# More: --prefix FOLDER for the program (/opt/filmhand), --station FOLDER (/srv/films), --python FILE,
# --root FOLDER to put all of it under a folder and leave users and services alone, for trying.
#
# It may be run again at any time, also after it was broken off. A new version is put beside the
# old one, tried out, and takes its place by one rename; if the service does not start with it, the
# old one is put back. Each version lies in PREFIX/version-*; PREFIX/bin leads to the one in use.

set -eu
umask 022
unset PYTHONPATH PYTHONHOME # what the service will not have either

say() { printf '%s\n' "$*"; }
give_up() {
    printf '%s\n' "install.sh: $*" >&2
    exit 1
}
usage() {
    printf '%s\n' "install.sh: $* sh install.sh [--prefix FOLDER] [--station FOLDER] [--wheels FOLDER] [--python FILE] [--root FOLDER] [--remove]" >&2
    exit 64
}

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
sources=$(dirname -- "$here")
prefix=/opt/filmhand station='' wheels='' python='' root='' remove=''
while [ $# -gt 0 ]; do
    case $1 in
        --remove) remove=yes; shift; continue ;;
        --prefix | --station | --wheels | --python | --root) ;;
        *) usage "$1 is no option here." ;;
    esac
    [ -n "${2:-}" ] || usage "$1 needs a value."
    case $1 in
        --prefix) prefix=$2 ;;
        --station) station=$2 ;;
        --wheels) wheels=$2 ;;
        --python) python=$2 ;;
        --root) root=$2 ;;
    esac
    shift 2
done

# A unit names these without quotes, and what is removed lies under the first: only plain paths.
plain_path() {
    case $2 in
        *[!A-Za-z0-9/._-]* | *//* | */ | */../* | */./* | */.. | */.) ;;
        /*/*) return 0 ;;
    esac
    give_up "$1 $2 is not taken: name a whole path of two steps or more, such as /opt/filmhand, with letters, digits, dots, - and _ alone."
}
plain_path --prefix "$prefix"
[ -z "$station" ] || plain_path --station "$station"
if [ -n "$root" ]; then
    root=$(CDPATH='' cd -- "$root" && pwd) || give_up "--root $root is no folder; make it first."
    [ "$root" != / ] || give_up "--root / is the computer itself; leave --root out for that."
elif [ "$(id -u)" -ne 0 ]; then
    give_up "only root can install a service; use sudo, or try it out with --root FOLDER."
fi

place=$root$prefix
mark=$place/installed-by-filmhand
units=$root/etc/systemd/system
unit=$units/filmhand.service
profiles=$root/etc/filmhand/profiles
state=$root/var/lib/filmhand

systemd_runs() { [ -z "$root" ] && [ -d /run/systemd/system ]; }
# What stands in the file of settings, so that a later run goes on with it.
setting() { sed -n "s/^$1=//p" "$mark" 2>/dev/null | tail -n 1; }
# Folders of versions by their full paths, one a line; none of the names that mktemp makes has blanks.
versions() {
    for folder in "$place"/version-*; do
        [ -d "$folder" ] && [ ! -L "$folder" ] && say "${folder##*/}"
    done
    return 0
}
forget_version() {
    case $1 in
        version-*/* | version-) ;;
        version-*) rm -rf -- "${place:?}/$1" ;;
    esac
}
lead_to() { # the version that bin/ leads to from now on, by one rename
    ln -s -- "$1/bin" "$place/bin.new" && mv -fT -- "$place/bin.new" "$place/bin"
}
# Two at a time would remove each other's versions. The lock ends with all who hold it.
lock() {
    if command -v flock >/dev/null 2>&1; then
        exec 9>"$place/lock"
        flock -n 9 || give_up "another installation is at work in $place; wait until it has ended."
    fi
}

remove_all() {
    if [ ! -f "$mark" ]; then
        say "filmhand is not installed in $place; nothing was removed."
        exit 0
    fi
    lock
    station=$(setting station)
    if systemd_runs && [ -f "$unit" ]; then
        say "Stopping the service; the film in hand is finished first ..."
        systemctl disable --now filmhand.service || give_up "the service could not be stopped; nothing was removed."
    fi
    rm -f -- "$units/multi-user.target.wants/filmhand.service" "$unit.new"
    if [ -f "$unit" ] && cmp -s -- "$unit" "$place/filmhand.service"; then
        rm -f -- "$unit"
    elif [ -f "$unit" ]; then
        mv -- "$unit" "$unit.removed"
        say "The unit was changed by hand and is kept as $unit.removed."
    fi
    if systemd_runs; then systemctl daemon-reload; fi
    rm -f -- "$place/bin" "$place/bin.new" "$place/filmhand.service" "$place/filmhand.service.new" \
        "$place/unit.before" "$place/lock"
    for version in $(versions); do forget_version "$version"; done
    rm -f -- "$mark"  # last, so that a removal that is broken off can be run again
    rmdir -- "$place" 2>/dev/null || say "In $place lies something that is not filmhand's; it was left there."
    say "filmhand is removed. Kept: the station $station with all art and films, the profiles in" \
        "$profiles, the state in $state, the user filmhand."
}
[ -z "$remove" ] || { remove_all; exit 0; }

# Before anything is changed: what this takes, and whether the places are free.
find_python() {
    for name in "$python" python3 python3.14 python3.13 python3.12 python3.11; do
        [ -n "$name" ] || continue
        "$name" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || continue
        command -v "$name"
        return 0
    done
    return 1
}
python=$(find_python) || give_up "Python 3.11 or newer with venv was not found; install it (Debian, Ubuntu: python3-venv) or name it with --python."
[ -f "$here/filmhand.service" ] || give_up "filmhand.service is missing beside install.sh; run it inside the sources."
if [ -n "$wheels" ]; then
    wheels=$(CDPATH='' cd -- "$wheels" && pwd) || give_up "--wheels $wheels is no folder."
    set -- "$wheels"/filmhand-*.whl
    if [ ! -f "$1" ] || [ $# -ne 1 ]; then give_up "$wheels must hold one filmhand-*.whl and what it needs; make the folder anew with deploy/wheels.sh."; fi
else
    [ -f "$sources/pyproject.toml" ] || give_up "pyproject.toml is missing in $sources; run it inside the sources, or name --wheels."
fi
[ ! -L "$place" ] || give_up "$place is a link; name the real folder with --prefix."
if [ -e "$place" ] && [ ! -f "$mark" ]; then
    if [ -f "$place/pyvenv.cfg" ] && [ -x "$place/bin/filmhand" ]; then
        # A virtual environment made by hand, as earlier pages told to.
        [ ! -e "$place.by-hand" ] || give_up "$place was made by hand, and $place.by-hand is there already; remove one of them."
        if systemd_runs && [ -f "$unit" ]; then systemctl stop filmhand.service; fi
        mv -- "$place" "$place.by-hand"
        say "$place was made by hand; it is kept as $place.by-hand until you remove it."
    elif [ -n "$(ls -A -- "$place")" ]; then
        give_up "$place holds something that is not filmhand's; choose another with --prefix."
    fi
fi
[ -n "$station" ] || station=$(setting station)
[ -n "$station" ] || station=/srv/films
plain_path --station "$station"
case $station/ in "$prefix"/*) give_up "the station $station lies within the program's folder $prefix; keep them apart." ;; esac
case $prefix/ in "$station"/*) give_up "the program's folder $prefix lies within the station $station; keep them apart." ;; esac

mkdir -p -- "$place"
: >>"$mark"
lock
say "station=$station" >>"$mark"
rm -f -- "$place/bin.new"
old=$(readlink -- "$place/bin" 2>/dev/null || :)
old=${old%/bin}
for version in $(versions); do # of runs that were broken off
    [ "$version" = "$old" ] || forget_version "$version"
done

new=$(mktemp -d -- "$place/version-XXXXXXXX")
chmod 755 -- "$new"
new=${new##*/}
undo() { # the version in use stays
    forget_version "$new"
    give_up "$*"
}
say "Installing filmhand into $place/$new ..."
"$python" -m venv -- "$place/$new" || undo "the virtual environment could not be made in $place."
own=$place/$new/bin/python
if [ -n "$wheels" ]; then
    "$own" -m pip install --quiet --disable-pip-version-check --no-index --find-links "$wheels" 'filmhand[all]'
else
    # From a copy, since setuptools would pack what an earlier build left among the sources.
    mkdir -- "$place/$new/sources" && cp -R -- "$sources/pyproject.toml" "$sources/README.md" "$sources/daemon" "$place/$new/sources/" &&
        "$own" -m pip install --quiet --disable-pip-version-check "$place/$new/sources[all]" && rm -rf -- "${place:?}/$new/sources"
fi || undo "the installation failed; the lines above tell why. Nothing was changed."
version=$("$place/$new/bin/filmhand" --version) || undo "what was installed does not run. Nothing was changed."

# Users and folders; what is there already stays as it is.
if [ -z "$root" ]; then
    getent group filmhand >/dev/null || groupadd --system filmhand || undo "the group filmhand could not be made."
    id filmhand >/dev/null 2>&1 || useradd --system --gid filmhand --home-dir /var/lib/filmhand --no-create-home \
        --shell /usr/sbin/nologin filmhand || undo "the user filmhand could not be made."
    own_folder() { install -d -o filmhand -g filmhand -m "$1" -- "$2"; }
else
    own_folder() { install -d -m "$1" -- "$2"; }
fi
[ -d "$root$station" ] || own_folder 2775 "$root$station"
[ -d "$state" ] || own_folder 755 "$state"
mkdir -p -- "$profiles" "$units"
set -- "$profiles"/*.yaml
if [ ! -e "$1" ] && [ -f "$sources/profiles/small-sheet.yaml" ]; then
    cp -- "$sources/profiles/small-sheet.yaml" "$profiles/"
fi
"$place/$new/bin/filmhand" check "$profiles" >/dev/null 2>&1 || say "Note: not every profile in $profiles is right; filmhand check $profiles tells."

sed -e "s|/opt/filmhand/|$prefix/|g" -e "s|/srv/films|$station|g" -- "$here/filmhand.service" >"$place/filmhand.service.new"
rm -f -- "$place/unit.before"
if [ ! -f "$unit" ] || cmp -s -- "$unit" "$place/filmhand.service" || cmp -s -- "$unit" "$here/filmhand.service"; then
    [ ! -f "$unit" ] || cp -- "$unit" "$place/unit.before"
    cp -- "$place/filmhand.service.new" "$unit.new" && mv -- "$unit.new" "$unit"
elif ! cmp -s -- "$unit" "$place/filmhand.service.new"; then
    cp -- "$place/filmhand.service.new" "$unit.new"
    say "Note: $unit was changed by hand and is kept; what filmhand has now lies in $unit.new."
fi
mv -- "$place/filmhand.service.new" "$place/filmhand.service"
lead_to "$new"

if systemd_runs; then
    say "Starting the service; a film in hand is finished first ..."
    systemctl daemon-reload
    systemctl enable --quiet filmhand.service
    if ! systemctl restart filmhand.service; then
        [ -n "$old" ] || give_up "the service does not start; journalctl -u filmhand tells why. What was installed stays."
        lead_to "$old"
        if [ -f "$place/unit.before" ]; then
            cp -- "$place/unit.before" "$place/filmhand.service"
            mv -- "$place/unit.before" "$unit"
            systemctl daemon-reload
        fi
        systemctl restart filmhand.service || :
        undo "the service does not start with $version, so the version before was put back; journalctl -u filmhand tells why."
    fi
else
    mkdir -p -- "$units/multi-user.target.wants"
    ln -sf -- ../filmhand.service "$units/multi-user.target.wants/filmhand.service"
    say "systemd does not run here, so the service was enabled but not started."
fi
[ -z "$old" ] || [ "$old" = "$new" ] || forget_version "$old"
rm -f -- "$place/unit.before"
say "Installed: $version, program $place/bin/filmhand, station $station, profiles $profiles."
