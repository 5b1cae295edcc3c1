"""Who belongs to a property: roles given, changed and taken away, and invitations by a link that expires."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.db import IntegrityError, transaction
from django.utils import timezone

from plots.models import Invite, Person, Property, Role

DAYS_OPEN = 7


class LastManager(Exception):
    """A property must keep one land manager."""


class InviteOver(Exception):
    """The link was used, has expired, was withdrawn or never was."""


class NameTaken(Exception):
    """Somebody else got the name first."""


def digest_of(token: str) -> str:
    """What is kept of a token: its SHA-256. A token has 256 random bits, so nothing slower is needed."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


@transaction.atomic
def invite(property_: Property, *, kind: str, by: Person, days: int = DAYS_OPEN, email: str = "") -> tuple[Invite, str]:
    """A new invitation and its token, which is shown once and kept only as a digest."""
    token = secrets.token_urlsafe(32)
    made = Invite.objects.create(
        property=property_,
        kind=kind,
        email=email,
        token_digest=digest_of(token),
        made_by=by,
        expires_at=timezone.now() + dt.timedelta(days=days),
    )
    return made, token


def open_invite(token: str) -> Invite:
    """The invitation behind a token; raises `InviteOver` if it cannot be used."""
    found = Invite.objects.select_related("property", "made_by").filter(token_digest=digest_of(token)).first()
    if found is None or found.used_at is not None or found.expires_at < timezone.now():
        raise InviteOver
    return found


def withdraw_invite(found: Invite) -> bool:
    """Delete an invitation that was not used; False if it was."""
    deleted, _ = Invite.objects.filter(pk=found.pk, used_at__isnull=True).delete()
    return bool(deleted)


@transaction.atomic
def accept_invite(found: Invite, *, person: Person) -> Role:
    """Give the person the role, once: of two who follow one link at the same time, one gets `InviteOver`.

    Somebody who has a role on the property already keeps it.
    """
    now = timezone.now()
    still_open = Invite.objects.filter(pk=found.pk, used_at__isnull=True, expires_at__gte=now)
    if not still_open.update(used_at=now, used_by=person):
        raise InviteOver
    role, _ = Role.objects.get_or_create(property=found.property, person=person, defaults={"kind": found.kind})
    return role


def join_as_new(found: Invite, *, username: str, password: str) -> Person:
    """An account and its role in one: neither is made without the other. Raises `NameTaken` or `InviteOver`."""
    try:
        with transaction.atomic():
            person = Person.objects.create_user(username=username, password=password)
            accept_invite(found, person=person)
    except IntegrityError:
        raise NameTaken from None
    return person


def _hold_managers(role: Role) -> None:
    """Raise `LastManager` if the role is the only manager's. The property's row is held meanwhile, so that of two
    managers who leave at the same time one stays."""
    Property.objects.select_for_update().get(pk=role.property_id)
    others = Role.objects.filter(property_id=role.property_id, kind=Role.Kind.MANAGER).exclude(pk=role.pk)
    is_manager = Role.objects.filter(pk=role.pk, kind=Role.Kind.MANAGER).exists()
    if is_manager and not others.exists():
        raise LastManager


@transaction.atomic
def change_role(role: Role, *, kind: str) -> Role:
    """Another role for a member; raises `LastManager` if nobody would manage the property."""
    if kind != Role.Kind.MANAGER:
        _hold_managers(role)
    role.kind = kind
    role.save()
    return role


@transaction.atomic
def remove_role(role: Role) -> None:
    """Take a member's role away; what they entered stays. Raises `LastManager` for the only manager."""
    _hold_managers(role)
    role.delete()
