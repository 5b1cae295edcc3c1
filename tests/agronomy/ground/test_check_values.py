"""Check rows: read, run and reported; a bad row fails by itself, a file that is no table is refused whole."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.check_values import (
    CALCULATIONS,
    COLUMNS,
    MalformedFile,
    count_by_basis,
    load_rows,
    package_rows,
    parse_rows,
    report_lines,
    report_object,
    run,
)
from agronomy.check_values.running import RESULT_UNIT, run_rows
from agronomy.sources import STATUSES, sources

HEADER = ",".join(COLUMNS)


def table(*rows: tuple[object, ...]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([json.dumps(cell) if isinstance(cell, dict) else cell for cell in row] for row in rows)
    return out.getvalue()


def speed(**cells: object) -> tuple[object, ...]:
    row: dict[str, object] = {
        "id": "a", "calculation": "ground_speed", "inputs": {"distance_ft": 88, "seconds": 60}, "expected": 1,
        "unit": "mph", "tolerance": 0, "basis": "published", "source": "somewhere",
    } | cells  # fmt: skip
    return tuple(row.values())


def one(**cells: object) -> Any:
    (outcome,) = run(parse_rows(table(speed(**cells))))
    return outcome


def test_every_row_of_the_package_holds() -> None:
    outcomes = run(package_rows())
    assert len(outcomes) > 50
    assert [f"{o.id}: {o.reason}" for o in outcomes if not o.passed] == []


def test_every_row_has_an_id_of_its_own_and_names_a_basis_and_a_source() -> None:
    rows = package_rows()
    ids = [row.id for row in rows]
    assert sorted(ids) == sorted(set(ids))
    assert {row.basis for row in rows} <= set(STATUSES)
    assert [row.id for row in rows if not row.source] == []


def test_a_row_never_claims_more_than_its_source() -> None:
    """A row rests on a source of the same standing or better: no second-hand figure is passed off as published."""
    worse = {"second-hand", "from memory", "common practice"}
    claims = [
        row.id
        for row in package_rows()
        if row.source in sources() and row.basis == "published" and sources()[row.source].status in worse
    ]
    assert claims == []


def test_every_calculation_that_the_contract_names_for_field_work_is_there() -> None:
    named = {"unit_conversion", "spreader_rate", "effective_swath", "ground_speed", "bags_needed", "polygon_acres"}
    assert named <= set(CALCULATIONS)
    used = {row.calculation for row in package_rows()}
    assert used <= set(CALCULATIONS)


def test_the_verdict_is_by_the_tolerance_and_forgives_only_what_floats_lose() -> None:
    assert one().passed
    assert one(expected=1.001, tolerance=0.001).passed
    missed = one(expected=1.0011, tolerance=0.001)
    assert not missed.passed
    assert missed.reason == "off by 0.0011, allowed 0.001"
    assert not one(expected=1.000001).passed
    assert one(expected=1 + 1e-12).passed


def test_a_row_may_ask_for_the_answer_in_another_unit() -> None:
    assert one(expected=1.609344, unit="km/h", tolerance=1e-9).passed
    assert one(
        calculation="spreader_rate", inputs={"collected_lb": 52, "swath_ft": 20, "distance_ft": 400},
        expected=317.36, unit="kg/ha", tolerance=0.01,
    ).passed  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"calculation": "guessing"}, "no calculation is called 'guessing'"),
        ({"inputs": "{distance_ft: 88}"}, "inputs are not JSON"),
        ({"inputs": "[1, 2]"}, "inputs must be a JSON object"),
        ({"inputs": '{"distance_ft": NaN, "seconds": 60}'}, "NaN is no number"),
        ({"inputs": "[" * 100_000}, "inputs are not JSON"),
        ({"inputs": {"distance_ft": 88}}, "the inputs lack 'seconds'"),
        ({"inputs": {"distance_ft": 88, "seconds": 0}}, "seconds of 0.0 is not over 0"),
        ({"inputs": {"distance_ft": "88", "seconds": 60}}, "input 'distance_ft' is '88', not a number"),
        ({"inputs": {"distance_ft": True, "seconds": 60}}, "not a number"),
        ({"expected": ""}, "no expected value"),
        ({"expected": "nan"}, "no finite number"),
        ({"expected": "one"}, "a number where a text is expected"),
        ({"tolerance": "some"}, "tolerance 'some' is no number"),
        ({"tolerance": -1}, "tolerance -1 is not 0 or more"),
        ({"basis": "guessed"}, "basis 'guessed' is none of published"),
        ({"calculation": "polygon_acres", "inputs": {"coordinates": "x"}}, "coordinates must be a list"),
        ({"calculation": "pattern_cv", "inputs": {"positions_ft": 5, "catches": [], "pass_spacing_ft": 9}}, "iterable"),
        ({"calculation": "retest_due", "inputs": {"sampled_on": 5}, "expected": "now"}, "fromisoformat"),
    ],
)  # fmt: skip
def test_a_bad_row_fails_with_its_reason_and_the_next_still_runs(cells: dict[str, object], reason: str) -> None:
    bad, good = run(parse_rows(table(speed(**cells), speed(id="b"))))
    assert not bad.passed
    assert reason in bad.reason
    assert good.passed


def test_a_row_of_too_few_or_too_many_cells_fails_alone() -> None:
    text = table(speed()) + "b,ground_speed,{}\n" + table(speed(id="c")).splitlines()[1] + ",extra\n"
    first, second, third = run(parse_rows(text))
    assert first.passed
    assert second.reason == "3 cells where the header has 8"
    assert third.reason == "9 cells where the header has 8"


def test_texts_are_compared_without_regard_to_case() -> None:
    inputs = {"sampled_on": "2025-09-12"}
    for expected, passed in (("2028-09-12", True), ("2028-09-13", False), ("5", False)):
        outcome = one(calculation="retest_due", inputs=inputs, expected=expected)
        assert outcome.passed is passed
    assert one(calculation="retest_due", inputs={}, expected=" NOW ").passed


def test_what_a_calculation_gives_must_be_a_finite_number_or_a_text() -> None:
    rows = parse_rows(table(*(speed(id=name, calculation=name) for name in ("none", "nan", "yes", "boom", "deep"))))

    def boom(inputs: Mapping[str, Any]) -> float:
        raise RuntimeError

    def deep(inputs: Mapping[str, Any]) -> float:
        return deep(inputs)

    outcomes = run_rows(rows, calculations={
        "none": lambda inputs: None, "nan": lambda inputs: math.nan, "yes": lambda inputs: True, "boom": boom,
        "deep": deep,
    })  # type: ignore[arg-type,return-value]  # fmt: skip
    assert [outcome.passed for outcome in outcomes] == [False] * 5
    assert outcomes[3].reason == "RuntimeError"
    json.dumps(report_object(outcomes), allow_nan=False)


def test_the_row_hands_its_unit_to_the_calculation() -> None:
    seen: list[Mapping[str, Any]] = []

    def keep(inputs: Mapping[str, Any]) -> float:
        seen.append(inputs)
        return 1.0

    run_rows(parse_rows(table(speed(inputs={"unit": "ppm"}, unit="lb/ton"))), calculations={"ground_speed": keep})
    assert seen == [{"unit": "ppm", RESULT_UNIT: "lb/ton"}]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "no header"),
        ("\n\n", "no header"),
        (HEADER + "\n", "a header but no row"),
        ("a,b,c\n1,2,3\n", "the header lacks id, calculation"),
        (HEADER + ",id\n", "names a column twice"),
        (HEADER + "\n" + "x" * 200_000, "not readable as CSV"),
    ],
)
def test_a_file_that_is_no_table_of_rows_is_refused(text: str, reason: str) -> None:
    with pytest.raises(MalformedFile, match=reason):
        parse_rows(text)


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MalformedFile, match="No such file"):
        load_rows(tmp_path / "none.csv")
    with pytest.raises(MalformedFile, match="cannot be read"):
        load_rows(tmp_path)
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(MalformedFile, match="not UTF-8"):
        load_rows(tmp_path / "odd.csv")
    with pytest.raises(MalformedFile, match="cannot be read"):
        load_rows("a\0b")


def test_a_byte_order_mark_comments_blank_lines_and_column_order_do_not_matter(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    names = list(reversed(COLUMNS))
    cells = dict(zip(COLUMNS, table(speed()).splitlines()[1].split(",", 2)[:2], strict=False))
    values = {**dict(zip(COLUMNS, speed(), strict=True)), **cells}
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        file.write("# a note\n\n")
        writer = csv.writer(file)
        writer.writerow(names)
        writer.writerow([json.dumps(values[n]) if n == "inputs" else values[n] for n in names])
    (outcome,) = run(load_rows(path))
    assert outcome.passed


def test_the_report_has_a_line_a_row_a_count_a_basis_and_ends_with_the_sum() -> None:
    text = table(speed(), speed(id="b", expected=2), speed(id="c\nd", basis="derived"), speed(id="e", basis=""))
    outcomes = run(parse_rows(text))
    lines = report_lines(outcomes)
    assert len(lines) == 4 + 3 + 1
    assert not any("\n" in line for line in lines)
    assert lines[0] == "a  ground_speed  expected 1 mph  computed 1  passed"
    assert lines[1].endswith("FAILED: off by 1, allowed 0")
    assert lines[4:] == (
        "published: 1 passed, 1 failed", "derived: 1 passed, 0 failed", "no basis given: 0 passed, 1 failed",
        "2 passed, 2 failed",
    )  # fmt: skip
    counts = count_by_basis(outcomes)
    assert sum(count.passed + count.failed for count in counts) == 4
    report = report_object(outcomes)
    assert (report["passed"], report["failed"], len(report["rows"])) == (2, 2, 4)


@given(text=st.text(alphabet=st.characters(codec="utf-8"), max_size=300))
def test_no_text_at_all_makes_it_fall_over(text: str) -> None:
    for start in ("", HEADER + "\n"):
        try:
            outcomes = run(parse_rows(start + text))
        except MalformedFile:
            continue
        assert report_lines(outcomes)[-1].endswith("failed")
        assert not any(outcome.passed for outcome in outcomes)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=8,
)


@given(data=st.data())
def test_no_inputs_make_a_calculation_fall_over(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(CALCULATIONS)))
    known = [dict(row.inputs) for row in package_rows() if row.calculation == name] or [{}]
    inputs = data.draw(st.sampled_from(known))
    for key in list(inputs):
        if data.draw(st.booleans()):
            inputs[key] = data.draw(JSON)
    (outcome,) = run(parse_rows(table(speed(calculation=name, inputs=inputs))))
    json.dumps(report_object([outcome]), allow_nan=False)
    assert len(report_lines([outcome])) == 3
