"""What settings may be, as it is said to whoever wrote them; one row a phrase."""

from __future__ import annotations

from filmhand.language import Sentence


class Allowed(Sentence):
    """What a setting may be: each completes ``… must be …``."""

    # Numbers, lengths and times.
    NUMBER = "a number from {low} to {high}"
    WHOLE = "a whole number from {low} to {high}"
    FLAG = "true or false (or yes or no)"
    FLAG_OR_AUTO = "auto, or true or false (or yes or no)"
    SHORT_LENGTH = "a length from {low} mm to {high} mm, such as {example} mm"
    MICROMETERS = "a length from {low} µm to {high} µm, with its unit"
    SETTLE = "auto or a duration from 10 ms to 1 h, such as 2 s"
    TAKEOVER = "a duration from 1 s to 168 h, such as 15 min"
    KEEP = "forever, or a time from 1 h to 36500 days, such as 30 days or 8 weeks"
    MEMORY = "an amount of memory from 64 MiB to 1024 GiB, such as 2 GiB"
    LPI = "{highest} or less at {dpi} dpi (a quarter of the dpi)"
    LPI_SCALED = (
        "{highest} or less at the {dpi} dpi that print.scale gives the film (a quarter of the dpi)"
    )
    DISTANCE = "a distance from 10 cm to 100 m, such as 1 m"

    # The sheet and where art lies on it.
    MARGIN = "one length such as 0.25 in, or four (top, right, bottom, left)"
    MARGIN_WITH_UNITS = (
        "one length such as 0.25 in, or four (top, right, bottom, left), each with its unit"
    )
    ART_SIZE = "a size such as width 7 in, height 9 in or 7 x 9 in"
    ART_SIDE = "page, own or a width or height from 5 mm to {largest} mm"
    CROP = "a group such as {{left: 10 %, top: 5 mm}} or {{to: 4 x 5}}"
    SIDE = "a percent of the art such as 10 %, or a length on it such as 5 mm"
    SHARE = "{most} % or less"
    SHARE_TOGETHER = "less: {one} and {other} may take {most} % together at most"
    SHAPE = "a shape, width x height, such as 4 x 5, up to {longest} times as long as wide"
    REPEAT = "copies across x down, such as 3 x 2"
    REPEAT_EACH = "copies across x down, each from 1 to {most}"

    # Dots and tones.
    SPOT = "spot and a function of x and y"
    SPOT_THAT_IS = "spot and a function of x and y that is {fault}"
    RATIO = "{dot} with a ratio of height by width from {low} to {high}"
    ENDPOINTS = "[black %, white %], each from 0 to {high}"
    HOLD = "[min %, max %], each from 0 to {high}"
    HOLD_ORDER = "[min %, max %] with the min smaller than the max"
    GAIN = (
        "a number from 0 to {most}, a list of [film %, print %] pairs, the name of a curve file, "
        "or measured"
    )
    GAIN_PAIRS = (
        "a number from 0 to {most}, a list of [film %, print %] pairs such as "
        "[[10, 14], [50, 65], [90, 97]]"
    )

    # Inks.
    INKS = (
        "auto with the number of inks to find (auto 4), or a list of 1 to {most} inks such as "
        '[{{name: red, color: "#b3261e"}}]'
    )
    INK = 'a group such as {{name: red, color: "#b3261e"}}'
    INK_WITH = 'a group with {key} in it, such as {{name: red, color: "#b3261e"}}'
    INK_NAME = (
        "a name of letters, digits, spaces, - and _, {most} bytes at most, as films are named "
        "after it"
    )
    INK_NAME_TAKEN = "another name than that of the ink {other} before, as films are named after it"
    INK_MESH = "a mesh such as 43-80; only the profile's own may be none"
    COLOR = (
        'a color such as "#b3261e" (sRGB, in quotes), or [L, a, b] of CIELAB under D50 such as '
        "[32, 10, -45]"
    )
    UNDERBASE = "a group such as {{ink: white, choke: 0.3 mm}}"
    PERCENT = "a percentage from {low} % to {high} %"

    # Where checks fail and warn.
    SIZES = "auto, or a group such as {{fail: 110 um, warn: 310 um}}"
    MOIRE = "auto, or a group such as {{warn: 0.02, fail: 0.1, distance: 1 m}}"
    MOIRE_ORDER = (
        "auto, or a group such as {{warn: 0.02, fail: 0.1, distance: 1 m}}, with warn no larger "
        "than fail"
    )
    GROUP_SUCH_AS = "a group such as {example}"
    PAIR_FOR_LIST = "{allowed}, here {here}"
    PAIR_BOTH = "{allowed}, with both in it"
    PAIR_ORDER = "{allowed}, with fail no larger than warn"

    # Files, folders and computers.
    FORMATS = "a list of them"
    FORMATS_ONCE = "a list with each format once"
    FOLDER = "null or a full path such as /mnt/share/small-sheet"
    SCHEDULER = "own, or a scheduler with its port such as dask://127.0.0.1:8786"
    SCHEDULER_GROUP = "a group that says at, such as {{at: dask://shop:8786, unencrypted: true}}"
    ENCRYPTED = (
        "encrypted where the cluster is another computer's, as {tls}, or the group "
        "{{at: {plain}, unencrypted: true}} if everybody on the way may read and send jobs"
    )

    # Color.
    ICC = "the name of an ICC file beside the profile, or a group such as {{file: press.icc}}"
    ICC_FILE = "the name of a file beside the profile that ends in .icc or .icm"
    ICC_CHANGED = "it is not the file any more that the profile was read with"

    # Printers.
    PRINT = "a group such as {{printer: ipp://film-printer.local/ipp/print}}"
    PRINTER = "an IPP printer's address such as ipp://film-printer.local/ipp/print"
    PRINTER_KEYWORD = "auto, or a word that the printer offers, such as transparency"
    CERTIFICATE = "null, or the 64 hexadecimal digits of a certificate's SHA-256"
    SCALE = "what 100 % across and 100 % down measure, {low} to {high} %, such as [99.6 %, 100.2 %]"
    BUDGET = "a group such as {{day: 40, person: 3}}"

    # Who is told.
    NOTIFY = "a group with mail, hook or service"
    NOTIFY_SOMEBODY = "off, or a group that has mail, hook or service: somebody must be told"
    NOTIFY_SERVER = "a group with server where it has mail, such as smtps://mail.example.org"
    NOTIFY_MAIL = "a group with mail, the addresses to tell, where it has server"
    NOTIFY_PASSWORD = (
        "a group with both a user in server, smtp://USER@HOST, and a password, or neither"
    )
    ADDRESS = "an address such as films@example.org"
    ADDRESSES = "an address such as films@example.org, or a list of some"
    SERVER = (
        "smtps://USER@HOST:PORT, or smtp:// for STARTTLS, with no password in it, such as "
        "smtp://films@mail.example.org:587"
    )
    SECRET = (
        "${{NAME}}, a variable of the environment, or the path of a file that only its owner reads"
    )
    SECRETS = (
        "${{NAME}}, a variable of the environment, or the path of a file that only its owner "
        "reads, or a list of some"
    )
    HOOK = (
        "${{NAME}}, a variable of the environment, or the path of a file that only its owner "
        "reads, or a short address such as https://hooks.example.org/films with no secret in it: "
        "no user, no question mark, no part of 20 characters or more"
    )
    ABOUT = "some of {kinds}"
    AT_MOST = "{allowed}, at most {most}"


class SecretPlace(Sentence):
    """Where a secret is found."""

    VARIABLE = "the variable {name}"
    FILE = "the file {path}"
