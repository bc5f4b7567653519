"""The compose file, the task for Windows and the shell scripts, by what else reads such files."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest
import yaml
from compose_spec import PyCompose
from lxml import etree

from filmhand.cli.main import main

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"
TASK = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"
SCRIPTS = [*sorted(ROOT.glob("*/*.sh")), ROOT / ".ci/run"]


def read_as_compose(text: str) -> PyCompose:
    """By the crate compose_spec, which holds a file against the Compose Specification."""
    text = re.sub(r"\$\{\w+:\?[^}]*\}", "/given", text)
    found = PyCompose.from_yaml(re.sub(r"\$\{\w+:-([^}]*)\}", r"\1", text))
    found.validate()
    return found


def compose_service() -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
    return dict(found["services"]["filmhand"])


def served(words: list[str]) -> dict[str, Any]:
    """What the command line makes of `filmhand serve ...`."""
    assert Path(words[0]).name == "filmhand"
    with click.Context(main.commands[words[1]], info_name=words[1]) as context:
        main.commands[words[1]].parse_args(context, words[2:])
        return dict(context.params)


def after_exec(line: str) -> list[str]:
    return shlex.split(line.partition("exec ")[2])


def test_the_compose_file_is_one() -> None:
    found = read_as_compose((DEPLOY / "compose.yaml").read_text())
    assert found.service_names() == ["filmhand"]


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("  filmhand:\n    image", "  filmhand:\n    imige"),
        ("interval: 60s", "interval: 60 potatoes"),
        ("cap_drop: [ALL]", "cap_drop: ALL"),
    ],
)
def test_a_compose_file_that_is_none_is_noticed(right: str, wrong: str) -> None:
    text = (DEPLOY / "compose.yaml").read_text()
    assert right in text
    with pytest.raises(ValueError):
        read_as_compose(text.replace(right, wrong))


def test_the_compose_file_says_what_the_image_says() -> None:
    service = compose_service()
    image = (DEPLOY / "Containerfile").read_text()
    check = json.loads(image.partition("HEALTHCHECK ")[2].partition("CMD ")[2].splitlines()[0])
    assert service["healthcheck"]["test"] == ["CMD", *check]
    words = json.loads(re.findall(r"^CMD (.*)$", image, re.MULTILINE)[0])
    shell, option, line = service["command"]
    assert (shell, option) == ("sh", "-c")
    assert served(after_exec(line)) == served(words)
    assert line.startswith('umask "$$UMASK" && exec ')
    targets = {volume["target"]: volume for volume in service["volumes"]}
    assert set(targets) == {"/films", "/profiles", "/state"}
    assert targets["/state"]["type"] == "volume"
    volumes = yaml.safe_load((DEPLOY / "compose.yaml").read_text())["volumes"]
    assert set(volumes) == {targets["/state"]["source"]}
    assert targets["/profiles"]["read_only"] is True


def test_the_compose_file_gives_no_more_than_is_needed() -> None:
    service = compose_service()
    assert service["user"] == "${FILMHAND_UID:-10001}:${FILMHAND_GID:-10001}"
    assert service["read_only"] is True and service["init"] is True
    assert service["cap_drop"] == ["ALL"] and "cap_add" not in service
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert service["network_mode"] == "none"
    assert not {"privileged", "ports", "devices"} & set(service)


def test_the_umask_of_the_container_holds(tmp_path: Path) -> None:
    """The command is run, with a program of ours in the place of filmhand."""
    line = compose_service()["command"][2].replace("$$", "$")
    program = tmp_path / "filmhand"
    program.write_text("#!/bin/sh\numask\n")
    program.chmod(0o755)
    environment = {"PATH": f"{tmp_path}:/usr/bin:/bin", "UMASK": "0027"}
    done = subprocess.run(
        ["sh", "-c", line], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "0027"


def test_the_task_for_windows() -> None:
    """Task Scheduler Schema: names and order of its elements, from memory; no schema is at hand."""
    task = etree.parse(DEPLOY / "windows-task.xml").getroot()
    assert task.tag == f"{TASK}Task" and task.get("version") == "1.2"
    parts = [part.tag.removeprefix(TASK) for part in task if isinstance(part.tag, str)]
    assert parts == ["RegistrationInfo", "Triggers", "Principals", "Settings", "Actions"]
    assert task.findtext(f".//{TASK}RunLevel") == "LeastPrivilege"
    assert task.findtext(f".//{TASK}ExecutionTimeLimit") == "PT0S"
    (principal,) = task.findall(f".//{TASK}Principal")
    (actions,) = task.findall(f"{TASK}Actions")
    assert actions.get("Context") == principal.get("id")
    assert task.findtext(f".//{TASK}Command") == "wsl.exe"
    words = shlex.split(task.findtext(f".//{TASK}Arguments") or "")
    assert words[-3:-1] == ["sh", "-c"]
    unit = (DEPLOY / "filmhand.service").read_text()
    command = re.findall(r"^ExecStart=(.*)$", unit, re.MULTILINE)[0]
    assert served(after_exec(words[-1])) == served(shlex.split(command))


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_shell_scripts_have_no_known_fault(script: Path) -> None:
    """ShellCheck, with the remarks of its level `info`."""
    tool = shutil.which("shellcheck", path=str(Path(sys.executable).parent)) or shutil.which(
        "shellcheck"
    )
    if tool is None:
        pytest.skip("shellcheck is not installed")
    assert script.read_text().startswith("#!/bin/sh\n")
    done = subprocess.run(
        [tool, "--severity=info", str(script)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, "")


def test_a_fault_in_a_shell_script_is_noticed(tmp_path: Path) -> None:
    tool = shutil.which("shellcheck", path=str(Path(sys.executable).parent))
    if tool is None:
        pytest.skip("shellcheck is not installed")
    script = tmp_path / "faulty.sh"
    script.write_text("#!/bin/sh\nrm -rf $1/*\n")
    done = subprocess.run([tool, str(script)], capture_output=True, text=True, check=False)
    assert done.returncode == 1 and "SC2086" in done.stdout


def test_every_file_of_deploy_is_on_its_page() -> None:
    page = (DEPLOY / "README.md").read_text()
    for path in DEPLOY.iterdir():
        assert path.name == "README.md" or path.name in page, path.name
