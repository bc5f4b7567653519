"""What is said of the way to a printer and of its answers, one row a sentence."""

from __future__ import annotations

from filmhand.language import Sentence
from filmhand.printer.trouble import TroubleKind, TroubleSentence

_WRONG, _AWAY, _REFUSED = TroubleKind.WRONG, TroubleKind.AWAY, TroubleKind.REFUSED
_UNABLE, _STOPPED, _BUSY = TroubleKind.UNABLE, TroubleKind.STOPPED, TroubleKind.BUSY


class ConnectionTrouble(TroubleSentence):
    """Why nothing can be said to a printer, or no answer be had."""

    NO_ADDRESS = (
        "'{uri}' is no printer's address; write one such as ipp://film-printer.local/ipp/print.",
        _WRONG,
    )
    NO_TLS = (
        "The printer at {host} does not speak TLS on port {port} ({why}); if it has no TLS, write "
        "ipp:// in place of ipps://.",
        _WRONG,
    )
    TOO_LONG = (
        "The printer at {host} answers with more than {most} MiB; switch it off and on, or look at "
        "the address.",
        _WRONG,
    )
    NOT_IPP = (
        "What answers at {host} is no printer that speaks IPP; look at host, port and path of the "
        "address in the profile.",
        _WRONG,
    )
    NO_HTTP = (
        "What answers at {host} on port {port} speaks no HTTP; write the printer's own address in "
        "the profile.",
        _WRONG,
    )
    NO_HTTP_UNLESS_TLS = (
        "What answers at {host} on port {port} speaks no HTTP; write the printer's own address in "
        "the profile, or ipps:// in place of ipp://.",
        _WRONG,
    )
    UNKNOWN_NAME = (
        "Nobody knows a printer by the name {host}: it is off; look at its name, or write its "
        "number (such as 192.168.1.20) in the address.",
        _AWAY,
    )
    UNKNOWN_LOCAL_NAME = (
        "Nobody knows a printer by the name {host}: it is off, or this computer cannot look up "
        ".local names; look at its name, or write its number (such as 192.168.1.20) in the "
        "address.",
        _AWAY,
    )
    NO_CONNECTION = (
        "{host} is there, but takes no connection on port {port}; switch IPP on in its settings, "
        "or look at the port in the address.",
        _AWAY,
    )
    NO_ANSWER = (
        "The printer at {host} does not answer ({why}); it may be off or asleep. The films wait.",
        _AWAY,
    )
    SILENT = (
        "The printer at {host} took the connection, but did not answer in time; look whether it "
        "hangs or waits for somebody.",
        _AWAY,
    )
    HUNG_UP = ("The printer at {host} hung up without an answer; it may be starting.", _AWAY)
    HUNG_UP_UNLESS_TLS = (
        "The printer at {host} hung up without an answer; it may be starting. If it wants TLS, "
        "write ipps:// in place of ipp://.",
        _AWAY,
    )
    BROKE_OFF = ("The printer at {host} broke off in the middle of its answer.", _AWAY)
    # by the status of HTTP
    NOT_UNDERSTOOD = (
        "The printer at {host} does not understand what it is asked; look at the path of the "
        "address, and if the printer wants TLS, write ipps:// in place of ipp://.",
        _WRONG,
    )
    WANTS_PASSWORD = (
        "The printer at {host} wants a user and a password, which filmhand does not give; let it "
        "print without one.",
        _WRONG,
    )
    NOT_ALLOWED = (
        "The printer at {host} does not let this computer print; allow it in the printer's "
        "settings.",
        _WRONG,
    )
    NOTHING_AT_PATH = (
        "The printer at {host} has nothing at that path; look at the path of the address, often "
        "/ipp/print.",
        _WRONG,
    )
    NOTHING_PRINTS_AT_PATH = (
        "The printer at {host} has nothing at that path that prints; look at the path, often "
        "/ipp/print.",
        _WRONG,
    )
    WANTS_TLS = ("The printer at {host} wants TLS; write ipps:// in place of ipp://.", _WRONG)
    TAKES_NO_CONNECTIONS = ("The printer at {host} takes no connections for now.", _AWAY)
    BEHIND_GATEWAY = (
        "What answers at {host} does not reach the printer behind it (status {status}); look "
        "whether the printer is on.",
        _AWAY,
    )
    ELSEWHERE = (
        "The printer at {host} sends us elsewhere ({where}), which filmhand does not follow; write "
        "the printer's own address in the profile.",
        _WRONG,
    )
    OTHER_STATUS = (
        "The printer at {host} answers {status}; look at the address in the profile.",
        _WRONG,
    )


class CertificateWord(Sentence):
    """Why nothing is said to who shows this certificate."""

    NO_AUTHORITY = (
        "No authority vouches for the certificate of {host} ({why}); if this is your printer, as "
        "its own page or panel can tell, write its SHA-256 in the profile: certificate: {sha256}"
    )
    ANOTHER = (
        "The certificate of {host} is not the one in the profile; if somebody has reset or "
        "exchanged the printer, as its own page or panel can tell, write its new SHA-256 there: "
        "certificate: {sha256}"
    )


class ConnectionWord(Sentence):
    """Within other sentences."""

    NOT_IN_TIME = "no answer in time"
    NOWHERE = "it does not say where"
    BECAME_SHORTER = "the document became shorter while it was sent"


class RequestTrouble(TroubleSentence):
    """A printer's "no"; ``{own}`` is what it says itself, in brackets, or nothing."""

    NOT_UNDERSTOOD = ("The printer at {host} does not understand what it is asked{own}.", _WRONG)
    NOT_ALLOWED = (
        "The printer at {host} does not let filmhand print; allow it in the printer's "
        "settings{own}.",
        _WRONG,
    )
    WANTS_PASSWORD = (
        "The printer at {host} wants a user and a password, which filmhand does not give; let it "
        "print without one{own}.",
        _WRONG,
    )
    NOT_POSSIBLE = ("The printer at {host} cannot do that with this job any more{own}.", _REFUSED)
    WAITED_TOO_LONG = (
        "The printer at {host} has given up waiting for the document{own}.",
        _REFUSED,
    )
    UNKNOWN_PATH = (
        "The printer at {host} knows nothing of that name; look at the path of the address, often "
        "/ipp/print{own}.",
        _WRONG,
    )
    GONE = ("The printer at {host} does not have that any more{own}.", _REFUSED)
    TOO_LARGE = ("The printer at {host} finds the film too large for its memory{own}.", _UNABLE)
    NO_SUCH_DOCUMENTS = (
        "The printer at {host} does not take such documents after all{own}.",
        _UNABLE,
    )
    LISTS_AND_REFUSES = (
        "The printer at {host} lists what this film needs, and refuses it all the same{own}.",
        _UNABLE,
    )
    ACCOUNT_USED_UP = ("The printer at {host} says that its account is used up{own}.", _STOPPED)
    ERROR_OF_ITS_OWN = ("The printer at {host} has met an error of its own{own}.", _AWAY)
    CANNOT_BE_ASKED = ("The printer at {host} cannot be asked for that{own}.", _WRONG)
    NOT_READY = ("The printer at {host} is not ready{own}.", _AWAY)
    NO_KNOWN_VERSION = ("The printer at {host} speaks no known version of IPP{own}.", _WRONG)
    JAM_OR_SUCH = (
        "The printer at {host} has met an error of its own, such as a jam{own}.",
        _STOPPED,
    )
    NO_ROOM = ("The printer at {host} has no room for the job just now{own}.", _BUSY)
    TAKES_NO_JOBS = ("The printer at {host} takes no jobs for now{own}.", _STOPPED)
    BUSY = ("The printer at {host} is busy with another job{own}.", _BUSY)
    JOB_CANCELED = ("The printer at {host} says that the job was canceled{own}.", _REFUSED)
    NO_FURTHER_DOCUMENT = (
        "The printer at {host} takes no further document in this job{own}.",
        _REFUSED,
    )
    OTHER_CODE = ("The printer at {host} refuses with the code {code}{own}.", _REFUSED)


class BrokenMessage(Sentence):
    """What is wrong with bytes that should be a message of IPP."""

    VERSION = "version {version} is not known"
    BEGINNING = "it does not begin with the operation's attributes"
    BREAKS_OFF = "it breaks off after {size} bytes"
    LONG_NAME = "a name or value of {size} bytes"
    MANY_VALUES = "it has more than {most} values"
    FURTHER_VALUE = "a further value without a first"
    COLLECTION_VALUE = "a collection that begins with a value"
    OUTSIDE_COLLECTION = "a part of a collection outside of one"
    DEEP = "collections more than {most} deep"
    ENDLESS = "a collection that does not end"
    NAME_INSIDE = "a collection with a name in its middle"
    HALF_MEMBER = "a collection that ends in the middle of a member"
    EMPTY_MEMBER = "a member without a name or a value"
    NAMELESS_MEMBER = "a member without a name"
    NOT_ASCII = "a name that is not ASCII"
    TEXT = "a text that does not fill its place"
    SIZE = "{found} bytes where {needed} belong"
