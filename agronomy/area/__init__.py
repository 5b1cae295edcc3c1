"""The size and shape of plots: true acres on the ellipsoid, walked edges, sampling points and driving order.

The only part of the package that uses geodesic and geometry libraries. Positions are (longitude, latitude) in
degrees on WGS84, as in GeoJSON. None of it is a legal survey.
"""

from agronomy.area.edge_walk import Fix, WalkedEdge, WalkRules, compare_walks, walked_edge
from agronomy.area.placement import distance_ft, sampling_points, setback_ring, simplified
from agronomy.area.shapes import (
    ACRE_M2,
    CrossedRing,
    Measured,
    Position,
    acres_findings,
    area_sd_m2,
    coordinate_sd_m,
    measured,
    plot_geometry,
    polygon_acres,
)
from agronomy.area.tour import DrivingOrder, driving_order

__all__ = [
    "ACRE_M2",
    "CrossedRing",
    "DrivingOrder",
    "Fix",
    "Measured",
    "Position",
    "WalkRules",
    "WalkedEdge",
    "acres_findings",
    "area_sd_m2",
    "compare_walks",
    "coordinate_sd_m",
    "distance_ft",
    "driving_order",
    "measured",
    "plot_geometry",
    "polygon_acres",
    "sampling_points",
    "setback_ring",
    "simplified",
    "walked_edge",
]
