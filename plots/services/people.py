"""Who belongs to a property: roles given, changed and taken away, and invitations by a link that expires."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.db import transaction
from django.utils import timezone

from plots.models import Invite, Person, Property, Role

DAYS_OPEN = 7


class LastManager(Exception):
    """A property must keep one land manager."""


class InviteOver(Exception):
    """The link was used, has expired or never was."""


def digest_of(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


@transaction.atomic
def invite(property_: Property, *, kind: str, by: Person, email: str = "") -> tuple[Invite, str]:
    """A new invitation and its token, which is shown once and kept only as a digest."""
    token = secrets.token_urlsafe(32)
    made = Invite.objects.create(
        property=property_,
        kind=kind,
        email=email,
        token_digest=digest_of(token),
        made_by=by,
        expires_at=timezone.now() + dt.timedelta(days=DAYS_OPEN),
    )
    return made, token


def open_invite(token: str) -> Invite:
    """The invitation behind a token; raises `InviteOver` if it cannot be used."""
    found = Invite.objects.select_related("property").filter(token_digest=digest_of(token)).first()
    if found is None or found.used_at is not None or found.expires_at < timezone.now():
        raise InviteOver
    return found


@transaction.atomic
def accept_invite(found: Invite, *, person: Person) -> Role:
    """Give the person the role, once. Somebody who has a role already keeps it."""
    taken = Invite.objects.filter(pk=found.pk, used_at__isnull=True).update(used_at=timezone.now(), used_by=person)
    if not taken:
        raise InviteOver
    role, _ = Role.objects.get_or_create(property=found.property, person=person, defaults={"kind": found.kind})
    return role


def _check_not_last(role: Role) -> None:
    others = Role.objects.filter(property=role.property, kind=Role.Kind.MANAGER).exclude(pk=role.pk)
    if role.kind == Role.Kind.MANAGER and not others.exists():
        raise LastManager


@transaction.atomic
def change_role(role: Role, *, kind: str) -> Role:
    """Another role for a member; raises `LastManager` if nobody would manage the property."""
    if kind != Role.Kind.MANAGER:
        _check_not_last(role)
    role.kind = kind
    role.save()
    return role


@transaction.atomic
def remove_role(role: Role) -> None:
    """Take a member's role away; what they entered stays. Raises `LastManager` for the only manager."""
    _check_not_last(role)
    role.delete()
