"""Which tables an archive holds, as the database has them now or had them when the archive was written.

Tables are read through the models as the applied migrations left them, so that a database can be copied before
it is migrated, and an older archive restored by a newer program.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connections, models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from config.archive import LEFT_OUT_APPS, LEFT_OUT_TABLES

Node = tuple[str, str]


def applied(alias: str) -> list[Node]:
    """The migrations applied to a database, in order of name."""
    return sorted(MigrationRecorder(connections[alias]).applied_migrations())


def unknown(nodes: Iterable[Node]) -> list[Node]:
    """Those migrations that this program does not have: they come from a newer one."""
    loader = MigrationLoader(None)
    known = set(loader.disk_migrations) | {
        replaced for migration in loader.disk_migrations.values() for replaced in migration.replaces
    }
    return sorted(set(nodes) - known)


def models_after(nodes: Iterable[Node]) -> list[type[models.Model]]:
    """All models with a table as these migrations leave them, in order of label."""
    loader = MigrationLoader(None)
    present = [node for node in nodes if node in loader.graph.nodes]
    apps = loader.project_state(nodes=present).apps
    found = [model for model in apps.get_models(include_auto_created=True) if _has_table(model)]
    return sorted(found, key=lambda model: model._meta.label_lower)


def archived(nodes: Iterable[Node]) -> list[type[models.Model]]:
    """The models of these migrations whose rows belong in an archive."""
    return [
        model
        for model in models_after(nodes)
        if model._meta.app_label not in LEFT_OUT_APPS and model._meta.label_lower not in LEFT_OUT_TABLES
    ]


def ends(nodes: Iterable[Node]) -> list[Node]:
    """The last of these migrations in each app: migrating to them applies all of them."""
    loader = MigrationLoader(None)
    wanted = {node for node in nodes if node in loader.graph.nodes}

    def is_last(node: Node) -> bool:
        children = loader.graph.node_map[node].children
        return not any(child.key in wanted for child in children if child.key[0] == node[0])

    return sorted(filter(is_last, wanted))


def _has_table(model: type[models.Model]) -> bool:
    return bool(model._meta.managed) and not model._meta.proxy and not model._meta.swapped
