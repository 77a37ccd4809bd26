"""Reads the metrics in both forms with the parsers of the client library for Python, and compares them."""

import sys

from prometheus_client.openmetrics.parser import text_string_to_metric_families as strict
from prometheus_client.parser import text_string_to_metric_families as older


def samples(families):
    return {
        (sample.name, tuple(sorted((k, v) for k, v in sample.labels.items()))): sample.value
        for family in families
        for sample in family.samples
    }


openmetrics = list(strict(open(sys.argv[1], encoding="utf-8").read()))
names = {family.name for family in openmetrics}
wanted = {
    "clampbook_requests",
    "clampbook_request_duration_seconds",
    "clampbook_requests_in_flight",
    "clampbook_records",
    "clampbook_revisions",
    "clampbook_last_change",
    "clampbook_store_stopped",
}
assert wanted <= names, wanted - names
for family in openmetrics:
    assert family.documentation, f"{family.name} has no words"
first = samples(openmetrics)
second = samples(older(open(sys.argv[2], encoding="utf-8").read()))
assert first.keys() == second.keys(), first.keys() ^ second.keys()
failed = {labels for (name, labels) in first if name == "clampbook_requests_total" and dict(labels)["status"] == "500"}
assert not failed, f"answered with 500: {failed}"
print(f"   {len(first)} samples in {len(names)} families, the same in both forms, none of a 500")
