"""What the forecast is told: tests, dressings and the facts of a site."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from agronomy.soil import PH_METHODS, TEXTURES

SieveShares = tuple[float, float, float, float]
"""Shares by weight: finer than 60 mesh, 30-60, 8-30, coarser than 8 mesh. They sum to 1."""

REFERENCE_DEPTH_IN = 20.0 / 3.0


def _within(name: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name} must lie in {low:g} to {high:g}, not {value!r}")


@dataclass(frozen=True, slots=True)
class PhTest:
    """One soil test: pH 2-11 by `method`, composite to `depth_in` (0.5-40 in); `samples` (1-99) averaged."""

    date: dt.date
    ph: float
    depth_in: float = REFERENCE_DEPTH_IN
    lab: str = ""
    method: str = "water_1_1"
    samples: int = 1

    def __post_init__(self) -> None:
        _within("ph", self.ph, 2.0, 11.0)
        _within("depth_in", self.depth_in, 0.5, 40.0)
        _within("samples", self.samples, 1, 99)
        if self.method not in PH_METHODS:
            raise ValueError(f"method must be one of {', '.join(PH_METHODS)}, not {self.method!r}")


@dataclass(frozen=True, slots=True)
class LimeDressing:
    """Lime put on: pounds of CaCO3 equivalent an acre (0-100,000; purity counted, fineness not).

    `sieve_shares` None where no sieve analysis is at hand (ordinary ground limestone is then assumed). `depth_in`
    is the depth it was worked in, None for the plot's own depth.
    """

    date: dt.date
    caco3_lb_per_acre: float
    sieve_shares: SieveShares | None = None
    depth_in: float | None = None
    key: str = ""

    def __post_init__(self) -> None:
        _within("caco3_lb_per_acre", self.caco3_lb_per_acre, 0.0, 100_000.0)
        if self.depth_in is not None:
            _within("depth_in", self.depth_in, 0.0, 40.0)
        if self.sieve_shares is not None:
            for share in self.sieve_shares:
                _within("a sieve share", share, 0.0, 1.0)
            if len(self.sieve_shares) != 4 or abs(sum(self.sieve_shares) - 1.0) > 0.011:
                raise ValueError(f"sieve_shares must be four shares that sum to 1, not {self.sieve_shares!r}")


@dataclass(frozen=True, slots=True)
class NitrogenDressing:
    """Nitrogen put on: `n_lb_per_acre` (0-2,000 lb N) of a `source` named as in the table of acidities."""

    date: dt.date
    source: str
    n_lb_per_acre: float

    def __post_init__(self) -> None:
        _within("n_lb_per_acre", self.n_lb_per_acre, 0.0, 2_000.0)


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """What is known of the ground. Percent by weight, CEC in meq/100 g, `depth_in` the depth limed (0.5-40 in)."""

    texture: str | None = None
    clay_percent: float | None = None
    organic_carbon_percent: float | None = None
    organic_matter_percent: float | None = None
    cec_meq_100g: float | None = None
    region: str | None = None
    depth_in: float = REFERENCE_DEPTH_IN

    def __post_init__(self) -> None:
        if self.texture is not None and self.texture not in TEXTURES:
            raise ValueError(f"texture must be one of {', '.join(TEXTURES)}, not {self.texture!r}")
        for name, high in (("clay_percent", 100.0), ("organic_carbon_percent", 60.0),
                           ("organic_matter_percent", 100.0), ("cec_meq_100g", 200.0)):
            value = getattr(self, name)
            if value is not None:
                _within(name, value, 0.0, high)
        _within("depth_in", self.depth_in, 0.5, 40.0)

    @property
    def carbon_percent(self) -> float | None:
        """Organic carbon, percent: as told, else organic matter / 1.72."""
        if self.organic_carbon_percent is not None:
            return self.organic_carbon_percent
        return None if self.organic_matter_percent is None else self.organic_matter_percent / 1.72


@dataclass(frozen=True, slots=True)
class PlotHistory:
    """All that happened on one plot; `key` names it among the plots of its property."""

    key: str
    tests: Sequence[PhTest]
    lime: Sequence[LimeDressing] = ()
    nitrogen: Sequence[NitrogenDressing] = ()
    site: SiteFacts = SiteFacts()
