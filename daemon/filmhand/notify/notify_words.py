"""What messages say, and what is in their way, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class MessageWord(Sentence):
    """The sentences of a message."""

    SUBJECT = "filmhand, {profile}: {told}"
    SUBJECT_NAMED = "filmhand, {profile}: {told}: {name}"
    FROM = "From {profile} of {station}: {told}."
    BESIDES = "Besides these: {told}."
    COMPUTER = "filmhand on {computer}"
    COMPUTER_AND_PAGE = "filmhand on {computer}; the page: {link}"
    TRIAL_SUBJECT = "filmhand, {profile}: a trial message"
    TRIAL = "This is a trial. Messages about {profile} of {station} arrive here."
    # what each paragraph is headed with
    REFUSED = "No film was made from {name}"
    WARNED = "A film was made, with a warning, from {name}"
    HELD = "A film is held, made from {name}"
    PRINTER_IS = "The printer {printer}"
    PRINTER_HOLDS = "The printer {printer} holds films"
    DOUBTFUL = "{film} is doubtful"
    # what is to be done
    RELEASE = (
        "Look at its proof in held/. To let the film go: filmhand release STATION {film}; to give "
        "it up: filmhand discard STATION {film}"
    )
    RELEASE_OR_WAIT = (
        "It goes on by itself on {day}. To let it go before that: filmhand release STATION {film}; "
        "to give it up: filmhand discard STATION {film}"
    )
    PUT_FILM_IN = "Put film in before the tray is empty."


class NewsCount(Counted):
    """How many of a kind a message tells, by the kind's name."""

    REFUSED = ("{n} refused", "{n} refused")
    WARNED = ("{n} with a warning", "{n} with warnings")
    HELD = ("{n} held", "{n} held")
    PRINTER = ("printer trouble", "printer trouble, {n} times")
    FILM_LOW = ("film is running low", "film is running low")


class WarningCount(Counted):
    """Warnings that a message leaves out."""

    MORE = ("{told} And {n} more; the record has all.", "{told} And {n} more; the record has all.")


class TargetWord(Sentence):
    """What a target is called, in other sentences."""

    MAIL = "mail to {addresses} by {host}"
    HOOK = "the web hook {address}"
    HOOK_OF = "the web hook of {source}"
    SERVICE = "the service of {source}"


class DeliveryWord(Sentence):
    """Why messages do not go out."""

    DO_NOT_GO_OUT = "{profile}: messages do not go out: {trouble}."
    SILENT = "{target} has not answered for a minute"
    OWN_ERROR = "an error of the program, {kind}"


class DeliveryTries(Counted):
    """How often a message was tried."""

    FAILED = (
        "{target}: {why} (tried once; it is tried again)",
        "{target}: {why} (tried {n} times; it is tried again)",
    )


class SecretTrouble(Sentence):
    """Why a secret cannot be had."""

    NOT_SET = (
        "the variable {variable} is not set for the service; set it and start the service again"
    )
    NOT_READ = "{source} cannot be read: {why}"
    NO_FILE = "{source} is no regular file"
    OF_ANOTHER_USER = "{source} belongs to another user; give it to the service's own"
    OPEN_TO_OTHERS = "others may read {source}; take that away: chmod 600"
    NOT_ONE_LINE = "{source} must hold one line, the secret, and does not"


class SendingTrouble(Sentence):
    """Why a message could not be sent."""

    WRONG_PASSWORD = "{host} does not take the user and password"
    NO_LOGIN = "{host} offers no login, and no password goes out in the clear"
    NO_STARTTLS = "{host} offers no STARTTLS or login, and no password goes out in the clear"
    WRONG_RECIPIENTS = "{host} does not take mail for these addresses"
    ANSWERED = "{host} answered {status}"
    FAILED = "{host}: {why}"
    NO_ADDRESS = "{target} has no address that begins with https://"
    NO_LIBRARY = "services need an addition that is not installed: pip install 'filmhand[notify]'"
    UNKNOWN_SERVICE = "{source} holds no address that the library apprise knows"
    SERVICE_REFUSES = "the service did not take the message"
    # why a connection failed
    UNTRUSTED = "its certificate is not trusted ({why})"
    NO_TLS = "it does not speak TLS there"
    SILENT = "it does not answer"
    SENSELESS = "it answered what nobody understands"
