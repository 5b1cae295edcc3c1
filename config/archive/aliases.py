"""Connections of their own for reading from one moment and for building beside the database in use."""

from __future__ import annotations

import copy
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.utils import load_backend
from psycopg import IsolationLevel

SQLITE = "sqlite"


@contextmanager
def connection_like(original: str = "default", **changes: Any) -> Iterator[str]:
    """The alias of a new connection of this thread with the original's settings, some changed; closed at the end."""
    alias = f"{original}_{secrets.token_hex(6)}"
    settings = copy.deepcopy({**connections[original].settings_dict, **changes})
    settings["OPTIONS"].pop("pool", None)
    connections[alias] = load_backend(settings["ENGINE"]).DatabaseWrapper(settings, alias)
    try:
        yield alias
    finally:
        connections[alias].close()
        del connections[alias]


@contextmanager
def taken_for_default(alias: str) -> Iterator[None]:
    """Within this thread, whatever asks for the default database gets this one.

    A migration of a library may write to the default database whichever one is being migrated.
    """
    usual = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = connections[alias]
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = usual


@contextmanager
def one_moment(original: str = "default") -> Iterator[str]:
    """The alias of a connection whose reads all see the database as it was at one moment; it blocks no writer."""
    options = dict(connections[original].settings_dict["OPTIONS"])
    is_sqlite = connections[original].vendor == SQLITE
    if is_sqlite:
        options["transaction_mode"] = "DEFERRED"
    else:
        options["isolation_level"] = IsolationLevel.REPEATABLE_READ
    with connection_like(original, OPTIONS=options) as alias, transaction.atomic(using=alias):
        with connections[alias].cursor() as cursor:
            # The moment is that of the first read.
            cursor.execute("SELECT count(*) FROM sqlite_master" if is_sqlite else "SET TRANSACTION READ ONLY")
        yield alias
