"""What `filmhand doctor` says of the process that reads customers' pictures: what it can reach."""

from __future__ import annotations

from collections.abc import Iterator

from filmhand.errors import EnvironmentTrouble
from filmhand.language import and_list, or_list
from filmhand.service.doctor.doctor_words import DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding
from filmhand.worker.sandbox_trial import Reach, reach_of_a_job


def examine_job_process(where: str) -> Iterator[Finding]:
    """One finding: what a job's process was kept from here, as it was tried."""
    try:
        reach = reach_of_a_job()
    except (EnvironmentTrouble, OSError, ValueError, TypeError) as error:
        say = DoctorWord.REACH_NOT_TRIED.say(kind=type(error).__name__)
        yield Finding(Level.WRONG, where, Topic.SANDBOX, say, DoctorWord.TRY_REACH_AGAIN.say())
        return
    yield finding_of(reach, where)


def finding_of(reach: Reach, where: str) -> Finding:
    """The sentence about what could be reached."""
    means = [DoctorWord.LANDLOCK.say(version=reach.landlock)] if reach.landlock else []
    means += [DoctorWord.CALL_FILTER.say()] if reach.calls_filtered else []
    by = f" ({and_list(means)})" if means else ""
    things = {
        DoctorWord.OTHER_FILES.say(): reach.files,
        DoctorWord.NETWORK.say(): reach.network,
        DoctorWord.OTHER_PROCESSES.say(): reach.signals,
    }
    kept = [name for name, reached in things.items() if not reached]
    reached = [name for name, open_to_it in things.items() if open_to_it]
    if not reached:
        say = DoctorWord.REACHES_NOTHING.say(kept=or_list(kept), by=by)
        return Finding(Level.OK, where, Topic.SANDBOX, say)
    if kept:
        say = DoctorWord.REACHES_SOME.say(reached=and_list(reached), kept=or_list(kept), by=by)
    else:
        say = DoctorWord.REACHES_ALL.say(reached=and_list(reached), by=by)
    return Finding(Level.NOTE, where, Topic.SANDBOX, say, DoctorWord.SHUT_IN.say())
