"""All settings. What an installation may choose comes from the environment (see `config.environment`)."""

from __future__ import annotations

import secrets
from datetime import timedelta

from csp.constants import NONE, SELF
from django.utils.csp import CSP  # noqa: F401
