"""The course of pH: lime reacting by sieve class, one buffer capacity, loss of the excess, nitrogen acidity.

All plots and all trial values of their parameters are stepped together, month by month, so that the work per plot
is a few array operations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from agronomy.sources import load_table

Array = NDArray[np.float64]

PARAMETERS = ("ph_at_start", "log_buffer", "log_loss", "native_ph", "log_speed", "log_nitrogen")
"""In the order used everywhere: pH, log of lb CaCO3/acre/pH, log of 1/yr, pH, log factor, log factor."""

_TABLE = load_table("ph_forecast")
_RATES: Array = np.array(_TABLE["reaction"]["rate_per_year"])
_FULL_BELOW = float(_TABLE["reaction"]["full_below_ph"])
_NONE_ABOVE = float(_TABLE["reaction"]["none_above_ph"])
_SOUR_HALF = float(_TABLE["buffer"]["sour_half_ph"])
_SWEET_HALF = float(_TABLE["buffer"]["sweet_half_ph"])
_LEAST_ROOM = 1e-6
_MUCH = 0.15  # pH in a month
_PARTS = 4
_BEND = float(_TABLE["buffer"]["bend_width_ph"])


@dataclass(frozen=True, slots=True)
class Drivers:
    """What acts on P plots over T months, in lb CaCO3 an acre of the plot's layer.

    `lime[t, c, p]` is put on at the start of month t by sieve class; `acid[t, p]` is nitrogen acidity of the month
    (negative where basic); `active[t, p]` is 0 before a plot's own start, else 1; `offset[p]` is the plot's pH
    scale less pH in water.
    """

    lime: Array
    acid: Array
    active: Array
    offset: Array


@dataclass(frozen=True, slots=True)
class Course:
    """`ph[t, p, k]` at T + 1 month starts for K trial values; of the first of them `unreacted[t, p]` lb/acre and
    `rise[t, p]`, the pH that reacting lime gave in month t."""

    ph: Array
    unreacted: Array
    rise: Array


class _Ground:
    """The trial values ready for stepping: P plots by K values."""

    def __init__(self, parameters: Array, offset: Array) -> None:
        self.per_lb: Array = np.exp(-parameters[1])
        self.loss: Array = np.exp(parameters[2]) / 12.0
        self.lost: Array = 1.0 - np.exp(-self.loss)
        self.native = parameters[3]
        self.rates: Array = (-_RATES[:, None, None] / 12.0) * np.exp(parameters[4])
        self.acid_per_lb: Array = np.exp(parameters[5]) * self.per_lb
        self.top: Array = (_NONE_ABOVE + offset)[:, None]
        self.sour: Array = (_SOUR_HALF + offset)[:, None]
        self.sweet: Array = (_SWEET_HALF + offset)[:, None]

    def without_lime(self, ph: Array, acid: Array) -> Array:
        """The change of a month by loss and nitrogen alone."""
        change: Array = (self.lost * (self.native - ph) - acid[:, None] * self.acid_per_lb) / self._held(ph)
        return change

    def with_lime(self, ph: Array, stock: Array, acid: Array) -> tuple[Array, Array, Array]:
        """The change of a month, the lime left of `stock` (4, P, K), and the rise that lime alone would give."""
        pace = np.minimum(np.maximum(self.top - ph, 0.0) / (_NONE_ABOVE - _FULL_BELOW), 1.0)
        reacted = stock * (1.0 - np.exp(self.rates * pace))
        gain = reacted.sum(axis=0) * self.per_lb
        if (gain > _MUCH).any():
            return self._in_parts(ph, stock, acid)
        change = gain + self.lost * (self.native - ph) - acid[:, None] * self.acid_per_lb
        return change / self._held(ph), stock - reacted, gain

    def _in_parts(self, ph: Array, stock: Array, acid: Array) -> tuple[Array, Array, Array]:
        """A month is long beside a heavy dressing: the reaction slows, and the buffer stiffens, within it."""
        now, gained = ph, np.zeros_like(ph)
        sour = acid[:, None] * self.acid_per_lb / _PARTS
        for _ in range(_PARTS):
            room = np.maximum(self.top - now, _LEAST_ROOM)
            pace = np.minimum(room / (_NONE_ABOVE - _FULL_BELOW), 1.0)
            reacted = stock * (1.0 - np.exp(self.rates * (pace / _PARTS)))
            asked = np.maximum(reacted.sum(axis=0) * self.per_lb / room, 1e-12)
            part = (1.0 - np.exp(-asked)) / asked
            gain = asked * part * room
            stock = stock - reacted * part
            now = now + (gain + self.loss / _PARTS * (self.native - now) - sour) / self._held(now)
            gained = gained + gain
        return now - ph, stock, gained

    def _held(self, ph: Array) -> Array:
        """How many times the middle range's lime one pH unit takes: titration curves are sigmoid."""
        held: Array = 1.0 + np.exp((self.sour - ph) / _BEND) + np.exp((ph - self.sweet) / _BEND)
        return held


def simulate(parameters: Array, drivers: Drivers) -> Course:
    """Step P plots for K trial values over T months. `parameters` is (6, P, K) in the order of `PARAMETERS`."""
    months, _, plots = drivers.lime.shape
    ph = parameters[0].copy()
    ground = _Ground(parameters, drivers.offset)
    stock = np.zeros((4, *ph.shape))
    limed = (drivers.lime != 0.0).any(axis=(1, 2)).tolist()
    everywhere = bool(drivers.active.all())
    out = np.empty((months + 1, *ph.shape))
    unreacted = np.zeros((months + 1, plots))
    rise = np.zeros((months, plots))
    out[0] = ph
    any_stock = False
    for t in range(months):
        if limed[t]:
            stock = stock + drivers.lime[t][:, :, None]
            any_stock = True
        if any_stock:
            change, stock, gain = ground.with_lime(ph, stock, drivers.acid[t])
            rise[t] = gain[:, 0]
            unreacted[t + 1] = stock[:, :, 0].sum(axis=0)
        else:
            change = ground.without_lime(ph, drivers.acid[t])
        ph = ph + (change if everywhere else change * drivers.active[t][:, None])
        out[t + 1] = ph
    return Course(out, unreacted, rise)
