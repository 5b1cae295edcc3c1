"""How much lime a soil needs, by each publication's own method and in its own unit and reference material."""

from agronomy.lime_requirement.calibrations import calibration, calibrations, default_calibration
from agronomy.lime_requirement.choosing import choose_requirement, requirement
from agronomy.lime_requirement.kinds import Calibration, LimeRequirement, Rate, effective_lb_per_acre

__all__ = [
    "Calibration",
    "LimeRequirement",
    "Rate",
    "calibration",
    "calibrations",
    "choose_requirement",
    "default_calibration",
    "effective_lb_per_acre",
    "requirement",
]
