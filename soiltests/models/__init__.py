from soiltests.models.reports import Attachment, Lab, LabReport
from soiltests.models.samples import Measurement, RoundStop, Sample, SamplingRound, SoilTest

__all__ = [
    "Attachment",
    "Lab",
    "LabReport",
    "Measurement",
    "RoundStop",
    "Sample",
    "SamplingRound",
    "SoilTest",
]
