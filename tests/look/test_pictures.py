"""The geometry and the words of the pH pictures."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest
from bs4 import BeautifulSoup
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from plots.pictures import NARROW_WIDTH, Picture, ph_picture, ph_spark

TODAY = dt.date(2026, 9, 10)
TESTS = [(dt.date(2022, 9, 1), 5.4, 0.2), (dt.date(2024, 9, 1), 6.1, 0.2), (dt.date(2026, 3, 1), 5.9, 0.2)]
DRESSINGS = [
    (dt.date(2023, 3, 20), "ground limestone", 4000.0, "lime"),
    (dt.date(2025, 4, 1), "0-0-60", 100.0, "fertilizer"),
]
BAND = [
    (dt.date(2026, 10, 1), 5.7, 5.9, 6.1),
    (dt.date(2027, 10, 1), 5.5, 5.8, 6.2),
    (dt.date(2028, 10, 1), 5.2, 5.7, 6.2),
]


def made(**changes: object) -> Picture:
    facts: dict[str, object] = {"tests": TESTS, "dressings": DRESSINGS, "band": BAND, "target": 6.4, "floor": 5.6}
    facts |= {"upper": 7.3, "today": TODAY, "retest_on": dt.date(2027, 3, 1)} | changes
    rows = [facts.pop(name) for name in ("tests", "dressings", "band")]
    return ph_picture(*rows, **facts)


def test_positions_follow_dates_and_ph() -> None:
    picture = made()
    assert [mark.x for mark in picture.tests] == sorted(mark.x for mark in picture.tests)
    by_ph = sorted(zip((test[1] for test in TESTS), picture.tests, strict=True), key=lambda pair: pair[0])
    assert all(lower[1].y > higher[1].y for lower, higher in pairwise(by_ph))
    for (_, _, error), mark in zip(TESTS, picture.tests, strict=True):
        assert mark.top < mark.y < mark.bottom
        assert (mark.bottom - mark.top) / 2 == pytest.approx(error / 0.5 * _half_ph(picture), abs=0.2)
    assert picture.tests[-1].x < picture.today_x < picture.retest_x


def _half_ph(picture: Picture) -> float:
    """Px of half a pH, from the axis."""
    return picture.ph_ticks[0].at - picture.ph_ticks[1].at


def test_lines_zone_and_axis_agree() -> None:
    picture = made()
    ticks = {tick.label: tick.at for tick in picture.ph_ticks}
    assert picture.target_y == pytest.approx(ticks["6.5"] + 0.2 * _half_ph(picture), abs=0.2)
    assert picture.floor_y == pytest.approx(ticks["5.5"] - 0.2 * _half_ph(picture), abs=0.2)
    top, height = picture.zone
    assert top + height == pytest.approx(picture.target_y, abs=0.11)
    assert top >= picture.frame.top  # the upper limit lies above the picture and is brought to its edge


def test_a_mark_s_area_follows_the_rate_and_its_kind_is_kept() -> None:
    lime, fertilizer = made().dressings
    assert (lime.kind, fertilizer.kind) == ("lime", "fertilizer")
    assert lime.size > fertilizer.size
    heavy, light = made(dressings=[(TODAY, "a", 4000.0, "lime"), (TODAY, "b", 1000.0, "lime")]).dressings
    assert heavy.size == pytest.approx(2 * light.size)


def test_figures_and_units_stand_on_the_picture() -> None:
    texts = [say.text.replace("\u00a0", " ") for say in made().says]
    for words in (
        "target 6.4",
        "floor 5.6",
        "forecast 5.7",
        "retest Mar 1, 2027",
        "today",
        "5.9",
        "4,000 lb/acre",
        "0-0-60",
    ):
        assert words in texts


def test_it_is_told_in_words() -> None:
    said = made().description
    assert said == (
        "3 tests: pH 5.4 in September 2022, 5.9 in March 2026. Target 6.4. 2 dressings spread. Forecast for October "
        "2028: pH 5.7, in four cases of five between 5.2 and 6.2. Retest due March 1, 2027."
    )
    assert made(tests=[], dressings=[], band=[], retest_on=None, target=None).description == "No test yet."
    assert "1 test: pH 5.4 in September 2022. " in made(tests=TESTS[:1]).description


@pytest.mark.parametrize("missing", ["tests", "dressings", "band"])
def test_a_picture_may_lack_a_part(missing: str) -> None:
    assert drawn(made(**{missing: []})).select_one("svg") is not None


def test_nothing_at_all_still_draws() -> None:
    picture = made(tests=[], dressings=[], band=[], target=None, floor=None, upper=None, retest_on=None)
    assert picture.zone is picture.target_y is picture.floor_y is picture.retest_x is None
    assert len(picture.ph_ticks) >= 3


def test_order_does_not_matter() -> None:
    assert made(tests=TESTS[::-1], dressings=DRESSINGS[::-1], band=BAND[::-1]) == made()


def test_a_short_record_has_months_on_its_axis_and_a_long_one_few_years() -> None:
    short = made(tests=TESTS[-1:], dressings=[], band=[], retest_on=None)
    assert short.date_ticks[0].label.endswith("2026")
    assert " " in short.date_ticks[0].label
    long = made(tests=[(dt.date(1962, 10, 1), 5.0, 0.2), (dt.date(1998, 1, 1), 6.0, 0.2)])
    gaps = [right.at - left.at for left, right in pairwise(long.date_ticks)]
    assert min(gaps) >= 40


def test_too_small_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 320 px wide"):
        made(width=100)


def test_the_narrow_one_is_for_a_phone() -> None:
    picture = made()
    assert picture.narrow.width == NARROW_WIDTH
    assert picture.narrow.narrow is None
    assert picture.identity != picture.narrow.identity
    assert made(width=320, height=240).narrow is None


DAYS = st.dates(dt.date(1950, 1, 1), dt.date(2050, 12, 31))
PH = st.floats(3, 10)


@given(
    tests=st.lists(st.tuples(DAYS, PH, st.floats(0, 0.6)), max_size=12),
    dressings=st.lists(
        st.tuples(DAYS, st.just("lime"), st.floats(0, 9000), st.sampled_from(["lime", "other"])), max_size=12
    ),
    target=st.none() | PH,
    floor=st.none() | PH,
    upper=st.none() | PH,
    retest_on=st.none() | DAYS,
)
def test_everything_stays_on_the_paper(**facts: object) -> None:
    wide = made(band=[], **facts)
    for picture in (wide, wide.narrow):
        points = [(mark.x, y) for mark in picture.tests for y in (mark.y, mark.top, mark.bottom)]
        points += [(mark.x, mark.y) for mark in picture.dressings]
        assert all(0 <= x <= picture.width and 0 <= y <= picture.height for x, y in points)
        for say in picture.says:
            left, right = say.room()
            assert left >= -25, say
            assert right <= picture.width + 8, say
        lines: dict[float, list[tuple[float, float]]] = {}
        for say in picture.says:
            if say.kind == "soft" and say.text != "today":
                lines.setdefault(say.y, []).append(say.room())
        for rooms in lines.values():
            assert all(one[1] <= other[0] for one, other in pairwise(sorted(rooms)))


def drawn(picture: Picture) -> BeautifulSoup:
    html = Template("{% load trade %}{% picture p %}").render(Context({"p": picture}))
    return BeautifulSoup(html, "html.parser")


def test_drawn_it_has_a_title_a_description_and_a_table() -> None:
    page = drawn(made())
    for svg in page.select("svg"):
        named = svg["aria-labelledby"].split()
        assert [page.find(id=name).text for name in named] == ["Soil pH over the years", made().description]
        assert len(svg.select(".test")) == 3
        assert not svg.select("[style]")
    ids = [element["id"] for element in page.select("[id]")]
    assert len(ids) == len(set(ids))
    tables = page.select("details table")
    assert [table.caption.text.split(":")[0] for table in tables] == ["Soil tests", "Spread", "Forecast pH"]
    assert [len(table.tbody.select("tr")) for table in tables] == [3, 2, 3]


def test_spark() -> None:
    spark = ph_spark([(day, ph) for day, ph, _ in TESTS], target=6.4)
    assert len(spark.dots) == 2
    assert spark.last[0] == pytest.approx(spark.width - 4)
    assert spark.target_y < spark.last[1]
    assert spark.said == "pH 5.4 in 2022, 6.1 in 2024, 5.9 in 2026"
    assert ph_spark([], target=6.0).trace == ""
    assert ph_spark(TESTS_OF_ONE, target=None).dots == ()


TESTS_OF_ONE = [(dt.date(2026, 3, 1), 5.9)]


def test_a_spark_does_not_blow_up_noise() -> None:
    """Two tests a tenth apart differ by no more than a tenth of the height."""
    spark = ph_spark([(dt.date(2020, 1, 1), 6.0), (dt.date(2022, 1, 1), 6.1)], target=None)
    (_, first), (_, last) = spark.dots[0], spark.last
    assert abs(first - last) <= 0.101 * spark.height
