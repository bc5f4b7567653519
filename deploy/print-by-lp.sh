#!/bin/sh
# Prints each film of one folder positives/ once, by lp or another command:
#
#     print-by-lp.sh POSITIVES NOTES lp -d film -o document-format=image/pwg-raster ...
#
# NOTES is a folder on this computer's own disk that keeps what was printed; the film is put behind
# the command's words. PATTERN='*.pdf' in the environment takes other films than *.pwg, and ONCE=yes
# ends after one look; else it looks every ten seconds. A film is printed again only if one of the
# same name with other bits takes its place.
#
# Each film is noted (NAME.begun) before the command gets it, and again afterward (NAME.printed). It
# cannot know whether a film was printed where the power failed in between, or where the command
# failed: it says so, and leaves that film alone until somebody looks and removes NAME.begun. What
# becomes of a film behind lp, a jam or an empty tray, it never knows; `print:` in the profile does.
# Keep out of positives/ what is not a film: filmhand shows films whole, other programs' half files
# cannot be told from them.

set -eu
give_up() {
    printf '%s\n' "print-by-lp.sh: $*" >&2
    exit 64
}
[ $# -ge 3 ] || give_up "name the folder positives/, a folder for notes, and the command that prints."
films=$(cd -- "$1" && pwd) || give_up "$1 is no folder that can be read."
notes=$(cd -- "$2" && pwd) || give_up "$2 is no folder that can be read; make it first."
[ -w "$notes" ] || give_up "$2 is no folder that can be written in."
shift 2
IFS='' told=''
while :; do
    for film in "$films"/${PATTERN:-*.pwg}; do
        if [ ! -f "$film" ] || [ -L "$film" ]; then continue; fi
        name=${film##*/} note=$notes/${film##*/}
        [ ! -f "$note.printed" ] || [ -n "$(find "$film" -newer "$note.printed" 2>/dev/null)" ] || continue
        # Only one of two that run at a time can make the note.
        if (set -C && : >"$note.begun") 2>/dev/null && cksum <"$film" >"$note.begun" && touch -r "$film" -- "$note.begun"; then
            if cmp -s -- "$note.begun" "$note.printed"; then  # the same film: touched, or printed by another just now
                mv -- "$note.begun" "$note.printed" && continue
            elif sync && "$@" "$film" </dev/null && mv -- "$note.begun" "$note.printed" && sync; then
                continue
            fi
        fi
        case $told in *"/$name/"*) continue ;; esac
        told=$told/$name/
        printf '%s\n' "It is not known whether $film was printed. If not, remove $note.begun, and it will be." >&2
    done
    [ -z "${ONCE:-}" ] || exit 0
    sleep 10
done
