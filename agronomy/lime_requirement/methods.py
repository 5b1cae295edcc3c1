"""How each kind of calibration gets from a reading to a rate. Tables and constants come from `agronomy/tables`."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Any

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.lime_requirement.between import at_target, refused
from agronomy.lime_requirement.kinds import Rate
from agronomy.soil import SoilFacts

READING_ERROR = 0.1
"""Buffer units (pH) that a composite's reading may be off, analysis and sampling together (published: about 0.1)."""
ESTIMATE_SHARE = 1 / 3
"""Share by which an estimate without a buffer reading may be off either way (our convention)."""

RateOf = Callable[[SoilFacts, float], Rate]


@dataclass(frozen=True, slots=True)
class Grid:
    """A printed table: falling readings, and for each target its column of rates."""

    source: str
    unit: str
    readings: tuple[float, ...]  # rising, for bisection
    columns: Mapping[float, tuple[float, ...]]
    breaks: tuple[tuple[float, float], ...]
    doubtful: Mapping[float, Mapping[float, float]] = field(default_factory=dict)
    printed: tuple[float, ...] = ()

    def at(self, reading: float, column: tuple[float, ...]) -> float:
        """The rate at a reading inside the table: linear inside a segment, the weaker row inside a break."""
        place = bisect_right(self.readings, reading) - 1
        if place == len(self.readings) - 1 or self.readings[place] == reading:
            return column[place]
        low, high = self.readings[place], self.readings[place + 1]
        if (high, low) in self.breaks:
            return column[place + 1]
        share = (reading - low) / (high - low)
        return column[place] + share * (column[place + 1] - column[place])

    def range_at(self, reading: float, column: tuple[float, ...]) -> tuple[float, float]:
        """The rates of readings a reading's error weaker and stronger, inside the table."""
        weak = min(reading + READING_ERROR, self.readings[-1])
        strong = max(reading - READING_ERROR, self.readings[0])
        values = (self.at(weak, column), self.at(strong, column), self._inside_break(reading, column))
        return min(values), max(values)

    def _inside_break(self, reading: float, column: tuple[float, ...]) -> float:
        """A reading inside a break may as well belong to the stronger row."""
        for high, low in self.breaks:
            if low < reading < high:
                return column[self.readings.index(low)]
        return self.at(reading, column)

    def __call__(self, soil: SoilFacts, target: float) -> Rate:
        reading = soil.buffer_ph
        assert reading is not None
        refusal = self.outside(reading)
        if refusal is not None:
            return refusal
        return at_target(target, printed=self.printed, source=self.source, unit=self.unit,
                         rate_at=lambda one: self._rate(reading, one))  # fmt: skip

    def _rate(self, reading: float, target: float) -> Rate:
        column = self.columns[target]
        amount = self.at(reading, column)
        low, high = self.range_at(reading, column)
        step = Step(f"table, buffer pH {reading:.2f}, target pH {target:g}", self._cells(reading, column), amount,
                    self.unit, self.source)  # fmt: skip
        if target not in self.doubtful:
            return Rate(amount, low, high, "reading_error", working=(step,))
        more, found = self._doubt(reading, target)
        return Rate(amount, low, high + more, "reading_error", found, (step,))

    def _doubt(self, reading: float, target: float) -> tuple[float, tuple[Finding, ...]]:
        """How much more a cell may have meant, where one that is read looks misprinted."""
        place = bisect_right(self.readings, reading) - 1
        near = self.readings[place : place + (1 if self.readings[place] == reading else 2)]
        more = max((self.doubtful[target].get(one, 0.0) for one in near), default=0.0)
        if not more:
            return 0.0, ()
        return more, (note("cell_in_doubt", source=self.source, more=more, unit=self.unit),)

    def outside(self, reading: float) -> Rate | None:
        """A weaker reading than the first row is weakly buffered; a stronger one than the last has no rate."""
        if reading > self.readings[-1]:
            return Rate(None, weakly_buffered=True)
        if reading < self.readings[0]:
            return refused(
                stop("reading_stronger_than_table", source=self.source, buffer_ph=reading, lowest=self.readings[0])
            )
        return None

    def _cells(self, reading: float, column: tuple[float, ...]) -> str:
        place = bisect_right(self.readings, reading) - 1
        if self.readings[place] == reading or place == len(self.readings) - 1:
            return f"row {reading:g}: {column[place]:g}"
        low, high = self.readings[place], self.readings[place + 1]
        if (high, low) in self.breaks:
            return f"the table jumps between {high:g} and {low:g}; row {high:g}: {column[place + 1]:g}"
        return f"rows {high:g}: {column[place + 1]:g} and {low:g}: {column[place]:g}, linear between"


def not_buffered(reading: float, fresh: float, unit: str, source: str) -> Rate:
    """A reading of the buffer unchanged: the formula gives nothing, which is not yet a reason to put on nothing."""
    if reading > fresh:
        return Rate(None, weakly_buffered=True)
    step = Step(f"buffer pH {reading:.2f} is that of the buffer alone", "", 0.0, unit, source)
    return Rate(0.0, 0.0, 0.0, "reading_error", working=(step,), weakly_buffered=True)


def acid_share(ph: float, *, a: float, b: float, c: float) -> float:
    """The acid share of the exchange at a pH by the Adams-Evans curve, 0 to 1 (1 below about pH 4.51)."""
    inside = b * b - 4 * c * (a - ph)
    if inside < 0:
        return 1.0
    return min(max((b - sqrt(inside)) / (2 * c), 0.0), 1.0)


def mehlich_acidity_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """North Carolina: acidity x (target - pH) / (6.6 - pH)."""
    fresh, per_unit, highest = form["fresh_reading"], form["acidity_per_unit"], form["highest_target"]

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, reading = soil.soil_ph, soil.buffer_ph
        assert ph is not None and reading is not None
        if target >= highest:
            return refused(stop("target_too_high_for_method", source=source, target_ph=target, highest=highest))
        if reading >= fresh:
            return not_buffered(reading, fresh, unit, source)
        if reading < form["valid_low"]:
            return refused(
                stop("reading_stronger_than_table", source=source, buffer_ph=reading, lowest=form["valid_low"])
            )
        acidity = per_unit * (fresh - reading)
        factor = (target - ph) / (fresh - ph)
        error = per_unit * READING_ERROR
        working = (
            Step("acidity", f"{per_unit:g} x ({fresh:g} - {reading:.2f})", acidity, "meq/100 cm3", source),
            Step(
                "lime",
                f"{acidity:.3g} x ({target:g} - {ph:.2f}) / ({fresh:g} - {ph:.2f})",
                acidity * factor,
                unit,
                source,
            ),
        )
        low = max(acidity - error, 0.0) * factor
        return Rate(acidity * factor, low, (acidity + error) * factor, "reading_error", working=working)

    return rate


def adams_evans_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Adams-Evans: 8,000 (8.00 - buffer) / H1 x (H1 - H2), times 1.5 in the printed form."""
    fresh, per_unit, factor = form["fresh_reading"], form["lb_per_unit"], form["lime_factor"]
    curve = {name: form[name] for name in ("a", "b", "c")}

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, reading = soil.soil_ph, soil.buffer_ph
        assert ph is not None and reading is not None
        if reading >= fresh:
            return not_buffered(reading, fresh, unit, source)
        if reading < form["valid_low"]:
            return refused(
                stop("reading_stronger_than_table", source=source, buffer_ph=reading, lowest=form["valid_low"])
            )
        at_ph, at_target = acid_share(ph, **curve), acid_share(target, **curve)
        per_reading = per_unit / at_ph * (at_ph - at_target) * factor
        amount = (fresh - reading) * per_reading
        formula = f"{per_unit:g} x ({fresh:.2f} - {reading:.2f}) / {at_ph:.3f} x ({at_ph:.3f} - {at_target:.3f})"
        working = (
            Step(f"acid share of the exchange at pH {ph:.2f}", "", at_ph, "", source),
            Step(f"acid share of the exchange at pH {target:g}", "", at_target, "", source),
            Step("lime", formula + (f" x {factor:g}" if factor != 1 else ""), amount, unit, source),
        )
        error = READING_ERROR * per_reading
        return Rate(amount, max(amount - error, 0.0), amount + error, "reading_error", working=working)

    return rate


def _estimated(amount: float, working: tuple[Step, ...], findings: tuple[Finding, ...] = ()) -> Rate:
    low, high = amount * (1 - ESTIMATE_SHARE), amount * (1 + ESTIMATE_SHARE)
    return Rate(amount, low, high, "estimate_third", findings, working)


def cec_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Pure CaCO3 = 1,000 x CEC x (H(pH) - H(target)), for CEC under 13 and pH 4.5 to 6.8."""
    curve = {name: form[name] for name in ("a", "b", "c")}

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, cec = soil.soil_ph, soil.cec_meq_100g
        assert ph is not None
        if cec is None:
            return refused(stop("cec_missing", source=source))
        found: list[Finding] = []
        if cec >= form["cec_high"]:
            found.append(check("cec_beyond_estimate", source=source, cec_meq_100g=cec, highest=form["cec_high"]))
        if not form["ph_low"] <= ph or target > form["ph_high"]:
            found.append(
                check("ph_beyond_estimate", source=source, soil_ph=ph, low=form["ph_low"], high=form["ph_high"])
            )
        at_ph, at_target = acid_share(ph, **curve), acid_share(target, **curve)
        amount = max(form["lb_per_cec_meq"] * cec * (at_ph - at_target), 0.0)
        formula = f"{form['lb_per_cec_meq']:,.0f} x {cec:g} x ({at_ph:.3f} - {at_target:.3f})"
        return _estimated(amount, (Step("lime from CEC", formula, amount, unit, source),), tuple(found))

    return rate


def texture_rate(form: Mapping[str, Any], source: str, unit: str, region: str) -> RateOf:
    """Tons by texture for the two spans of the table, in proportion to the part of each that is to be climbed."""
    spans, rows = form["spans"], form[region]

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, texture = soil.soil_ph, "muck" if soil.organic_soil else soil.texture
        assert ph is not None
        if texture is None:
            return refused(stop("texture_missing", source=source))
        row = form["rows"][texture]
        steps, amount = [], 0.0
        for (low, high), tons in zip(spans, rows[row], strict=True):
            climbed = min(max(target, low), high) - min(max(ph, low), high)
            if climbed > 0:
                part = tons * climbed / (high - low)
                amount += part
                steps.append(
                    Step(f"{row.replace('_', ' ')}, pH {low:g} to {high:g}: {tons:g} {unit}",
                         f"{tons:g} x {climbed:.2f} / {high - low:g}", part, unit, source)
                )  # fmt: skip
        steps.append(Step("lime by texture", "", amount, unit, source))
        found: tuple[Finding, ...] = ()
        if ph < spans[0][0] or target > spans[-1][1]:
            found = (check("ph_beyond_estimate", source=source, soil_ph=ph, low=spans[0][0], high=spans[-1][1]),)
        return _estimated(amount, tuple(steps), found)

    return rate


def per_ph_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """The rule of thumb: a ton a point. What of it is put on in one season is for the choice of a rate to say."""

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph = soil.soil_ph
        assert ph is not None
        amount = form["ton_per_ph"] * (target - ph)
        step = Step("a ton a point", f"{form['ton_per_ph']:g} x ({target:g} - {ph:.2f})", amount, unit, source)
        return _estimated(amount, (step,), (check("rule_of_thumb_only", source=source),))

    return rate
