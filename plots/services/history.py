"""Who changed what: the kept versions of every tracked row, as sentences of fields."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

VERBS = {"+": "added", "~": "changed", "-": "removed"}
_HIDDEN = {"id", "version", "code_key", "sort_key", "token_digest", "table", "outcome"}


@dataclass(frozen=True, slots=True)
class Change:
    """One change: what kind of thing, which one, by whom, when, and each field's old and new value."""

    when: dt.datetime
    who: str
    verb: str
    kind: str
    what: str
    fields: tuple[tuple[str, str, str], ...]


def _text(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)[:200]


def _fields(record: Any) -> tuple[tuple[str, str, str], ...]:
    """What a version changed against the one before it."""
    before = record.prev_record
    if record.history_type != "~" or before is None:
        return ()
    changed = []
    for field in record.tracked_fields:
        if field.name in _HIDDEN:
            continue
        old, new = getattr(before, field.attname), getattr(record, field.attname)
        if old != new:
            changed.append((str(field.verbose_name), _text(old), _text(new)))
    return tuple(changed)


def as_change(record: Any) -> Change:
    model = record.instance_type
    return Change(
        when=record.history_date,
        who=str(record.history_user) if record.history_user else "the program",
        verb=VERBS.get(record.history_type, record.history_type),
        kind=str(model._meta.verbose_name),
        what=str(record),
        fields=_fields(record),
    )


def tracked_models() -> Iterator[type[models.Model]]:
    """Every model whose versions are kept."""
    for model in apps.get_models():
        if hasattr(model, "history") and hasattr(model.history, "model"):
            yield model


def _path_to_property(model: type[models.Model]) -> str | None:
    """The lookup from a model's version to the property it belongs to; None for one that belongs to none."""
    paths = {
        "property": "pk", "plot": "property_id", "role": "property_id", "planting": "plot__property_id",
        "sample": "plot__property_id", "soiltest": "sample__plot__property_id",
        "measurement": "soil_test__sample__plot__property_id", "analysis": "material__property_id",
        "offer": "material__property_id", "stockcount": "material__property_id",
        "calibration": "spreader__property_id", "workorderline": "order__property_id",
        "roundstop": "round__property_id",
    }  # fmt: skip
    name = model._meta.model_name or ""
    if name in paths:
        return paths[name]
    return "property_id" if any(field.name == "property" for field in model._meta.fields) else None


def changes_of_property(property_id: int, *, most: int = 500) -> list[Change]:
    """The newest changes of everything on a property."""
    records: list[Any] = []
    for model in tracked_models():
        path = _path_to_property(model)
        if path is None:
            continue
        lookup = {"id" if path == "pk" else path: property_id}
        rows = model.history.filter(**lookup).select_related("history_user")  # type: ignore[attr-defined]
        records += list(rows.order_by("-history_date", "-history_id")[:most])
    return _newest(records, most)


def changes_of_plot(plot_id: int, *, most: int = 200) -> list[Change]:
    """The newest changes of a plot and what belongs to it."""
    lookups = {
        "plot": "id", "planting": "plot_id", "sample": "plot_id", "soiltest": "sample__plot_id",
        "measurement": "soil_test__sample__plot_id",
    }  # fmt: skip
    records: list[Any] = []
    for model in tracked_models():
        lookup = lookups.get(model._meta.model_name or "")
        if lookup:
            rows = model.history.filter(**{lookup: plot_id}).select_related("history_user")  # type: ignore[attr-defined]
            records += list(rows.order_by("-history_date", "-history_id")[:most])
    return _newest(records, most)


def _newest(records: Iterable[Any], most: int) -> list[Change]:
    newest = sorted(records, key=lambda record: record.history_date, reverse=True)[:most]
    return [as_change(record) for record in newest]
