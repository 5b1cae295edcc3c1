"""Check calculations of work in the field: units, spreaders, bags and areas."""

from __future__ import annotations

from agronomy.check_values.running import Calculation

CALCULATIONS: dict[str, Calculation] = {}
