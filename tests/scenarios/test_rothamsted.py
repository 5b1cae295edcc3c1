"""A real soil record through the pages: four plots of Rothamsted's liming experiment, 1962 to 1994.

Data: Glendining et al. (2023), doi 10.23637/rcs10-soil-01, and Glendining (2020), doi 10.23637/rcs10-Treatments-01,
CC BY 4.0; see tests/data. Expected figures are worked by hand in each docstring.
"""

from __future__ import annotations

import csv
import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from agronomy.status import STATUSES
from amendments.models import SpreadingRecord, Standing
from amendments.queries.inputs import gather
from amendments.queries.review import of_property
from amendments.services.fertilizer import fertilizer_need
from amendments.services.prescriptions import lime_need
from soiltests.models import Lab, LabReport, Measurement, SoilTest
from tests.factories import make_lime, make_planting, make_plot, make_property, make_record

pytestmark = pytest.mark.django_db

DATA = Path(__file__).parent.parent / "data"
SOIL, LIME = DATA / "rothamsted_liming_extract.csv", DATA / "rothamsted_liming_dressings.csv"
LEVELS = {"1": "0", "4": "L", "6": "M", "8": "H"}
OF_A_HECTARE = Decimal("0.5")


def rows(path: Path) -> list[dict[str, str]]:
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.fixture
def sawyers(manager):
    """Plots of half a hectare, limed to 23 cm (9.1 in), sandy clay loam, target pH 6.5, under wheat."""
    made = make_property("SAWYERS", manager=manager, region="cool_humid")
    Lab.objects.create(property=made, name="Archive", ph_method="water_1_2_5")
    for code in LEVELS:
        plot = make_plot(
            made, code, area_entered=OF_A_HECTARE, area_unit="ha", acres_entered=Decimal("1.2355"),
            texture="sandy_clay_loam", depth_limed_in=Decimal("9.1"), target_ph=Decimal("6.5"), acres="1.2355",
        )  # fmt: skip
        make_planting(plot, "winter_wheat")
    return made


def bring_in(client, property_, content: bytes) -> LabReport:
    """Upload, columns, preview, accept: what a manager presses."""
    lab = property_.labs.get()
    file = SimpleUploadedFile("soil.csv", content)
    answer = client.post(reverse("soiltests:upload") + f"?property={property_.code}", {"lab": lab.pk, "file": file})
    assert answer.status_code == 302, answer.content.decode()[:500]
    report = LabReport.objects.latest("pk")
    page = client.get(answer["Location"])
    form = page.context["form"]
    sent = {field.html_name: field.value() if field.value() is not None else "" for field in form}
    heads = report.table[0]
    sent[f"role_{heads.index('subplot')}"] = "label"
    sent |= {"date_order": "ymd", "ph_method": "water_1_2_5"}
    answer = client.post(reverse("soiltests:columns", args=[report.pk]), sent)
    assert answer.status_code == 302, [form.errors for form in [answer.context["form"]]]
    return report


@pytest.fixture
def imported(sawyers, manager, client_of):
    client = client_of(manager)
    report = bring_in(client, sawyers, SOIL.read_bytes())
    preview = client.get(reverse("soiltests:preview", args=[report.pk]))
    assert not [p for row, _ in preview.context["rows"] for p in row.reading.problems][:5]
    assert preview.context["counts"] == {"refused": 0, "changed": 0, "new": len(rows(SOIL)), "same": 0}
    assert client.post(reverse("soiltests:accept", args=[report.pk])).status_code == 302
    return report


def test_columns_are_guessed_with_their_units(sawyers, manager, client_of) -> None:
    report = bring_in(client_of(manager), sawyers, SOIL.read_bytes())
    by_role = {c["role"]: c for c in report.choices["columns"].values() if c["role"]}
    assert by_role["p"] == {"role": "p", "unit": "mg/kg", "extractant": "olsen"}
    assert by_role["k"] == {"role": "k", "unit": "mg/kg", "extractant": "ammonium_acetate"}
    assert by_role["depth"]["unit"] == "cm"
    assert {"plot", "sampled_on", "ph", "mg", "ca"} <= set(by_role)


def test_every_row_arrives_converted(imported) -> None:
    """0-18 cm is 0 to 7.1 in, 0-23 cm 0 to 9.1 in; 107.3 mg/kg K is 107.3 ppm."""
    expected = rows(SOIL)
    assert SoilTest.objects.count() == len(expected)
    depths = set(SoilTest.objects.values_list("sample__depth_bottom_in", flat=True))
    assert depths == {Decimal("7.1"), Decimal("9.1")}
    stored = sum(Measurement.objects.filter(analyte="k").values_list("converted", flat=True))
    assert float(stored) == pytest.approx(sum(float(row["exch_k_mg_kg"] or 0) for row in expected))
    pairs = {(str(t.sample.plot.code), t.sample.sampled_on.isoformat(), t.sample.label, float(t.ph))
             for t in SoilTest.objects.select_related("sample__plot")}  # fmt: skip
    assert pairs == {(r["plot"], r["sample_date"], r["subplot"], round(float(r["pH_water"]), 2)) for r in expected}


def test_the_original_is_kept_and_a_second_import_adds_nothing(imported, sawyers, manager, client_of) -> None:
    imported.refresh_from_db()
    with imported.original.open() as kept:
        assert kept.read() == SOIL.read_bytes()
    client = client_of(manager)
    again = bring_in(client, sawyers, SOIL.read_bytes())
    preview = client.get(reverse("soiltests:preview", args=[again.pk]))
    assert preview.context["counts"]["same"] == len(rows(SOIL))
    assert client.post(reverse("soiltests:accept", args=[again.pk])).status_code == 302
    assert SoilTest.objects.count() == len(rows(SOIL))


def test_undo_takes_it_all_back(imported, manager, client_of) -> None:
    client_of(manager).post(reverse("soiltests:undo", args=[imported.pk]))
    assert SoilTest.objects.count() == 0
    assert set(Standing.objects.values_list("tested_on", flat=True)) == {None}


LAST = {
    "1": (4.66, 3.5204),  # (0.84 x 1.2 + 1.7) x 9.1/7
    "4": (5.48, 2.2412),  # (0.02 x 1.2 + 1.7) x 9.1/7
    "6": (6.29, 0.4641),  # 0.21 x 1.7 x 9.1/7
    "8": (8.07, 0.0),
}


@pytest.mark.parametrize("code", LAST)
def test_prescription_by_texture(imported, sawyers, code) -> None:
    """Mean pH of the two halves in February 1994; ordinary stone by texture, loam row, cool and humid."""
    ph, owed = LAST[code]
    (inputs,) = gather([sawyers.plots.get(code=code).pk])
    need = lime_need(inputs)
    assert inputs.test_used.soil.soil_ph == pytest.approx(ph)
    assert inputs.test_used.count == 2
    assert need.owed.amount == pytest.approx(owed, abs=0.0005)
    if owed:
        assert need.requirement.method == "texture_estimate"
        assert need.owed_effective_lb == pytest.approx(owed * 2000 * 0.9, abs=1)


def test_p_and_k_are_refused_by_name(imported, sawyers) -> None:
    (inputs,) = gather([sawyers.plots.get(code="4").pk])
    need = fertilizer_need(inputs, today=dt.date(1994, 3, 1))
    for one in (need.p2o5, need.k2o):
        assert one.lb_per_acre is None
        assert any(finding.severity == "stop" for finding in one.findings)


def test_lime_of_1962_is_taken_off(sawyers, manager, client_of) -> None:
    """Plot 4, pH 4.9: (0.6 x 1.2 + 1.7) x 9.1/7 = 3.146 ton/acre, less 5 t/ha x 0.44609 x 100/90 = 2.478."""
    first = [line for line in SOIL.read_text().splitlines() if "before_first_lime" in line or line.startswith("plot,")]
    client = client_of(manager)
    report = bring_in(client, sawyers, "\n".join(first).encode())
    client.post(reverse("soiltests:accept", args=[report.pk]))
    plot = sawyers.plots.get(code="4")
    chalk = make_lime(sawyers, "Ground chalk", cce_percent=Decimal(100), moisture_percent=Decimal(0))
    make_record(plot, chalk, on=dt.date(1962, 3, 5), amount=str(5 * OF_A_HECTARE), unit="t", area=OF_A_HECTARE,
                area_unit="ha")  # fmt: skip
    assert Standing.objects.get(plot=plot).owed_amount == pytest.approx(3.146 - 2.4783, abs=0.001)


def test_the_whole_record_in_the_review(imported, sawyers) -> None:
    """All dressings as records; in June 1994 the unlimed and the lightly limed plot are short, the heavy one over."""
    chalk = make_lime(sawyers, "Ground chalk", cce_percent=Decimal(100), moisture_percent=Decimal(0))
    for code, level in LEVELS.items():
        for dressing in rows(LIME):
            if dressing["lime_level"] == level:
                amount = Decimal(dressing["ground_chalk_t_ha"]) * OF_A_HECTARE
                make_record(sawyers.plots.get(code=code), chalk, on=dt.date.fromisoformat(dressing["lime_date"]),
                            amount=str(amount), unit="t", area=OF_A_HECTARE, area_unit="ha")  # fmt: skip
    assert SpreadingRecord.objects.count() == 17
    then = of_property(sawyers.pk, today=dt.date(1994, 6, 1))
    by_code = {row.plot.code: STATUSES[row.status_rank] for row in then}
    assert by_code == {"1": "short_of_lime", "4": "short_of_lime", "6": "in_range", "8": "over_target"}
    standing = Standing.objects.get(plot__code="8")
    assert standing.last_lime_on == dt.date(1986, 11, 13)
    assert standing.retest_due_on == dt.date(1997, 2, 1)
