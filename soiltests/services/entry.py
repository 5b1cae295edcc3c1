"""Entering soil tests: the figure as the report has it, kept beside the converted one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django.db import transaction

from plots.facts import tell_changed
from plots.models import Plot
from plots.services.plots import save_versioned
from soiltests.analytes import ANALYTES, EXTRACTANTS
from soiltests.models import Lab, LabReport, Measurement, Sample, SoilTest

_SIX = Decimal("0.000001")
# To ppm. Pounds per acre by the usual 2,000,000 lb of soil, whatever the sample's depth: that is how labs print it.
_TO_PPM = {
    "ppm": Decimal(1),
    "mg/kg": Decimal(1),
    "lb/acre": Decimal("0.5"),
    "kg/ha": Decimal("0.5") / Decimal("1.12085116"),
}
_OTHER = {
    ("g/kg", "%"): Decimal("0.1"),
    ("cmol/kg", "meq/100 g"): Decimal(1),
    ("meq/100 cm3", "meq/100 g"): Decimal(1),
    ("mg/kg", "ppm"): Decimal(1),
}
# By volume, or a scale of a laboratory's own: another quantity than ppm by weight, kept as it is.
_KEPT = {"mg/dm3": "mg/dm3", "g/m3": "mg/dm3", "index": "index"}


@dataclass(frozen=True, slots=True)
class MeasurementEntry:
    """One analyte as a report states it: `text` may carry a leading "<"."""

    analyte: str
    text: str
    unit: str
    extractant: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measurement understood: its number, whether it stands below detection, and the figure converted."""

    value: Decimal
    below_detection: bool
    converted: Decimal
    converted_unit: str


def read_measurement(entry: MeasurementEntry) -> Reading:
    """Understand one measurement; raises `ValueError` naming the analyte, the value and what is allowed.

    Below detection, half the detection limit is calculated with (common practice); the mark is kept.
    """
    analyte = ANALYTES.get(entry.analyte)
    if analyte is None:
        raise ValueError(f"{entry.analyte!r} is not measured here; allowed are {', '.join(ANALYTES)}")
    if entry.unit not in analyte.units:
        named = f"{entry.unit!r} is not a unit" if entry.unit else "the unit is missing"
        raise ValueError(f"{analyte.name} {entry.text}: {named}; allowed are {', '.join(analyte.units)}")
    if analyte.extracted and entry.extractant and entry.extractant not in EXTRACTANTS:
        raise ValueError(f"{analyte.name}: {entry.extractant!r} is not an extractant known here")
    below = entry.text.strip().startswith("<")
    value = _number(analyte.name, entry.text.strip().lstrip("<").strip())
    factor, unit = _conversion(analyte.kept_in, entry.unit)
    converted = ((value / 2 if below else value) * factor).quantize(_SIX, ROUND_HALF_UP)
    if not analyte.low <= converted <= analyte.high:
        raise ValueError(
            f"{analyte.name} {entry.text} {entry.unit}: allowed are {analyte.low} to {analyte.high} {analyte.kept_in}"
        )
    return Reading(value, below, converted, unit)


def _number(name: str, text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"{name} {text!r} is not a number") from None
    if not value.is_finite():
        raise ValueError(f"{name} {text!r} is not a number")
    return value


def _conversion(kept_in: str, unit: str) -> tuple[Decimal, str]:
    if kept_in == "ppm" and unit in _TO_PPM:
        return _TO_PPM[unit], "ppm"
    if kept_in == "ppm" and unit in _KEPT:
        return Decimal(1), _KEPT[unit]
    return _OTHER.get((unit, kept_in), Decimal(1)), kept_in


def _write_measurements(test: SoilTest, entries: Sequence[MeasurementEntry]) -> None:
    """Make the stored measurements those of the entries. One by one, so that each change is in the history."""
    stored = {row.analyte: row for row in test.measurements.all()}
    for entry in entries:
        reading = read_measurement(entry)
        row = stored.pop(entry.analyte, None) or Measurement(soil_test=test, analyte=entry.analyte)
        row.value_entered, row.unit_entered, row.extractant = entry.text.strip(), entry.unit, entry.extractant
        row.value, row.below_detection = reading.value, reading.below_detection
        row.converted, row.converted_unit = reading.converted, reading.converted_unit
        row.save()
    for row in stored.values():
        row.delete()


@transaction.atomic
def enter_test(
    plot: Plot,
    *,
    lab: Lab,
    sample: Mapping[str, Any],
    test: Mapping[str, Any],
    measurements: Sequence[MeasurementEntry] = (),
    report: LabReport | None = None,
) -> SoilTest:
    """Store one lab's test of one sample, making the sample if it is not there yet.

    `sample` names the columns of `Sample`, `test` those of `SoilTest`. Raises `ValueError` for a measurement that
    cannot be understood and `django.db.IntegrityError` for a sample this lab has tested before.
    """
    identity = {k: sample[k] for k in ("sampled_on", "depth_top_in", "depth_bottom_in", "label") if k in sample}
    rest = {name: value for name, value in sample.items() if name not in identity}
    taken, _ = Sample.objects.get_or_create(plot=plot, **identity, defaults=rest)
    made = SoilTest(sample=taken, lab=lab, report=report, **test)
    made.save()
    _write_measurements(made, measurements)
    tell_changed([plot.pk])
    return made


@transaction.atomic
def change_test(
    test: SoilTest, *, sample: Sample, measurements: Sequence[MeasurementEntry], seen_version: int
) -> SoilTest:
    """Store a test and its sample as a form has filled them; raises `plots.services.plots.Stale` if it changed."""
    sample.save()
    save_versioned(test, seen_version=seen_version)
    _write_measurements(test, measurements)
    tell_changed([sample.plot_id])
    return test


@transaction.atomic
def set_fate(sample: Sample, fate: str, *, note: str = "") -> Sample:
    """Mark a sample as lost or repeated, or as good after all. Its tests stay, and stop counting unless taken."""
    sample.fate = fate
    sample.note = note or sample.note
    sample.save()
    tell_changed([sample.plot_id])
    return sample
