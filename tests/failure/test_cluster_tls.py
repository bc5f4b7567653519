"""A cluster that asks for certificates: those that dask's own configuration names are used."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from certificates import self_signed
from cluster_harness import LocalCluster

from filmhand.cluster.scheduler import Cluster
from filmhand.errors import EnvironmentTrouble

pytest.importorskip("dask")


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Certificate and key in one file; it signs itself, so that it is its own authority."""
    return self_signed(tmp_path_factory.mktemp("tls"), "filmhand", "IP:127.0.0.1")


@pytest.fixture
def cluster(tmp_path: Path, certificate: Path) -> Iterator[LocalCluster]:
    file = str(certificate)
    words = {"CA_FILE": file, "SCHEDULER__CERT": file, "WORKER__CERT": file, "CLIENT__CERT": file}
    environment = {f"DASK_DISTRIBUTED__COMM__TLS__{key}": value for key, value in words.items()}
    cluster = LocalCluster(tmp_path, protocol="tls", **environment)
    cluster.start_scheduler()
    cluster.staff(1)
    yield cluster
    cluster.stop()


def asked(address: str, folder: Path) -> dict[str, object]:
    cluster = Cluster(address)
    try:
        return cluster.ask_all(folder, "word")
    finally:
        cluster.close()


# In a process of its own: dask reads its configuration when it is loaded.
_ASK = """
import json, pathlib, sys
from filmhand.cluster import scheduler
scheduler._CONNECT = 60.0  # a busy machine
cluster = scheduler.Cluster(sys.argv[1])
try:
    print(json.dumps(cluster.ask_all(pathlib.Path(sys.argv[2]), "word")))
finally:
    cluster.close()
"""


def test_certificates_of_dasks_configuration_open_the_cluster(
    cluster: LocalCluster, certificate: Path, tmp_path: Path
) -> None:
    (tmp_path / "here").write_text("word")
    assert cluster.address.startswith("dask+tls://")
    names = {"CA_FILE": str(certificate), "CLIENT__CERT": str(certificate)}
    configured = {f"DASK_DISTRIBUTED__COMM__TLS__{key}": value for key, value in names.items()}
    done = subprocess.run(
        [sys.executable, "-c", _ASK, cluster.address, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), **configured},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (told,) = json.loads(done.stdout.splitlines()[-1]).values()
    assert isinstance(told, dict) and told["sees"]


def test_without_a_certificate_it_stays_shut(cluster: LocalCluster, tmp_path: Path) -> None:
    for address in (cluster.address, cluster.address.replace("dask+tls", "dask")):
        with pytest.raises(EnvironmentTrouble, match="does not answer"):
            asked(address, tmp_path)
