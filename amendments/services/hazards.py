"""What is dangerous in spreading on a plot, or anywhere on a property: never cleared by the program."""

from __future__ import annotations

from agronomy.fertilizer_material import hazards_of_spreading
from agronomy.findings import Hazard, hazards_in_order
from plots.models import Plot, Vehicle


def place_hazards(plot: Plot | None) -> tuple[Hazard, ...]:
    """What the place and its machines ask of whoever works there; without a plot, what may be met on any of them."""
    on_foot = plot is not None and plot.access == Vehicle.ON_FOOT
    found = [] if on_foot else [Hazard("warning", "no_riders")]
    return hazards_in_order(
        (
            *found,
            *hazards_of_spreading(
                near_water=plot is None or plot.near_water, slope=plot is None or plot.slope, pto=not on_foot
            ),
        )
    )


def spreading_hazards(plot: Plot | None) -> tuple[Hazard, ...]:
    """The same with the dust of whatever lime is handled, for pages that lead to spreading any material."""
    return hazards_in_order((*place_hazards(plot), Hazard("caution", "lime_dust", "lime_safety")))
