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
_MUCH = 0.02
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


def simulate(parameters: Array, drivers: Drivers) -> Course:
    """Step P plots for K trial values over T months. `parameters` is (6, P, K) in the order of `PARAMETERS`."""
    months, _, plots = drivers.lime.shape
    trials = parameters.shape[2]
    ph = parameters[0].copy()
    per_lb = np.exp(-parameters[1])
    lost = 1.0 - np.exp(-np.exp(parameters[2]) / 12.0)
    native = parameters[3]
    rates = (-_RATES[:, None, None] / 12.0) * np.exp(parameters[4])
    acid_per_lb = np.exp(parameters[5]) * per_lb
    stock = np.zeros((4, plots, trials))
    top = (_NONE_ABOVE + drivers.offset)[:, None]
    sour = (_SOUR_HALF + drivers.offset)[:, None]
    sweet = (_SWEET_HALF + drivers.offset)[:, None]
    limed = (drivers.lime != 0.0).any(axis=(1, 2)).tolist()
    acid_months = (drivers.acid != 0.0).any(axis=1).tolist()
    everywhere = bool(drivers.active.all())
    out = np.empty((months + 1, plots, trials))
    unreacted = np.zeros((months + 1, plots))
    rise = np.zeros((months, plots))
    out[0] = ph
    any_stock = False
    for t in range(months):
        change = lost * (native - ph)
        if limed[t]:
            stock += drivers.lime[t][:, :, None]
            any_stock = True
        if any_stock:
            room = np.maximum(top - ph, _LEAST_ROOM)
            pace = np.minimum(room / (_NONE_ABOVE - _FULL_BELOW), 1.0)
            reacted = stock * (1.0 - np.exp(rates * pace))
            gain = reacted.sum(axis=0) * per_lb
            if (gain > _MUCH * room).any():
                part = _part_within_a_month(gain / room)
                reacted, gain = reacted * part, gain * part
            stock = stock - reacted
            change += gain
            rise[t] = gain[:, 0]
            unreacted[t + 1] = stock[:, :, 0].sum(axis=0)
        if acid_months[t]:
            change -= drivers.acid[t][:, None] * acid_per_lb
        change /= 1.0 + np.exp((sour - ph) / _BEND) + np.exp((ph - sweet) / _BEND)
        ph = ph + (change if everywhere else change * drivers.active[t][:, None])
        out[t + 1] = ph
    return Course(out, unreacted, rise)



def _part_within_a_month(asked: Array) -> Array:
    """A month is long beside a heavy dressing: as pH nears the top, the reaction slows within the month, so that
    of a rise `asked` (in parts of the room left) only this part comes about."""
    asked = np.maximum(asked, 1e-9)
    part: Array = (1.0 - np.exp(-asked)) / asked
    return part
