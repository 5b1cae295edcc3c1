from amendments.models.materials import (
    Analysis,
    Calibration,
    Material,
    Offer,
    Spreader,
    StockCount,
    Supplier,
)
from amendments.models.orders import WorkOrder, WorkOrderLine
from amendments.models.plan import OtherCost, Purchase, SeasonPlan
from amendments.models.records import SharedLoad, SpreadingRecord
from amendments.models.standing import DigestSent, PhForecast, PooledPrior, Standing

__all__ = [
    "Analysis",
    "Calibration",
    "DigestSent",
    "Material",
    "Offer",
    "OtherCost",
    "PhForecast",
    "PooledPrior",
    "Purchase",
    "SeasonPlan",
    "SharedLoad",
    "Spreader",
    "SpreadingRecord",
    "Standing",
    "StockCount",
    "Supplier",
    "WorkOrder",
    "WorkOrderLine",
]
