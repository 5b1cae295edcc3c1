"""The Woodruff buffer: neutralizable acidity, as information only.

There is no table to a target here, so a rate comes only from the lab's own line of effective neutralizing material.
"""

from __future__ import annotations

FRESH_READING, STRONGEST_READING = 7.0, 5.0
LB_PER_UNIT = 10_000.0
"""CaCO3 an acre for each whole unit the buffer falls: 1 meq per 100 g for each 0.1 (from memory)."""


def neutralizable_acidity(buffer_ph: float) -> float:
    """lb CaCO3 an acre that would neutralize a soil to about pH 7, by its Woodruff reading (5.0 to 7.0).

    Raises `ValueError` outside that range.
    """
    if not STRONGEST_READING <= buffer_ph <= FRESH_READING:
        raise ValueError(f"a Woodruff buffer pH of {buffer_ph:g} is not {STRONGEST_READING:g} to {FRESH_READING:g}")
    return LB_PER_UNIT * (FRESH_READING - buffer_ph)
