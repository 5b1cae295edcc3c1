"""Making a database out of an archive: the tables of its time, its rows, then the migrations since."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.core.management.sql import emit_post_migrate_signal
from django.db import DataError, IntegrityError, connections, models, transaction
from django.db.migrations.executor import MigrationExecutor

from config.archive import ArchiveError
from config.archive.aliases import taken_for_default
from config.archive.reading import CheckedArchive
from config.archive.tables import archived, ends, models_after
from config.archive.values import from_json

BATCH_ROWS = 500


def build(alias: str, archive: CheckedArchive) -> None:
    """Fills an empty database. ArchiveError names the table and row that do not fit."""
    with taken_for_default(alias):
        _build(alias, archive)


def _build(alias: str, archive: CheckedArchive) -> None:
    nodes = archive.manifest.migrations
    MigrationExecutor(connections[alias]).migrate(ends(nodes))
    with connections[alias].constraint_checks_disabled(), transaction.atomic(using=alias):
        # Migrations leave some links checked at once for the rest of a transaction; this defers them all again.
        connections[alias].check_constraints()
        for model in archived(nodes):
            _load(alias, archive, model)
        _settle(alias, archive)
    executor = MigrationExecutor(connections[alias])
    executor.migrate(executor.loader.graph.leaf_nodes())
    emit_post_migrate_signal(verbosity=0, interactive=False, db=alias)


def _load(alias: str, archive: CheckedArchive, model: type[models.Model]) -> None:
    label = model._meta.label_lower
    manager = model._base_manager.using(alias)
    manager.all()._raw_delete(alias)  # rows that a migration put there; the archive holds its own
    if label not in archive.manifest.tables:
        return
    columns = {column.attname: column for column in model._meta.concrete_fields}
    rows = enumerate(archive.rows(label), start=1)
    try:
        while batch := [_row(model, columns, row, number) for number, row in islice(rows, BATCH_ROWS)]:
            manager.bulk_create(batch)
    except (DataError, IntegrityError, ValueError, OverflowError) as error:
        raise ArchiveError(f"the rows of {label} do not fit the database ({error})") from error


def _row(
    model: type[models.Model], columns: dict[str, models.Field[Any, Any]], row: dict[str, Any], number: int
) -> models.Model:
    label = model._meta.label_lower
    if set(row) != set(columns):
        odd = min(set(row) ^ set(columns))
        raise ArchiveError(f"row {number} of {label} has not the columns of its table ({odd!r})")
    try:
        return model(**{name: from_json(column, row[name]) for name, column in columns.items()})
    except (ValueError, TypeError, ValidationError) as error:
        raise ArchiveError(f"row {number} of {label} holds a value that cannot be read ({error})") from error


def _settle(alias: str, archive: CheckedArchive) -> None:
    """Checks the links between rows and sets the counters of keys behind the last one."""
    connection = connections[alias]
    loaded = archived(archive.manifest.migrations)
    try:
        connection.check_constraints()
    except IntegrityError as error:
        raise ArchiveError(f"its rows do not belong together ({error})") from error
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), loaded):
            cursor.execute(statement)


def tables_there(alias: str, nodes: list[tuple[str, str]]) -> Iterator[str]:
    """The program's own tables that a database has, those of an older or a newer state included; nobody else's.

    A newer state is one that this program does not know, but its tables begin with their app's label like all.
    """
    own = set(connections[alias].introspection.django_table_names(only_existing=False))
    own |= {model._meta.db_table for model in models_after(nodes)} | {"django_migrations"}
    begin = tuple(f"{app}_" for app, _ in nodes)
    there = connections[alias].introspection.table_names()
    yield from sorted(name for name in there if name in own or name.startswith(begin))
