"""Shapes that the trade knows (rise, crest, slow fall; fine and coarse; ammonium and nitrate), on an unlearned plot."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agronomy.ph_forecast import Forecast, LimeDressing, NitrogenDressing, PhTest, SiteFacts, forecast
from tests.agronomy.forecast.grounds import AGLIME, COARSE, FINE, SILT_LOAM, START, yearly_nitrogen

YEARS = 12
LIMED = dt.date(2020, 3, 15)


def course(
    lb: float = 0.0, shares: tuple[float, float, float, float] = AGLIME, *, ph: float = 5.4,
    nitrogen: Sequence[NitrogenDressing] = (), site: SiteFacts = SILT_LOAM,
) -> Forecast:
    lime = [LimeDressing(LIMED, lb, shares)] if lb else []
    return forecast(
        [PhTest(START, ph, site.depth_in)], site=site, today=START, planned_lime=lime, planned_nitrogen=nitrogen,
        months_ahead=12 * YEARS,
    )  # fmt: skip


def after(told: Forecast, years: float) -> float:
    return told.at(LIMED + dt.timedelta(days=round(years * 365.25)))


def crest_years(told: Forecast) -> float:
    return (told.crest()[0] - LIMED).days / 365.25


def test_aglime_rises_over_months_crests_and_falls_slowly() -> None:
    """P06: a slow rise, a crest, a slow fall over three to five years and more (common practice)."""
    told = course(4000.0)
    start, top = told.median[0], told.crest()[1]
    assert 0.02 < after(told, 1 / 12) - start < 0.5 * (top - start)
    assert after(told, 0.5) - start > 0.5 * (top - start)
    assert 0.75 <= crest_years(told) <= 3.0
    fall = top - after(told, crest_years(told) + 3.0)
    assert 0.03 * (top - start) < fall < 0.4 * (top - start)
    assert after(told, 5.0) > start + 0.4 * (top - start)


def test_the_course_has_one_crest() -> None:
    told = course(4000.0)
    top = told.median.index(max(told.median))
    rising = all(a <= b + 1e-9 for a, b in zip(told.median[1:top], told.median[2 : top + 1], strict=True))
    falling = all(a >= b - 1e-9 for a, b in zip(told.median[top:], told.median[top + 1 :], strict=False))
    assert rising
    assert falling


def test_equal_one_year_rate_finer_crests_and_falls_earlier() -> None:
    """P06: what acts in a year is set equal (share reacted in a year: fine 1.0, ag lime 0.60 or so by the rates),
    so the finer lime carries less in all: it crests earlier, and at five years stands lower."""
    acts = {AGLIME: 0.45 + 0.2 * 0.528 + 0.3 * 0.165 + 0.05 * 0.045, FINE: 1.0, COARSE: 0.2 + 0.2 * 0.528
            + 0.4 * 0.165 + 0.2 * 0.045}  # fmt: skip
    tellings = [course(2000.0 / acts[shares], shares) for shares in (FINE, AGLIME, COARSE)]
    crests = [crest_years(told) for told in tellings]
    assert crests == sorted(crests)
    assert len(set(crests)) == 3
    late = [after(told, 5.0) for told in tellings]
    assert late == sorted(late)
    assert late[0] < late[1] - 0.05


def test_equal_cce_finer_crests_earlier_and_ends_the_same() -> None:
    """P06, and Conyers 2020: after about six years all but the coarsest size stood alike (tolerance 0.2 pH)."""
    fine, stone = course(3000.0, FINE), course(3000.0, AGLIME)
    assert crest_years(fine) < crest_years(stone)
    assert after(fine, 0.5) > after(stone, 0.5) + 0.1
    assert after(fine, 6.0) == pytest.approx(after(stone, 6.0), abs=0.2)
    assert after(fine, 12.0) == pytest.approx(after(stone, 12.0), abs=0.12)


def test_ammonium_sulfate_pulls_more_than_urea_more_than_none() -> None:
    """P16; 100 lb N a year for six years, from pH 6.2."""
    falls = []
    for source in (None, "urea", "ammonium_sulfate"):
        fed = yearly_nitrogen(source, 100.0, first=2020, last=2031) if source else []
        told = course(ph=6.2, nitrogen=fed)
        falls.append(told.median[0] - after(told, 6.0))
    none, urea, sulfate = falls
    assert 0.0 < none < urea - 0.1
    assert urea < sulfate - 0.3


def test_basic_nitrate_holds_or_raises() -> None:
    fed = yearly_nitrogen("calcium_nitrate", 100.0, first=2020, last=2031)
    assert after(course(ph=5.4, nitrogen=fed), 6.0) > after(course(ph=5.4), 6.0) + 0.1


def test_half_a_rate_closes_about_half_the_shortfall() -> None:
    """P05: CEC 5 to 6, from about 5.8: half of a one-ton need takes pH to about 6.3 (common practice, no source;
    tolerance 0.25: by published tables a ton does less than P01 has it)."""
    medium = SiteFacts(cec_meq_100g=5.5, depth_in=20 / 3)
    half, whole = course(1000.0, ph=5.8, site=medium), course(2000.0, ph=5.8, site=medium)
    assert after(half, 1.0) == pytest.approx(6.3, abs=0.25)
    none = course(ph=5.8, site=medium)
    rise_half, rise_whole = after(half, 1.0) - after(none, 1.0), after(whole, 1.0) - after(none, 1.0)
    assert rise_half == pytest.approx(0.5 * rise_whole, rel=0.15)


def test_sand_answers_more_and_falls_faster_than_clay_loam() -> None:
    sand = SiteFacts(texture="loamy_sand", organic_matter_percent=1.0, depth_in=6.0)
    clay = SiteFacts(texture="clay_loam", organic_matter_percent=4.0, depth_in=6.0)
    light, heavy = course(2000.0, site=sand), course(2000.0, site=clay)
    assert light.crest()[1] > heavy.crest()[1] + 0.3
    assert (light.crest()[1] - after(light, 8.0)) > (heavy.crest()[1] - after(heavy, 8.0))


def test_over_limed_ground_stays_under_eight_and_a_half() -> None:
    told = course(40_000.0)
    assert 7.5 < max(told.median) < 8.5


def test_reacting_lime_only_shrinks_after_a_dressing() -> None:
    told = course(4000.0)
    stock = told.reacting_lb_per_acre[2:]
    assert stock[0] < 4000.0
    assert all(a >= b for a, b in itertools.pairwise(stock))
    assert told.reacting_until(left_lb_per_acre=500.0) is not None


@settings(max_examples=25, deadline=None)
@given(
    lb=st.floats(0, 20_000), more=st.floats(100, 8_000), ph=st.floats(4.2, 7.2), n=st.floats(0, 200),
    texture=st.sampled_from(["sand", "sandy_loam", "silt_loam", "clay"]),
)  # fmt: skip
def test_more_lime_never_lowers_and_more_nitrogen_never_raises(
    lb: float, more: float, ph: float, n: float, texture: str
) -> None:
    site = SiteFacts(texture=texture)
    fed = yearly_nitrogen("urea", n, first=2020, last=2031)
    plain, limed = course(lb, ph=ph, nitrogen=fed, site=site), course(lb + more, ph=ph, nitrogen=fed, site=site)
    sour = course(lb, ph=ph, nitrogen=yearly_nitrogen("urea", n + 50, first=2020, last=2031), site=site)
    assert all(a <= b + 1e-6 for a, b in zip(plain.median, limed.median, strict=True))
    assert all(a >= b - 1e-6 for a, b in zip(plain.median, sour.median, strict=True))
    assert all(2.5 < value < 8.6 for value in (*limed.median, *sour.median))
