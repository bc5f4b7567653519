"""The figures read by somebody else: the parser of the Prometheus project's own client library."""

from __future__ import annotations

import pytest

from filmhand.service.metrics import ProfileFigures, metrics_text

parser = pytest.importorskip(
    "prometheus_client.parser", reason="needs prometheus_client (pip install prometheus_client)"
)
pytestmark = pytest.mark.outside


def test_prometheus_reads_the_same_figures() -> None:
    name = 'odd "name"\\with\nall'
    figures = ProfileFigures(name, 3, 1, 40, 2, 84.25, 1, True, False, 12.5, 10**12)
    text = metrics_text([figures], reload_failed=True)
    families = {one.name: one for one in parser.text_string_to_metric_families(text)}
    assert families["filmhand_jobs"].type == "counter"
    jobs = {sample.labels["result"]: sample.value for sample in families["filmhand_jobs"].samples}
    assert jobs == {"made": 40, "refused": 2}
    (waiting,) = families["filmhand_waiting"].samples
    assert (waiting.labels, waiting.value) == ({"profile": name}, 3)
    seconds = {sample.name: sample.value for sample in families["filmhand_job_seconds"].samples}
    assert seconds == {"filmhand_job_seconds_sum": 84.25, "filmhand_job_seconds_count": 42}
    assert families["filmhand_reload_failed"].samples[0].value == 1
