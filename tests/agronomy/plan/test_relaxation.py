"""The linear relaxation, written a second time row by row from docs/season-plan.md and solved by SciPy."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import linprog

from agronomy.season_plan import Season
from agronomy.season_plan.layout import lay_out
from agronomy.season_plan.model import write_program
from agronomy.season_plan.solver import solve
from tests.agronomy.plan.brute import NUTRIENTS, Way, cap_lb_per_acre, need_lb, stock_lb, ways_of, worth_of
from tests.agronomy.plan.cases import small_season


class _Columns:
    """Numbers the unknowns in the order they are first named."""

    def __init__(self) -> None:
        self.number: dict[object, int] = {}
        self.rows: list[tuple[dict[int, float], float]] = []

    def __getitem__(self, name: object) -> int:
        return self.number.setdefault(name, len(self.number))

    def at_most(self, terms: dict[object, float], limit: float) -> None:
        row: dict[int, float] = {}
        for name, value in terms.items():
            row[self[name]] = row.get(self[name], 0.0) + value
        self.rows.append((row, limit))


def _holds(season: Season, pile: tuple, drawn: list[Way]) -> tuple[float, float]:
    """(most packages, pounds in one) of a pile; bulk is one order of any weight."""
    package, stock = season.offer_by_key[pile[0]].package, stock_lb(season, pile)
    rounds = len(season.dressings)
    wanted = 0.0
    for plot in {way.plot.key: way.plot for way in drawn}.values():
        way = next(way for way in drawn if way.plot is plot)
        most = way.most * (rounds if way.offer.kind == "lime" else 1)
        if way.offer.kind == "lime":
            most = min(most, plot.owed_effective_lb_per_acre * plot.acres / way.effective)
        wanted += most
    short = max(0.0, wanted - stock)
    holds = package.holds_lb if package.kind != "bulk" else max(short, package.smallest_lb or 0.0, 1.0)
    count = int(np.ceil(short / holds))
    return float(max(count, package.smallest_order) if count else 0), holds


def relaxed_gain(season: Season) -> float:
    """The bound of the relaxation: no whole numbers anywhere."""
    ways, lp = ways_of(season), _Columns()
    upper: dict[object, float] = {}
    for i, way in enumerate(ways):
        upper["u", i], upper["f", i] = 1.0, way.most
        lp.at_most({("f", i): 1.0, ("u", i): -way.most}, 0.0)
        lp.at_most({("f", i): -1.0, ("u", i): way.least}, 0.0)
    piles = list(dict.fromkeys(way.pile for way in ways))
    dollars: dict[object, float] = {}
    hours: dict[object, float] = {}
    for i, way in enumerate(ways):
        dollars["u", i], dollars["f", i] = way.dollars_fixed, way.dollars_per_lb
        hours["u", i], hours["f", i] = way.hours_fixed, way.hours_per_lb
    for pile in piles:
        _pile(season, pile, ways, lp, (upper, dollars, hours))
    money = season.budget_dollars
    if money is not None:
        lp.at_most(dollars, max(0.0, money - sum(cost.dollars for cost in season.spent_anyway)))
    if season.hours is not None:
        lp.at_most(hours, season.hours)
    gain: dict[object, float] = {}
    for plot in season.plots:
        _plot(season, plot.key, ways, lp, (upper, gain))
    width = len(lp.number)
    rows, objective = np.zeros((len(lp.rows), width)), np.zeros(width)
    for number, (row, _) in enumerate(lp.rows):
        for column, value in row.items():
            rows[number, column] = value
    for name, value in gain.items():
        objective[lp[name]] = -value
    bounds = [(0.0, upper.get(name)) for name in lp.number]
    if not width:
        return 0.0
    found = linprog(objective, rows, [limit for _, limit in lp.rows], bounds=bounds)
    assert found.status == 0, found.message
    return -float(found.fun)


def _pile(season: Season, pile: tuple, ways: list[Way], lp: _Columns, out: tuple[dict, dict, dict]) -> None:
    upper, dollars, hours = out
    offer, drawn = season.offer_by_key[pile[0]], [i for i, way in enumerate(ways) if way.pile == pile]
    count, holds = _holds(season, pile, [ways[i] for i in drawn])
    least = holds if offer.package.kind in ("tote", "bag") else (offer.package.smallest_lb or 0.0)
    upper["K", pile] = count
    lp.at_most({**{("f", i): 1.0 for i in drawn}, ("B", pile): -1.0}, stock_lb(season, pile))
    lp.at_most({("B", pile): 1.0, ("K", pile): -holds}, 0.0)
    lp.at_most({("B", pile): -1.0, ("K", pile): least}, 0.0)
    by_weight = offer.package.kind in ("truckload", "bulk")
    dollars["B", pile] = (offer.price_dollars or 0.0) / (2000 if by_weight else offer.package.holds_lb)
    dollars["K", pile] = offer.load_dollars
    hours["K", pile] = offer.hours_per_load
    if offer.order_dollars:
        upper["v", offer.key] = 1.0
        dollars["v", offer.key] = offer.order_dollars
        lp.at_most({("K", pile): 1.0, ("v", offer.key): -count}, 0.0)


def _plot(season: Season, key: str, ways: list[Way], lp: _Columns, out: tuple[dict, dict]) -> None:
    upper, gain = out
    plot = season.plot_by_key[key]
    here = [i for i, way in enumerate(ways) if way.plot is plot]
    for number in range(len(season.dressings)):
        limes = [i for i in here if ways[i].offer.kind == "lime" and ways[i].dressing == number]
        lp.at_most({("u", i): 1.0 for i in limes}, 1.0)
    for kind in ("lime", *NUTRIENTS):
        pounds = {i: ways[i].effective if kind == "lime" else ways[i].part(kind) for i in here}
        bringing = [i for i in here if pounds[i] > 0]
        if not bringing:
            continue
        cap = need_lb(plot, "lime") if kind == "lime" else cap_lb_per_acre(plot, kind) * plot.acres
        lp.at_most({("f", i): pounds[i] for i in bringing}, cap)
        need = need_lb(plot, kind)
        if need <= 0:
            continue
        halves = [(kind, key, half) for half in (0, 1)]
        lp.at_most({**dict.fromkeys(halves, 1.0), **{("f", i): -pounds[i] / need for i in bringing}}, 0.0)
        for half, part in zip(halves, (season.first_half_worth, 1 - season.first_half_worth), strict=True):
            upper[half], gain[half] = 0.5, 2 * part * worth_of(plot, kind)
            lp.at_most({half: 1.0, **{("u", i): -0.5 for i in bringing}}, 0.0)


def test_the_relaxation_agrees_with_scipy(deep_count: Callable[[int, int], int]) -> None:
    compared = 0
    for seed in range(deep_count(80, 400)):
        season = small_season(seed)
        program = write_program(lay_out(season), goal="gain")
        ours = 0.0 if not len(program.cost) else -solve(program, relaxed=True).objective
        assert ours == pytest.approx(relaxed_gain(season), rel=1e-6, abs=1e-7), f"seed {seed}"
        compared += ours > 0
    assert compared > 60


def test_the_relaxation_bounds_the_plan() -> None:
    for seed in range(30):
        program = write_program(lay_out(small_season(seed)), goal="gain")
        if len(program.cost):
            whole = solve(program)
            assert -solve(program, relaxed=True).objective >= -whole.objective - 1e-6
            assert -whole.bound >= -whole.objective - 1e-6
