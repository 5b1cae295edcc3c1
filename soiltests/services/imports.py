"""A lab report from file to soil tests: kept as a draft, shown row by row, then all or nothing, and undone."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from plots.facts import tell_changed
from plots.models import Person, Plot, Property
from soiltests.models import Lab, LabReport, Measurement, Sample, SoilTest
from soiltests.services.columns import guessed, to_remember
from soiltests.services.entry import read_measurement
from soiltests.services.matching import Match, match_names
from soiltests.services.rows import Reading, RowReader

RowState = Literal["new", "same", "changed", "refused"]
BATCH = 500


class NotAcceptable(Exception):
    """The report cannot be accepted; the message says why."""


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """One row and what accepting the report would do with it; `differences` where a stored test says otherwise."""

    reading: Reading
    state: RowState
    differences: tuple[str, ...] = ()


@transaction.atomic
def draft_report(
    property_: Property, *, lab: Lab, table: Sequence[Sequence[str]], by: Person, name: str = "", content: bytes = b""
) -> LabReport:
    """Keep an upload with its original file, and guess its columns by headings and what the lab's last file taught."""
    report = LabReport(
        property=property_,
        lab=lab,
        table=[list(row) for row in table],
        made_by=by,
        original_name=name[:200],
        original_sha256=hashlib.sha256(content).hexdigest() if content else "",
        title=name[:150],
        received_on=timezone.localdate(),
        choices=_first_choices(lab, table),
    )
    if content:
        report.original.save(f"{report.original_sha256[:16]}.bin", ContentFile(content), save=False)
    report.save()
    return report


def _first_choices(lab: Lab, table: Sequence[Sequence[str]]) -> dict[str, Any]:
    kept = {name: value for name, value in lab.column_choices.items() if name != "by_heading"}
    columns = guessed(table[0], remembered=lab.column_choices, extractant=lab.extractant)
    defaults = {
        "date_order": "mdy", "decimal": ".", "ph_method": lab.ph_method, "buffer_method": lab.buffer_method,
        "depth_bottom_in": "6", "sampled_on": "",
    }  # fmt: skip
    return {**defaults, **kept, "sampled_on": "", "columns": columns, "matches": {}}


@transaction.atomic
def choose_columns(report: LabReport, choices: Mapping[str, Any]) -> LabReport:
    """Store what a person decided about columns, units, dates and sample names."""
    report.choices = {**report.choices, **choices}
    report.save()
    return report


def sample_names(report: LabReport) -> list[str]:
    """The sample names in the plot column."""
    column = next((int(n) for n, c in report.choices["columns"].items() if c["role"] == "plot"), None)
    if column is None:
        return []
    return [row[column].strip() for row in report.table[1:] if column < len(row)]


def matches(report: LabReport) -> dict[str, Match]:
    """Each sample name with its plot, or a suggestion."""
    plots = Plot.objects.on_property(report.property_id).in_use()
    return match_names(sample_names(report), plots=plots, lab=report.lab, chosen=report.choices.get("matches", {}))


def readings(report: LabReport, *, today: dt.date) -> list[Reading]:
    """Every row understood. Rows whose sample name was chosen to be left out are not there."""
    left_out = {name for name, plot in report.choices.get("matches", {}).items() if plot == "skip"}
    known = {name: match.plot_id for name, match in matches(report).items() if match.plot_id}
    reader = RowReader(report.choices, plots=known, today=today)
    read = [reader.read(number, row) for number, row in enumerate(report.table[1:], start=2)]
    return _without_twins([one for one in read if one.name not in left_out])


def _without_twins(read: Sequence[Reading]) -> list[Reading]:
    """Refuse the second of two rows of one file that are the same sample."""
    first: dict[tuple[Any, ...], int] = {}
    found = []
    for one in read:
        twin = first.setdefault(one.identity, one.number) if one.plot_id else one.number
        if twin != one.number:
            problem = f"the same sample as row {twin}: plot, date, depth and name on the bag are alike"
            one = Reading(one.number, one.name, one.plot_id, one.sample, one.test, one.measurements,
                          (*one.problems, problem))  # fmt: skip
        found.append(one)
    return found


def preview(report: LabReport, *, today: dt.date) -> list[PreviewRow]:
    """Every row as new, same as before, changed, or refused with the reasons."""
    read = readings(report, today=today)
    stored = _stored_tests(report.lab, [one.plot_id for one in read if one.plot_id])
    return [_preview_row(one, stored) for one in read]


def _stored_tests(lab: Lab, plot_ids: Sequence[int]) -> dict[tuple[Any, ...], SoilTest]:
    tests = SoilTest.objects.filter(lab=lab, sample__plot_id__in=set(plot_ids)).select_related("sample")
    found = {}
    for test in tests.prefetch_related("measurements"):
        s = test.sample
        found[(s.plot_id, s.sampled_on, s.depth_top_in, s.depth_bottom_in, s.label)] = test
    return found


def _preview_row(one: Reading, stored: Mapping[tuple[Any, ...], SoilTest]) -> PreviewRow:
    if one.problems:
        return PreviewRow(one, "refused")
    test = stored.get(one.identity)
    if test is None:
        return PreviewRow(one, "new")
    differences = _differences(one, test)
    return PreviewRow(one, "changed" if differences else "same", differences)


def _differences(one: Reading, test: SoilTest) -> tuple[str, ...]:
    found = []
    for name in ("ph", "buffer_ph", "lab_lime_amount", "lab_n", "lab_p2o5", "lab_k2o"):
        old, new = getattr(test, name), one.test.get(name)
        if new is not None and old != new:
            found.append(f"{name.replace('_', ' ')} {old if old is not None else 'none'}, now {new}")
    stored = {row.analyte: row for row in test.measurements.all()}
    for entry in one.measurements:
        row, reading = stored.get(entry.analyte), read_measurement(entry)
        same = row is not None and (row.value, row.unit_entered, row.extractant, row.below_detection) == (
            reading.value, entry.unit, entry.extractant, reading.below_detection,
        )  # fmt: skip
        if not same:
            before = f"{row.value_entered} {row.unit_entered}" if row else "none"
            found.append(f"{entry.analyte} {before}, now {entry.text} {entry.unit}")
    return tuple(found)


@transaction.atomic
def accept_import(report: LabReport, *, by: Person, today: dt.date) -> int:
    """Store every new row of the report, or nothing; returns how many tests were made.

    Checked again against what is stored now. A second press of the button does nothing: the state moves by one
    conditional update. Raises `NotAcceptable` while a row is refused, or differs from a test that is stored.
    """
    taken = LabReport.objects.filter(pk=report.pk, state=LabReport.State.DRAFT).update(
        state=LabReport.State.ACCEPTED, accepted_by=by, accepted_at=timezone.now()
    )
    if not taken:
        return 0
    rows = preview(report, today=today)
    _check_acceptable(rows)
    new = [row.reading for row in rows if row.state == "new"]
    made = _store(report, new)
    report.refresh_from_db()
    report.outcome = {"tests": [test.pk for test in made], "rows": len(rows)}
    report.save()
    _remember(report)
    tell_changed({one.plot_id for one in new if one.plot_id})
    return len(made)


def _check_acceptable(rows: Sequence[PreviewRow]) -> None:
    refused = [str(row.reading.number) for row in rows if row.state == "refused"]
    changed = [str(row.reading.number) for row in rows if row.state == "changed"]
    if refused:
        raise NotAcceptable(f"Rows {', '.join(refused[:20])} cannot be stored. Correct the file or leave them out.")
    if changed:
        raise NotAcceptable(
            f"Rows {', '.join(changed[:20])} differ from tests that are stored already. Change those by hand, or give "
            "the samples names on the bag of their own."
        )


def _store(report: LabReport, read: Sequence[Reading]) -> list[SoilTest]:
    """Samples, tests and measurements in bulk, each with its history."""
    samples = _samples(read)
    tests = bulk_create_with_history(
        [SoilTest(sample=samples[one.identity], lab=report.lab, report=report, **one.test) for one in read],
        SoilTest,
        batch_size=BATCH,
    )
    measurements = [
        _measurement(test, entry) for test, one in zip(tests, read, strict=True) for entry in one.measurements
    ]
    bulk_create_with_history(measurements, Measurement, batch_size=BATCH)
    return list(tests)


def _samples(read: Sequence[Reading]) -> dict[tuple[Any, ...], Sample]:
    """The rows' samples, those that are there already and new ones."""
    plot_ids = {one.plot_id for one in read}
    there = {
        (s.plot_id, s.sampled_on, s.depth_top_in, s.depth_bottom_in, s.label): s
        for s in Sample.objects.filter(plot_id__in=plot_ids)
    }
    missing = [one for one in read if one.identity not in there]
    made = bulk_create_with_history(
        [Sample(plot_id=one.plot_id, **one.sample) for one in missing], Sample, batch_size=BATCH
    )
    return there | {one.identity: sample for one, sample in zip(missing, made, strict=True)}


def _measurement(test: SoilTest, entry: Any) -> Measurement:
    reading = read_measurement(entry)
    return Measurement(
        soil_test=test,
        analyte=entry.analyte,
        value_entered=entry.text,
        unit_entered=entry.unit,
        extractant=entry.extractant,
        below_detection=reading.below_detection,
        value=reading.value.quantize(Decimal("0.0001")),
        converted=reading.converted,
        converted_unit=reading.converted_unit,
    )


def _remember(report: LabReport) -> None:
    """Keep the column choices and confirmed names for the lab's next file."""
    lab, choices = report.lab, report.choices
    same = {name: choices[name] for name in choices if name not in ("columns", "matches", "sampled_on")}
    lab.column_choices = {**same, "by_heading": to_remember(report.table[0], choices["columns"])}
    confirmed = {name: match.plot_id for name, match in matches(report).items() if match.plot_id}
    lab.sample_names = {**lab.sample_names, **confirmed}
    lab.save()


@transaction.atomic
def undo_import(report: LabReport) -> int:
    """Take the report's tests back out, as long as nothing rests on them; returns how many.

    Raises `NotAcceptable` if one was changed since, or a work order was issued on its plot since.
    """
    tests = list(SoilTest.objects.filter(report=report).select_related("sample__plot"))
    if report.state != LabReport.State.ACCEPTED:
        raise NotAcceptable("Only an accepted report can be undone.")
    changed = [str(test) for test in tests if test.version > 1]
    if changed:
        raise NotAcceptable(f"{changed[0]} was changed since; undoing would lose that.")
    plot_ids = {test.sample.plot_id for test in tests}
    resting = rests_on(report, plot_ids)
    if resting:
        raise NotAcceptable(resting)
    sample_ids = {test.sample_id for test in tests}
    for test in tests:
        test.delete()
    for sample in Sample.objects.filter(pk__in=sample_ids, soil_tests__isnull=True, round_stops__isnull=True):
        sample.delete()
    report.state = LabReport.State.UNDONE
    report.save()
    tell_changed(plot_ids)
    return len(tests)


RESTS_ON: list[Any] = []
"""Functions (report, plot_ids) -> sentence by which upper apps say that something of theirs rests on a report."""


def rests_on(report: LabReport, plot_ids: set[int]) -> str:
    """Why a report's tests must stay; empty if nothing rests on them."""
    return next((why for ask in RESTS_ON if (why := ask(report, plot_ids))), "")
