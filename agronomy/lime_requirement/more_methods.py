"""Methods that read something else than one buffer: acidity, lime buffer capacity, aluminium, two readings at once."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from agronomy.findings import Finding, Step, check, stop
from agronomy.lime_requirement.between import at_target, refused
from agronomy.lime_requirement.kinds import Rate
from agronomy.lime_requirement.methods import ESTIMATE_SHARE, READING_ERROR, RateOf
from agronomy.soil import SoilFacts

ACIDITY_ERROR_SHARE = 0.1
"""Share by which a measured acidity or buffer capacity may be off (analysis and sampling, as for other analytes)."""


def _shared(amount: float, share: float, basis: str, working: Sequence[Step], found: Sequence[Finding] = ()) -> Rate:
    return Rate(amount, amount * (1 - share), amount * (1 + share), basis, tuple(found), tuple(working))


def lime_test_index_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Tri-State 1995: a - b x LTI for mineral soils; a - b x soil pH for organic ones. Negative is 0."""
    equations = {float(target): tuple(pair) for target, pair in form["equations"].items()}
    printed = tuple(sorted(equations))

    def mineral(reading: float, target: float) -> Rate:
        a, b = equations[target]
        amount = max(a - b * 10 * reading, 0.0)
        error = b * 10 * READING_ERROR
        step = Step(f"lime, index {10 * reading:.0f}, target pH {target:g}", f"{a:g} - {b:g} x {10 * reading:.1f}",
                    amount, unit, source)  # fmt: skip
        return Rate(amount, max(amount - error, 0.0), amount + error, "reading_error", working=(step,),
                    weakly_buffered=amount <= 0)  # fmt: skip

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, reading = soil.soil_ph, soil.buffer_ph
        assert ph is not None and reading is not None
        if soil.organic_soil:
            return _organic(form, ph, target, source, unit)
        if reading > form["valid_high"]:
            return Rate(None, weakly_buffered=True)
        if reading < form["valid_low"]:
            return refused(
                stop("reading_stronger_than_table", source=source, buffer_ph=reading, lowest=form["valid_low"])
            )
        return at_target(target, printed=printed, source=source, unit=unit,
                         rate_at=lambda one: mineral(reading, one))  # fmt: skip

    return rate


def _organic(form: Mapping[str, Any], ph: float, target: float, source: str, unit: str) -> Rate:
    a, b = form["organic"]
    if target != form["organic_target"]:
        known = f"{form['organic_target']:g}"
        return refused(stop("target_not_in_table", source=source, target_ph=target, printed=known))
    amount = max(a - b * ph, 0.0)
    step = Step("lime for an organic soil", f"{a:g} - {b:g} x {ph:.2f}", amount, unit, source)
    return _shared(amount, ESTIMATE_SHARE, "estimate_third", [step])


def exchangeable_acidity_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Penn State: pounds by milliequivalent; to 6.5 one figure up to 4 meq/100 g."""
    per_meq = {float(target): value for target, value in form["lb_per_meq"].items()}
    printed = tuple(sorted(per_meq))

    def for_printed(acidity: float, target: float) -> Rate:
        if target == 6.5 and acidity <= form["low_acidity"]:
            amount, formula = form["low_rate"], f"acidity up to {form['low_acidity']:g} meq/100 g"
        else:
            amount, formula = per_meq[target] * acidity, f"{per_meq[target]:g} x {acidity:g}"
        step = Step(f"lime from exchangeable acidity, target pH {target:g}", formula, amount, unit, source)
        return _shared(amount, ACIDITY_ERROR_SHARE, "acidity_error", [step])

    def rate(soil: SoilFacts, target: float) -> Rate:
        acidity = soil.exchangeable_acidity_meq_100g
        if acidity is None:
            return refused(stop("acidity_missing", source=source))
        if acidity > form["valid_high"]:
            return refused(stop("acidity_beyond_table", source=source, acidity=acidity, highest=form["valid_high"]))
        return at_target(target, printed=printed, source=source, unit=unit,
                         rate_at=lambda one: for_printed(acidity, one))  # fmt: skip

    return rate


@dataclass(frozen=True, slots=True)
class AcidityGrid:
    """A printed table by exchangeable acidity, rising; linear between its rows, nothing beyond them."""

    source: str
    unit: str
    acidities: tuple[float, ...]
    columns: Mapping[float, tuple[float, ...]]

    def at(self, acidity: float, column: tuple[float, ...]) -> float:
        place = bisect_right(self.acidities, acidity) - 1
        if place == len(self.acidities) - 1 or self.acidities[place] == acidity:
            return column[place]
        low, high = self.acidities[place], self.acidities[place + 1]
        return column[place] + (acidity - low) / (high - low) * (column[place + 1] - column[place])

    def __call__(self, soil: SoilFacts, target: float) -> Rate:
        acidity = soil.exchangeable_acidity_meq_100g
        if acidity is None:
            return refused(stop("acidity_missing", source=self.source))
        if acidity < self.acidities[0]:
            return Rate(None, weakly_buffered=True)
        if acidity > self.acidities[-1]:
            found = stop("acidity_beyond_table", source=self.source, acidity=acidity, highest=self.acidities[-1])
            return refused(found)
        return at_target(target, printed=tuple(sorted(self.columns)), source=self.source, unit=self.unit,
                         rate_at=lambda one: self._rate(acidity, one))  # fmt: skip

    def _rate(self, acidity: float, target: float) -> Rate:
        amount = self.at(acidity, self.columns[target])
        step = Step(f"table, acidity {acidity:g} meq/100 g, target pH {target:g}", "", amount, self.unit, self.source)
        return _shared(amount, ACIDITY_ERROR_SHARE, "acidity_error", [step])


def lime_buffer_capacity_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Georgia: 2 x LBC x (target - pH); a 30-minute reading is first raised to equilibrium. Exactly one of the two."""

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, quick, full = soil.soil_ph, soil.lbc_30min_mg_kg_ph, soil.lbc_eq_mg_kg_ph
        assert ph is not None
        if quick is None and full is None:
            return refused(stop("lbc_missing", source=source))
        if quick is not None and full is not None:
            return refused(stop("lbc_given_twice", source=source))
        steps = []
        if full is None:
            assert quick is not None
            full = quick * (form["constant"] + form["slope"] * quick)
            formula = f"{quick:g} x ({form['constant']:g} + {form['slope']:g} x {quick:g})"
            steps.append(Step("lime buffer capacity at equilibrium", formula, full, "mg CaCO3/kg/pH", source))
        amount = form["lb_per_lbc"] * full * (target - ph)
        steps.append(
            Step("lime", f"{form['lb_per_lbc']:g} x {full:.4g} x ({target:g} - {ph:.2f})", amount, unit, source)
        )
        return _shared(amount, ACIDITY_ERROR_SHARE, "acidity_error", steps)

    return rate


def reactive_aluminium_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """Vermont: tons to pH 6.5 by band of soil pH and class of reactive aluminium (ppm)."""

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph, aluminium = soil.soil_ph, soil.reactive_al_ppm
        assert ph is not None
        if aluminium is None:
            return refused(stop("aluminium_missing", source=source))
        if target != form["target"]:
            return refused(
                stop("target_not_in_table", source=source, target_ph=target, printed=f"{form['target']:g}")
            )
        band = next(one for one in form["bands"] if ph >= one["ph_low"])
        amount = band["tons"][bisect_left(band["upto"], aluminium)]
        step = Step(f"pH {ph:.2f}, reactive Al {aluminium:g} ppm", "", amount, unit, source)
        return _shared(amount, ACIDITY_ERROR_SHARE, "acidity_error", [step])

    return rate


def factor_rate(form: Mapping[str, Any], source: str, unit: str) -> RateOf:
    """United Kingdom: a factor by texture for each pH unit."""

    def rate(soil: SoilFacts, target: float) -> Rate:
        ph = soil.soil_ph
        assert ph is not None
        if soil.texture is None and not soil.organic_soil:
            return refused(stop("texture_missing", source=source))
        row = "organic" if soil.organic_soil and soil.texture != "muck" else form["rows"][soil.texture]
        factor = form["tonnes_per_ph"][row]
        amount = factor * (target - ph)
        step = Step(f"lime factor, {row}", f"{factor:g} x ({target:g} - {ph:.2f})", amount, unit, source)
        return _shared(amount, ESTIMATE_SHARE, "estimate_third", [step])

    return rate


@dataclass(frozen=True, slots=True)
class Plane:
    """A printed table of two readings, soil pH and buffer pH; linear inside a cell whose four corners are printed."""

    source: str
    unit: str
    target: float
    readings: tuple[float, ...]
    soil_phs: tuple[float, ...]
    cells: tuple[tuple[float | None, ...], ...]
    unbuffered: tuple[float, ...]

    def __call__(self, soil: SoilFacts, target: float) -> Rate:
        ph, reading = soil.soil_ph, soil.buffer_ph
        assert ph is not None and reading is not None
        if target != self.target:
            printed = f"{self.target:g}"
            return refused(stop("target_not_in_table", source=self.source, target_ph=target, printed=printed))
        if reading > self.readings[-1]:
            return Rate(None, weakly_buffered=True)
        if reading < self.readings[0]:
            found = stop("reading_stronger_than_table", source=self.source, buffer_ph=reading, lowest=self.readings[0])
            return refused(found)
        amount = self.at(ph, reading)
        if amount is None:
            return refused(stop("cell_not_printed", source=self.source, soil_ph=ph, buffer_ph=reading))
        near = [self.at(ph, min(max(reading + shift, self.readings[0]), self.readings[-1]))
                for shift in (-READING_ERROR, READING_ERROR)]  # fmt: skip
        known = [one for one in near if one is not None] + [amount]
        outside = () if self.soil_phs[0] <= ph <= self.soil_phs[-1] else (
            check("ph_beyond_estimate", source=self.source, soil_ph=ph, low=self.soil_phs[0], high=self.soil_phs[-1]),
        )  # fmt: skip
        step = Step(f"table, soil pH {ph:.2f}, buffer pH {reading:.2f}", "linear between its cells", amount, self.unit,
                    self.source)  # fmt: skip
        return Rate(amount, min(known), max(known), "reading_error", outside, (step,))

    def at(self, ph: float, reading: float) -> float | None:
        """The figure at two readings; a soil pH outside the rows takes the nearest row."""
        inside = min(max(ph, self.soil_phs[0]), self.soil_phs[-1])
        low_row, row_share = _place(self.soil_phs, inside)
        low_column, column_share = _place(self.readings, reading)
        total = 0.0
        for row, row_weight in ((low_row, 1 - row_share), (low_row + 1, row_share)):
            for column, weight in ((low_column, 1 - column_share), (low_column + 1, column_share)):
                if row_weight * weight > 0:
                    value = self.cells[row][column]
                    if value is None:
                        return None
                    total += row_weight * weight * value
        return total


def _place(edges: Sequence[float], value: float) -> tuple[int, float]:
    """The cell's lower edge and how far (0 to 1) the value lies into it."""
    place = min(bisect_right(edges, value) - 1, len(edges) - 2)
    return place, (value - edges[place]) / (edges[place + 1] - edges[place])
