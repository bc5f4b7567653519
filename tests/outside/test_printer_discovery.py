"""Printers that announce themselves by a real announcer (Avahi) are found, asked and told."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from printer_simulator import Simulator, simulators

from filmhand.cli.main import main
from filmhand.printer import discovery
from filmhand.printer.discovery import CannotLook, find_printers
from filmhand.profile.printing import read_print

pytestmark = pytest.mark.outside
__all__ = ["simulators"]

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def announced(simulators: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Simulator]:
    pytest.importorskip("zeroconf")
    folder = tmp_path_factory.mktemp("announced")
    one = Simulator(folder, ["-a", str(HERE / "film_printer.conf")], announced=True)
    yield one
    one.close()


def test_a_printer_on_the_network_is_found_with_its_lines(announced: Simulator) -> None:
    for seconds in (2.0, 8.0, 20.0):  # announcing takes a while on a busy machine
        found = {one.name: one for one in find_printers(seconds)}
        if announced.name in found:
            break
    else:
        pytest.skip("multicast does not reach this process here")
    uri = found[announced.name].uri
    assert uri.startswith("ipp://")
    assert uri.endswith(f":{announced.port}/ipp/print")
    done = CliRunner().invoke(main, ["doctor", "--printers", "--json"])
    assert done.exit_code == 0, done.output
    (told,) = [one for one in json.loads(done.stdout) if one["name"] == announced.name]
    assert told["uri"] == uri
    assert "Films go as PWG Raster of one bit, at 600 or 1200 dpi." in told["says"]
    assert "Media for film: transparency." in told["says"]
    group = yaml.safe_load("\n".join(told["group"]))
    wishes = read_print(group["print"])
    assert wishes is not None
    assert (wishes.printer, wishes.media, wishes.tray) == (uri, "transparency", None)
    shown = CliRunner().invoke(main, ["doctor", "--printers"])
    assert f"\nprint:\n  printer: {uri}\n  media: transparency\n" in shown.output


def test_without_the_library_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "zeroconf", None)
    with pytest.raises(CannotLook, match=r"pip install 'filmhand\[printers\]'"):
        find_printers(0.1)
    assert discovery.PRINTERS_EXTRA == "pip install 'filmhand[printers]'"
    done = CliRunner().invoke(main, ["doctor", "--printers"])
    assert done.exit_code == 1
    assert "filmhand[printers]" in done.stderr
