"""What is said of a cluster that makes a profile's films, one row a sentence."""

from __future__ import annotations

from filmhand.language import Sentence


class ClusterWord(Sentence):
    """What is wrong with a cluster or one of its computers, and how a job ended there."""

    # The scheduler, and the library that asks it.
    NO_ANSWER = (
        "The cluster's scheduler at {address} does not answer, or the connection to it was lost; "
        "start it, or correct the address, and filmhand goes on by itself."
    )
    NO_WORKERS = (
        "The cluster at {address} has no workers just now; start some, and filmhand goes on by "
        "itself."
    )
    NO_END = (
        "The cluster at {address} does not come to an end with a job, or has no time for it; look "
        "whether its computers are well. Filmhand tries again."
    )
    LOST_WORKERS = "the cluster at {address} lost one worker after another during the job"
    CANNOT_LOAD = (
        "The workers of the cluster at {address} cannot load filmhand; install filmhand {version} "
        "on each of its computers ({extra}), for the Python that runs the workers."
    )
    COULD_NOT_RUN = "The cluster at {address} could not run a job: {error}."
    LIBRARY_IS_MISSING = (
        "This profile hands its jobs to a cluster, which needs an addition that is not installed "
        "here. Install it ({extra}), or say `workers: own`."
    )

    # One of its computers.
    OTHER_VERSION = (
        "The cluster's computer {host} has filmhand {there}, and here is {here}; install the same "
        "version on all."
    )
    LACKS_ADDITION = (
        "The cluster's computer {host} lacks an addition that is installed here; install it there "
        "({extra})."
    )
    SEES_NO_FOLDER = (
        "The cluster's computer {host} does not see this profile's folder under the path that it "
        "has here; let the folder lie on a share that all of the cluster's computers have under "
        "the same path."
    )
    FOLDER_FAILED = (
        "The cluster's computer {host} could not work in this profile's folder, or in its own "
        "scratch folder: {why}; see that the user of its workers may read and write there, and "
        "that there is room."
    )
    COMPUTER_FAILED = "The cluster's computer {host}: {why}"
    WAS_ENDED = "The cluster's computer {host} was being ended during a job; filmhand tries again."
    NOT_ARRIVED = (
        "What the cluster's computer {host} wrote into this profile's folder has not arrived here; "
        "look whether the share is well."
    )
    NO_FILE_NAME = "The cluster answered with {name}, which is no name of a file."

    # How a job's process ended there.
    KILLED_ON = "{how} on {host}"
    DIED_ON = "on {host}: {how}"
