"""Edges walked with a phone whose fixes wander, against the ground they were walked on."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
import shapely

from agronomy.area import ACRE_M2, CrossedRing, Fix, WalkedEdge, compare_walks, measured, walked_edge

LONGITUDE, LATITUDE = -90.0, 35.0
EAST, NORTH = 91_288.0, 110_941.0  # metres a degree there
GROUND = [(0.0, 0.0), (90.0, 0.0), (100.0, 60.0), (40.0, 75.0), (0.0, 50.0)]
TRUE_ACRES = shapely.Polygon(GROUND).area / ACRE_M2


def fix(x: float, y: float, seconds: float, accuracy: float = 4.0) -> Fix:
    return Fix(LONGITUDE + x / EAST, LATITUDE + y / NORTH, accuracy, seconds)


def track(corners: list[tuple[float, float]], *, step_m: float = 1.4) -> list[tuple[float, float]]:
    """Points along a way, a second's walk apart."""
    line = shapely.LineString(corners)
    count = round(line.length / step_m)
    return [line.interpolate(line.length * number / count).coords[0] for number in range(count + 1)]


def walk(
    seed: int, corners: list[tuple[float, float]] = GROUND, *, sd: float = 1.6, keep: float = 0.95, stand: int = 0
) -> list[Fix]:
    """A walk around the corners with errors that wander slowly; `stand` seconds are spent at each corner."""
    draw = random.Random(seed)
    points = track([*corners, corners[0]])
    if stand:
        at_corner = {min(range(len(points)), key=lambda n: math.dist(points[n], c)) for c in corners}
        points = [p for n, p in enumerate(points) for _ in range(stand if n in at_corner else 1)]
    off_x, off_y = draw.gauss(0, sd), draw.gauss(0, sd)
    fixes = []
    for second, (x, y) in enumerate(points):
        off_x = keep * off_x + math.sqrt(1 - keep**2) * draw.gauss(0, sd)
        off_y = keep * off_y + math.sqrt(1 - keep**2) * draw.gauss(0, sd)
        fixes.append(fix(x + off_x, y + off_y, second))
    return fixes


def codes(edge: WalkedEdge) -> list[str]:
    return [finding.code for finding in edge.findings]


def test_a_clean_walk_gives_the_ground() -> None:
    edge = walked_edge([fix(x, y, second) for second, (x, y) in enumerate(track([*GROUND, GROUND[0]]))])
    assert edge.size.acres == pytest.approx(TRUE_ACRES, rel=0.01)
    assert edge.findings == ()
    assert edge.fixes_dropped == 0
    assert edge.size.sd_acres is not None


@pytest.mark.parametrize("stand", [0, 20])
def test_wandering_fixes_give_the_ground_within_the_band(stand: int) -> None:
    edges = [walked_edge(walk(seed, stand=stand)) for seed in range(120)]
    inside = sum(edge.size.low_acres <= TRUE_ACRES <= edge.size.high_acres for edge in edges)
    assert inside >= 107  # a true 95 % of 120 is 114 with a standard deviation of 2.4
    mean = math.fsum(edge.size.acres for edge in edges) / len(edges)
    assert mean == pytest.approx(TRUE_ACRES, rel=0.01)


def test_raw_fixes_would_cross_where_the_ring_does_not() -> None:
    raw = [walk(seed, keep=0.5, stand=20) for seed in range(20)]
    crossed = sum(not shapely.Polygon([(f.longitude, f.latitude) for f in fixes]).is_valid for fixes in raw)
    assert crossed == 20
    for fixes in raw:
        edge = walked_edge(fixes)
        assert measured(edge.geometry).acres == pytest.approx(TRUE_ACRES, rel=0.08)


def test_no_point_is_moved_further_than_its_accuracy() -> None:
    fixes = walk(5, keep=0.6)
    edge = walked_edge(fixes)
    for longitude, latitude in edge.geometry["coordinates"][0]:
        off = min(math.hypot((longitude - f.longitude) * EAST, (latitude - f.latitude) * NORTH) for f in fixes)
        assert off <= 4.0


def test_poor_fixes_and_jumps_are_left_out() -> None:
    fixes = walk(1)
    poor = [replace(f, accuracy_m=60.0, longitude=f.longitude + 0.002) for f in fixes[10:20]]
    spoiled = [*fixes[:10], *poor, *fixes[20:]]
    spoiled[100] = replace(spoiled[100], latitude=spoiled[100].latitude + 0.001)
    edge = walked_edge(spoiled)
    assert edge.fixes_dropped >= 11
    assert "walk_fixes_dropped" in codes(edge)
    assert edge.size.acres == pytest.approx(TRUE_ACRES, rel=0.06)


def test_walking_on_past_the_start_closes_at_the_start() -> None:
    around = track([*GROUND, GROUND[0]])
    past = around + track([GROUND[0], (30.0, 0.0)])[1:]
    edge = walked_edge([fix(x, y, second) for second, (x, y) in enumerate(past)])
    assert edge.size.acres == pytest.approx(TRUE_ACRES, rel=0.01)
    assert edge.gap_ft < 10


def test_a_walk_that_stops_short_says_so() -> None:
    most = track(GROUND)  # the last side is missing
    edge = walked_edge([fix(x, y, second) for second, (x, y) in enumerate(most)])
    assert codes(edge) == ["walk_not_closed"]
    assert edge.gap_ft == pytest.approx(50 / 0.3048, rel=0.05)


def test_a_figure_of_eight_is_refused_with_the_place() -> None:
    eight = [(0.0, 0.0), (80.0, 60.0), (80.0, 0.0), (0.0, 60.0)]
    with pytest.raises(CrossedRing, match="the walk crosses itself") as refused:
        walked_edge([fix(x, y, second) for second, (x, y) in enumerate(track([*eight, eight[0]]))])
    assert (refused.value.longitude - LONGITUDE) * EAST == pytest.approx(40, abs=2)
    assert (refused.value.latitude - LATITUDE) * NORTH == pytest.approx(30, abs=2)


def test_a_small_loop_is_untied_and_told() -> None:
    knot = [(30.0, 0.0), (34.0, 6.0), (28.0, 6.0), (32.0, -0.1)]
    way = [GROUND[0], *knot, *GROUND[1:], GROUND[0]]
    edge = walked_edge([fix(x, y, second, accuracy=1.0) for second, (x, y) in enumerate(track(way))])
    assert "walk_loops_dropped" in codes(edge)
    assert edge.size.acres == pytest.approx(TRUE_ACRES, rel=0.02)


def test_the_order_is_that_of_time() -> None:
    fixes = walk(2)
    shuffled = fixes[:]
    random.Random(1).shuffle(shuffled)
    assert walked_edge(shuffled) == walked_edge(fixes)


def test_two_walks_are_compared_by_their_bands() -> None:
    one, other = walked_edge(walk(1)).size, walked_edge(walk(2)).size
    assert compare_walks(one, other) == ()
    (finding,) = compare_walks(one, replace(other, acres=other.acres * 1.5))
    assert finding.code == "walks_differ"


@pytest.mark.parametrize(
    ("fixes", "said"),
    [
        ([], "0 of 0 fixes"),
        ([fix(0, 0, n) for n in range(50)], "too few for a ring"),
        ([fix(x, 0, n, accuracy=40) for n, x in enumerate(range(50))], "0 of 50 fixes are within 15 m"),
        ([fix(500 * (n % 2), 300 * (n % 3), n) for n in range(30)], "jump about"),
        ([replace(fix(0, 0, n), latitude=math.nan) for n in range(9)], "0 of 9 fixes"),
        ([fix(0, 0, n) for n in range(20_001)], "more than a walk"),
    ],
)
def test_what_makes_no_ring_is_refused(fixes: list[Fix], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        walked_edge(fixes)
