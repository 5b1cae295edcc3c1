"""The pH forecast: each plot's own pace, with an honest band.

State: pH, and unreacted lime by sieve class. Starting values come from the site, are drawn toward what the
property's plots have in common (`pool`), and are sharpened by each plot's own tests (`forecast`). `hindcast` holds
the whole against a trial's records. `docs/forecast.md` tells what it was checked against.
"""

from agronomy.ph_forecast.fingerprint import MODEL_VERSION, fingerprint
from agronomy.ph_forecast.inputs import LimeDressing, NitrogenDressing, PhTest, PlotHistory, SieveShares, SiteFacts
from agronomy.ph_forecast.outlook import EffectiveParameters, Forecast, forecast
from agronomy.ph_forecast.pace import Pace, Range
from agronomy.ph_forecast.pooling import DateShift, PlotShare, PooledPriors, pool
from agronomy.ph_forecast.storage import (
    forecast_from_plain,
    forecast_to_plain,
    priors_from_plain,
    priors_to_plain,
)

__all__ = [
    "MODEL_VERSION",
    "DateShift",
    "EffectiveParameters",
    "Forecast",
    "LimeDressing",
    "NitrogenDressing",
    "Pace",
    "PhTest",
    "PlotHistory",
    "PlotShare",
    "PooledPriors",
    "Range",
    "SieveShares",
    "SiteFacts",
    "fingerprint",
    "forecast",
    "forecast_from_plain",
    "forecast_to_plain",
    "pool",
    "priors_from_plain",
    "priors_to_plain",
]
