"""Pictures of a plot: geometry only, drawn by templates in `parts/` and coloured by the stylesheet.

Numbers in, positions and words out: no Django, no clock, no style. The large picture is made twice, wide for a desk
and narrow for a phone, because a scaled-down picture has unreadable figures on it.
"""

from plots.pictures.parts import BandPoint, Dressing, Picture, Test
from plots.pictures.ph import NARROW_WIDTH, ph_picture
from plots.pictures.spark import Spark, ph_spark

__all__ = ["NARROW_WIDTH", "BandPoint", "Dressing", "Picture", "Spark", "Test", "ph_picture", "ph_spark"]
