"""Every metric and label that the dashboard names is one that the service tells, and none is left out."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from prometheus_client import REGISTRY
from prometheus_client.metrics import MetricWrapperBase

from service.api.measured import OLDEST, UP, WAITING
from service.store.watch import watch
from tests.topology import image

DASHBOARD: Mapping[str, Any] = json.loads((image.ROOT / "docker" / "dashboard.json").read_text())
MEASURED = {WAITING: {"queue", "task", "status"}, OLDEST: {"queue", "task"}, UP: set[str]()}
SUFFIXES = {"counter": ("_total",), "histogram": ("_bucket", "_sum", "_count"), "gauge": ("",)}


def expressions() -> Iterator[str]:
    for panel in DASHBOARD["panels"]:
        yield from (target["expr"] for target in panel["targets"])


def told() -> Mapping[str, set[str]]:
    """Labels by the names in which metrics are told."""
    assert watch, "its module makes what it counts in"
    found: dict[str, set[str]] = dict(MEASURED)
    for metric in set(REGISTRY._collector_to_names):
        if isinstance(metric, MetricWrapperBase) and metric._name.startswith("floors_"):
            for suffix in SUFFIXES[metric._type]:
                found[metric._name + suffix] = {*metric._labelnames, *(["le"] if suffix == "_bucket" else [])}
    return found


def test_metrics_and_labels_exist() -> None:
    known = told()
    for expression in expressions():
        (name,) = set(re.findall(r"floors_\w+", expression))
        assert name in known, expression
        grouped = re.findall(r"by \(([^)]*)\)", expression)
        matched = re.findall(r"(\w+)=\"", expression)
        labels = {label.strip() for group in grouped for label in group.split(",")} | set(matched)
        assert labels <= known[name], expression


def test_every_metric_has_its_place() -> None:
    shown = {name for expression in expressions() for name in re.findall(r"floors_\w+", expression)}
    stems = {re.sub(r"_(bucket|sum|count)$", "", name) for name in told()}
    assert {re.sub(r"_bucket$", "", name) for name in shown} == stems


def test_panels_do_not_lie_on_each_other() -> None:
    panels = DASHBOARD["panels"]
    covered = [
        (x, y)
        for place in (panel["gridPos"] for panel in panels)
        for x in range(place["x"], place["x"] + place["w"])
        for y in range(place["y"], place["y"] + place["h"])
    ]
    assert len(set(covered)) == len(covered)
    assert len({panel["id"] for panel in panels}) == len(panels)


def test_legends_name_labels_of_their_expression() -> None:
    for panel in DASHBOARD["panels"]:
        for target in panel["targets"]:
            for label in re.findall(r"\{\{(\w+)\}\}", target["legendFormat"]):
                assert re.search(rf"by \([^)]*\b{label}\b", target["expr"]), target
