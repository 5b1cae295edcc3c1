"""Column values as JSON, the same from either database."""

from __future__ import annotations

import base64
import datetime as dt
import json
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import models


def as_json(value: Any) -> Any:
    """A column's Python value as something JSON holds without loss."""
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat() if value.tzinfo else value.isoformat()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, dt.timedelta):
        return value.total_seconds()
    if isinstance(value, uuid.UUID):
        return str(value)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode("ascii")
    return value


def from_json(column: models.Field[Any, Any], value: Any) -> Any:
    """The column's Python value; ValidationError or ValueError if the JSON cannot be one."""
    if value is None or isinstance(column, models.JSONField):
        return value
    if isinstance(column, models.BinaryField):
        return base64.b64decode(value, validate=True)
    if isinstance(column, models.DurationField):
        return dt.timedelta(seconds=value)
    return column.to_python(value)


def line(row: Mapping[str, Any]) -> str:
    """A row as one line of JSON: keys sorted, so that both databases give the same bytes."""
    return json.dumps(row, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
