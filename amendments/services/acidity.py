"""How much lime the nitrogen that was spread uses up, by record and by season."""

from __future__ import annotations

from dataclasses import dataclass

from agronomy.acidification import Acidity, season_acidity
from amendments.models import SpreadingRecord
from amendments.queries.inputs import PlotInputs
from plots.seasons import season_on

SEASONS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class NitrogenOfSeason:
    """A season's nitrogen on one plot: lb N and the lime it uses up (negative: brings), per acre of the plot."""

    season: int
    n_lb_per_acre: float
    acidity: Acidity

    @property
    def gained(self) -> float:
        """lb CaCO3 an acre that basic nitrogen is worth; 0 where it uses lime up."""
        return max(-self.acidity.lb_caco3, 0.0)


def nitrogen_lb(record: SpreadingRecord) -> float:
    """Pounds of nitrogen in a record by the grade that it froze; 0 for lime and for what holds none."""
    percent = record.frozen.get("n_percent")
    return float(record.amount_lb) * float(percent) / 100 if percent else 0.0


def record_acidity(record: SpreadingRecord) -> Acidity | None:
    """What one record's nitrogen uses up, lb CaCO3 an acre of what it covered; None where it holds no nitrogen."""
    pounds = nitrogen_lb(record)
    if not pounds or not record.acres_covered:
        return None
    return season_acidity([(_source(record), pounds / float(record.acres_covered))])


def _source(record: SpreadingRecord) -> str:
    return str(record.frozen.get("nitrogen_source") or "")


def nitrogen_by_season(inputs: PlotInputs) -> list[NitrogenOfSeason]:
    """The last seasons with nitrogen, newest first. Records that were corrected count as corrected."""
    acres = float(inputs.plot.acres)
    spread: dict[int, list[tuple[str, float]]] = {}
    for record in inputs.records:
        pounds = nitrogen_lb(record)
        if pounds:
            spread.setdefault(season_on(record.spread_on), []).append((_source(record), pounds / acres))
    return [
        NitrogenOfSeason(season, sum(n for _, n in spread[season]), season_acidity(spread[season]))
        for season in sorted(spread, reverse=True)[:SEASONS_SHOWN]
    ]
