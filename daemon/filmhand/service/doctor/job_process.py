"""What `filmhand doctor` says of the process that reads customers' pictures: what it can reach."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator

from filmhand.service.doctor.folder_probe import Finding, Level
from filmhand.worker.sandbox_trial import Reach, reach_of_a_job

_DO = (
    "Linux 5.13 or newer with landlock among its security modules keeps pictures from other files "
    "(6.12 also from other processes); a container's own filter may stand in the way. Until then "
    "let the user that runs filmhand own nothing but its folders."
)


def examine_job_process(where: str) -> Iterator[Finding]:
    """One finding: what a job's process was kept from here, as it was tried."""
    try:
        reach = reach_of_a_job()
    except (OSError, ValueError, TypeError, subprocess.SubprocessError) as error:
        say = f"It could not be tried what a job's process can reach: {type(error).__name__}."
        do = "Start doctor as the user and where the service runs, and look whether films are made."
        yield Finding(Level.WRONG, where, "sandbox", say, do)
        return
    yield finding_of(reach, where)


def finding_of(reach: Reach, where: str) -> Finding:
    """The sentence about what could be reached."""
    means = [f"Landlock {reach.landlock}"] if reach.landlock else []
    means += ["a filter for system calls"] if reach.calls_filtered else []
    by = f" ({' and '.join(means)})" if means else ""
    things = {
        "other files": reach.files,
        "the network": reach.network,
        "other processes": reach.signals,
    }
    kept = [name for name, reached in things.items() if not reached]
    reached = [name for name, open_to_it in things.items() if open_to_it]
    if not reached:
        say = f"What reads a picture reaches its own folders only, not {_listed(kept, 'or')}{by}."
        return Finding(Level.OK, where, "sandbox", say)
    say = f"What reads a picture could reach {_listed(reached, 'and')} here"
    say += f", though not {_listed(kept, 'or')}{by}." if kept else f"{by}."
    return Finding(Level.NOTE, where, "sandbox", say, _DO)


def _listed(names: list[str], last: str) -> str:
    return f" {last} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
