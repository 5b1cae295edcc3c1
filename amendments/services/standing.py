"""Where each plot stands, rewritten by one function whenever a fact of it changes.

`refresh_standing` is called inside the transaction of the change, by the signal `plots.facts.changed` and by this
app's own changes. The row holds facts and absolute dates; what depends on today is decided where it is read.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction

from agronomy.crops import crop_name
from agronomy.lime_rate import SpreadLime  # noqa: F401
from agronomy.retest import LimeEvent, RetestDue, RetestFacts, RetestRules, retest_due
from amendments.models import Standing, WorkOrderLine
from amendments.queries.inputs import PlotInputs, gather
from amendments.services.fertilizer import standing_of
from amendments.services.prescriptions import LimeNeed, lime_need
from config_version import PROGRAM_VERSION

BATCH = 500
