"""Forecasts and pooled priors as plain data (JSON) and back, so that what is stored answers like what was made."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from typing import Any

from agronomy.ph_forecast.outlook import EffectiveParameters, Forecast
from agronomy.ph_forecast.pace import Pace, Range
from agronomy.ph_forecast.pooling import DateShift, PlotShare, PooledPriors

_DIGITS = 5


def priors_to_plain(priors: PooledPriors) -> dict[str, Any]:
    """Pooled priors as JSON data: numbers, text, lists and objects; dates as `YYYY-MM-DD`."""
    return {name: _plain(value, digits=None) for name, value in dataclasses.asdict(priors).items()}


def priors_from_plain(data: Mapping[str, Any]) -> PooledPriors:
    """Pooled priors from what `priors_to_plain` gave; `ValueError` where it is not that."""
    try:
        return PooledPriors(**{
            **data,
            "mean": tuple(data["mean"]),
            "covariance": _rows(data["covariance"]),
            "shifts": tuple(DateShift(**{**one, **_dates(one, "first", "last")}) for one in data["shifts"]),
            "shares": tuple(
                PlotShare(one["key"], _rows(one["information"]), tuple(one["vector"])) for one in data["shares"]
            ),
        })
    except (KeyError, TypeError) as error:
        raise ValueError(f"not pooled priors of this version: {error}") from error


def forecast_to_plain(told: Forecast) -> dict[str, Any]:
    """A forecast as JSON data, figures to five decimals."""
    return {name: _plain(value, digits=_DIGITS) for name, value in dataclasses.asdict(told).items()}


def forecast_from_plain(data: Mapping[str, Any]) -> Forecast:
    """A forecast from what `forecast_to_plain` gave; `ValueError` where it is not that."""
    try:
        lists = {name: tuple(data[name]) for name in _LISTS}
        ranges = {name: Range(**data["pace"][name]) for name in ("fall_ph_per_year", "expected")}
        parameters: dict[str, Any] = {
            name: Range(**value) if isinstance(value, Mapping) else value for name, value in data["parameters"].items()
        }
        return Forecast(**{
            **data, **lists,
            "today": dt.date.fromisoformat(data["today"]),
            "months": tuple(dt.date.fromisoformat(month) for month in data["months"]),
            "pace": Pace(**{**data["pace"], **ranges}),
            "parameters": EffectiveParameters(**parameters),
        })
    except (KeyError, TypeError) as error:
        raise ValueError(f"not a forecast of this version: {error}") from error


_LISTS = ("median", "low", "high", "test_low", "test_high", "reacting_lb_per_acre")


def _plain(value: Any, *, digits: int | None) -> Any:
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return value if digits is None else round(value, digits)
    if isinstance(value, Mapping):
        return {name: _plain(one, digits=digits) for name, one in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(one, digits=digits) for one in value]
    return value


def _rows(data: Any) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in data)


def _dates(data: Mapping[str, Any], *names: str) -> dict[str, dt.date]:
    return {name: dt.date.fromisoformat(data[name]) for name in names}
