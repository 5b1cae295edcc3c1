"""What has to be true before the first request: a folder to write in, a database this program knows, a manager."""

from __future__ import annotations

import getpass
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from config.archive import ArchiveError
from config.archive.snapshots import take_snapshot
from config.archive.tables import applied, unknown
from config.environment import first_manager
from config.secret import keep_key
from plots.models import Person


class CannotStart(Exception):
    """Why the installation cannot start, in one line."""


def prepare_data_folder(data: Path) -> None:
    """Makes the data folder and the secret key in it. CannotStart if it cannot be written."""
    try:
        data.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=data) as trial:
            trial.write(b"room for one line\n")
            trial.flush()
        keep_key(data)
        for left in data.glob(".*.restore*"):
            left.unlink(missing_ok=True)  # of a restore that was killed; the database itself knows nothing of it
    except OSError as error:
        raise CannotStart(
            f"The data folder {data} cannot be written ({error.strerror or error}); give this account the right to, "
            "or choose another by SWEETGROUND_DATA."
        ) from error


def refuse_newer_database() -> None:
    """CannotStart if the database cannot be reached, or if a newer version of the program has migrated it."""
    try:
        newer = unknown(applied("default"))
    except DatabaseError as error:
        raise CannotStart(f"The database cannot be opened: {str(error).strip().splitlines()[0]}") from error
    if newer:
        raise CannotStart(
            f"The database is newer than this program (it has {'.'.join(newer[0])}); start the newer version, or "
            "restore a backup that this one knows."
        )


def migrate(say: Callable[[str], None]) -> None:
    """Brings the database up to the program, a snapshot first if there is anything in it that could be lost."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not plan:
        return
    if executor.loader.applied_migrations:
        try:
            say(f"Before the database is brought up to date, its snapshot: {_snapshot()}")
        except ArchiveError as error:
            raise CannotStart(f"No snapshot could be taken, so nothing was changed: {error}") from error
    try:
        call_command("migrate", interactive=False, verbosity=0)
    except Exception as error:
        reason = (str(error).strip() or type(error).__name__).splitlines()[0]
        raise CannotStart(
            f"Bringing the database up to date failed ({reason}). Start the previous version and `restore` the "
            "snapshot."
        ) from error


def _snapshot() -> Path:
    return take_snapshot("before-migrating", now=timezone.now())


@dataclass(frozen=True, slots=True)
class Account:
    """A name and a password."""

    name: str
    password: str


def ensure_first_manager(*, name: str, password: str) -> Person | None:
    """Makes the first person, who is also the operator, if there is nobody yet; None if there is.

    Name and password come from the options, else from the environment, else from whoever sits at the terminal.
    """
    if Person.objects.exists():
        return None
    from_environment = first_manager()
    name, password = name or from_environment[0], password or from_environment[1]
    if not (name and password):
        if not sys.stdin.isatty():
            raise CannotStart(
                "There is no manager yet: give --manager NAME and --password PASSWORD, or SWEETGROUND_MANAGER and "
                "SWEETGROUND_MANAGER_PASSWORD in the environment."
            )
        name, password = _asked(name)
    return make_person(Account(name, password), is_operator=True)


def make_person(account: Account, *, is_operator: bool = False) -> Person:
    """A new person. CannotStart if the name or the password is not allowed."""
    person = Person(username=account.name, is_operator=is_operator)
    try:
        person.clean_fields(exclude=["password"])
        validate_password(account.password, person)
    except ValidationError as error:
        raise CannotStart(f"The first manager cannot be made: {' '.join(error.messages)}") from error
    person.set_password(account.password)
    person.save()
    return person


def _asked(name: str) -> tuple[str, str]:
    print("Nobody can sign in yet. Who is the first manager?")
    name = name or input("Name to sign in with: ").strip()
    while True:
        password = getpass.getpass("Password: ")
        try:
            validate_password(password, Person(username=name))
        except ValidationError as error:
            print(" ".join(error.messages))
            continue
        if password == getpass.getpass("The same again: "):
            return name, password
        print("The two are not the same.")


def is_https_without_proxy() -> bool:
    """Whether pages would ask for https for ever: the address is https but nothing in front is trusted to say so."""
    return settings.PUBLIC_URL.startswith("https://") and not settings.TRUST_PROXY
