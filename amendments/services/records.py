"""Recording what was spread: stored once, never edited, corrected only by a newer record."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from uuid import UUID, uuid4, uuid5

from django.core.files.base import File
from django.db import IntegrityError, models, transaction

from amendments.models import Material, SharedLoad, Spreader, SpreadingRecord, WorkOrder, WorkOrderLine
from amendments.services.materials import analysis_on, freeze, pounds
from plots.facts import tell_changed
from plots.models import Person, Plot

ACRES = {
    "acre": Decimal(1),
    "ha": Decimal(10000) / Decimal("4046.8564224"),
    "sq ft": 1 / Decimal(43560),
    "m2": 1 / Decimal("4046.8564224"),
}
_THOUSANDTH = Decimal("0.001")
_TEN_THOUSANDTH = Decimal("0.0001")


class OtherContent(Exception):
    """This UUID is stored already, with other content."""


class AlreadyCorrected(Exception):
    """A newer record corrects this one already; `newer` is it."""

    def __init__(self, newer: SpreadingRecord) -> None:
        super().__init__("already corrected")
        self.newer = newer


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing spread, as a person states it. Amounts and areas in the units they used."""

    plot: Plot
    material: Material
    spread_on: dt.date
    amount: Decimal
    unit: str
    area: Decimal
    entered_by: Person
    entered_at: dt.datetime
    applicator: str
    uuid: UUID = field(default_factory=uuid4)
    area_unit: str = "acre"
    package_lb: Decimal | None = None
    leftover_lb: Decimal | None = None
    worked_in_on: dt.date | None = None
    worked_in_depth_in: Decimal | None = None
    method: str = ""
    spreader: Spreader | None = None
    started_at: dt.time | None = None
    ended_at: dt.time | None = None
    temperature_f: int | None = None
    weather: str = ""
    forecast_next_day: str = ""
    ground: str = ""
    note: str = ""
    order_line: WorkOrderLine | None = None


_NOT_IN_DIGEST = ("entered_at",)  # the same entry may be sent again by a phone whose clock was set meanwhile


def _plain(value: Any) -> Any:
    if isinstance(value, models.Model):
        return value.pk
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return value if value is None or isinstance(value, int) else str(value)


def digest(entry: Entry, *, corrects: SpreadingRecord | None = None) -> str:
    """A digest of the parsed fields: equal for the same content, whatever way it was written down."""
    content = {f.name: _plain(getattr(entry, f.name)) for f in fields(entry) if f.name not in _NOT_IN_DIGEST}
    content["corrects"] = _plain(corrects)
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _columns(entry: Entry, corrects: SpreadingRecord | None, load: SharedLoad | None) -> dict[str, Any]:
    """The record's columns. A correction keeps the analysis that the first record froze for the same material."""
    if corrects is not None and corrects.material_id == entry.material.pk:
        frozen = corrects.frozen
    else:
        frozen = freeze(entry.material, analysis_on(entry.material, entry.spread_on))
    density = frozen.get("density_lb_per_gal")
    in_lb = pounds(
        entry.amount,
        entry.unit,
        package_lb=entry.package_lb,
        lb_per_gal=None if density is None else Decimal(str(density)),
    )
    as_entered = {
        f.name: getattr(entry, f.name)
        for f in fields(entry)
        if f.name not in ("plot", "amount", "unit", "area", "uuid")
    }
    return as_entered | {
        "plot": entry.plot,
        "property_id": entry.plot.property_id,
        "frozen": frozen,
        "amount_entered": entry.amount,
        "unit_entered": entry.unit,
        "amount_lb": in_lb.quantize(_THOUSANDTH, ROUND_HALF_UP),
        "area_entered": entry.area,
        "acres_covered": (entry.area * ACRES[entry.area_unit]).quantize(_TEN_THOUSANDTH, ROUND_HALF_UP),
        "corrects": corrects,
        "load": load,
        "is_late": _is_late(entry.order_line),
        "digest": digest(entry, corrects=corrects),
    }


def _is_late(line: WorkOrderLine | None) -> bool:
    return line is not None and line.order.state in (WorkOrder.State.DONE, WorkOrder.State.CALLED_OFF)


@transaction.atomic
def record_spreading(
    entry: Entry, *, load: SharedLoad | None = None, photo: File[bytes] | None = None
) -> tuple[SpreadingRecord, bool]:
    """Store an entry once. Returns the record and whether it is new.

    Sending the same UUID with the same content again returns the first record; raises `OtherContent` if the content
    differs, and `ValueError` for an amount or area that cannot be converted.
    """
    defaults = _columns(entry, None, load)
    with transaction.atomic():
        record, created = SpreadingRecord.objects.get_or_create(uuid=entry.uuid, defaults=defaults)
    if not created:
        if record.digest != defaults["digest"]:
            raise OtherContent
        return record, False
    if photo is not None:
        record.photo.save(f"{record.uuid}.jpg", photo)
    tell_changed([record.plot_id])
    return record, True


@transaction.atomic
def record_shared_load(entries: Sequence[Entry], *, load_uuid: UUID) -> list[SpreadingRecord]:
    """Store one amount of one material that went over several plots. The entries hold each plot's part.

    Raises `ValueError` for no entries or several materials; a repeated `load_uuid` stores nothing twice.
    """
    if not entries or len({(entry.material.pk, entry.spread_on) for entry in entries}) != 1:
        raise ValueError("a shared load is one material on one day over at least one plot")
    first = entries[0]
    load, _ = SharedLoad.objects.get_or_create(
        uuid=load_uuid,
        defaults={
            "property_id": first.plot.property_id,
            "material": first.material,
            "spread_on": first.spread_on,
            "amount_entered": sum((entry.amount for entry in entries), Decimal(0)),
            "unit_entered": first.unit,
        },
    )
    return [record_spreading(entry, load=load)[0] for entry in entries]


def part_uuid(load: UUID, plot_id: int) -> UUID:
    """The UUID of one plot's part of a shared load: the same whenever the load is sent again."""
    return uuid5(load, str(plot_id))


def shares_by_area(total: Decimal, areas: Sequence[Decimal]) -> list[Decimal]:
    """One amount divided over areas in proportion, to the thousandth, the last part taking what rounding left."""
    whole = sum(areas, Decimal(0))
    if whole <= 0:
        raise ValueError("the areas covered must add up to more than 0")
    parts = [(total * area / whole).quantize(_THOUSANDTH, ROUND_HALF_UP) for area in areas[:-1]]
    return [*parts, total - sum(parts, Decimal(0))]


@transaction.atomic
def correct_record(old: SpreadingRecord, entry: Entry) -> SpreadingRecord:
    """Store a newer record in place of `old`, which stays readable. Raises `AlreadyCorrected` if one exists.

    Whether two people correct at once is decided by the one-to-one constraint, not by looking first.
    """
    columns = _columns(entry, old, old.load)
    try:
        with transaction.atomic():
            newer = SpreadingRecord.objects.create(uuid=entry.uuid, **columns)
    except IntegrityError:
        existing = SpreadingRecord.objects.filter(corrects=old).first()
        if existing is None:
            raise
        raise AlreadyCorrected(existing) from None
    tell_changed({old.plot_id, newer.plot_id})
    return newer


def entry_of(record: SpreadingRecord, *, by: Person, at: dt.datetime) -> Entry:
    """The record as an entry, under a new UUID, to start a correction from."""
    same = {
        f.name: getattr(record, f.name)
        for f in fields(Entry)
        if f.name not in ("amount", "unit", "area", "entered_by", "entered_at", "uuid")
    }
    return Entry(
        **same,
        amount=record.amount_entered,
        unit=record.unit_entered,
        area=record.area_entered,
        entered_by=by,
        entered_at=at,
    )


def void_record(old: SpreadingRecord, *, by: Person, at: dt.datetime, reason: str) -> SpreadingRecord:
    """Say that nothing was spread after all: a correction with amount 0."""
    return correct_record(old, replace(entry_of(old, by=by, at=at), amount=Decimal(0), note=reason))
