"""A fingerprint of what a forecast rests on, so that a stored one is known to be older than its facts."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
from collections.abc import Sequence

from agronomy.ph_forecast.inputs import LimeDressing, NitrogenDressing, PhTest, SiteFacts
from agronomy.ph_forecast.pooling import PooledPriors

MODEL_VERSION = "1"
"""Raised with any change that moves a forecast."""


def _plain(value: object) -> object:
    if isinstance(value, dt.date):
        return value.isoformat()
    raise TypeError(f"no fingerprint of {type(value).__name__}")


def fingerprint(
    tests: Sequence[PhTest],
    lime: Sequence[LimeDressing],
    nitrogen: Sequence[NitrogenDressing],
    site: SiteFacts,
    *,
    priors: PooledPriors | None = None,
) -> str:
    """64 hexadecimal digits; the order of tests and dressings does not matter, the program version does."""
    rows = [
        sorted(json.dumps(dataclasses.asdict(row), default=_plain, sort_keys=True) for row in part)
        for part in (tests, lime, nitrogen)
    ]
    facts = [MODEL_VERSION, rows, dataclasses.asdict(site), dataclasses.asdict(priors) if priors else None]
    return hashlib.sha256(json.dumps(facts, default=_plain, sort_keys=True).encode()).hexdigest()
