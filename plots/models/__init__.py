from plots.models.people import FeedToken, Invite, Person, Role
from plots.models.planting import Planting
from plots.models.plot import EdgeWalk, Place, Plot, PlotLineage, Tillage, Vehicle
from plots.models.plot_import import PlotImport
from plots.models.property import OwnCrop, Property

__all__ = [
    "EdgeWalk",
    "FeedToken",
    "Invite",
    "OwnCrop",
    "Person",
    "Place",
    "Planting",
    "Plot",
    "PlotImport",
    "PlotLineage",
    "Property",
    "Role",
    "Tillage",
    "Vehicle",
]
