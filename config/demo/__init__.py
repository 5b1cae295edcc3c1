"""The demonstration: an invented property with invented people, in a database of its own."""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Mapping

from django.db import transaction

from config.demo import property_data
from config.environment import demo_password
from plots.models import Person

NAMES = ("manager", "hand", "viewer", "operator")


def accounts() -> dict[str, Person]:
    """The four accounts, made if they are not there."""
    return {name: Person.objects.get_or_create(username=name, defaults={"is_operator": name == "operator"})[0]
            for name in NAMES}  # fmt: skip


def renew_passwords(people: Mapping[str, Person]) -> dict[str, str]:
    """Gives every account a new password: the one of the environment, else a random one each. Name to password."""
    chosen = demo_password()
    found = {name: chosen or secrets.token_urlsafe(9) for name in people}
    for name, person in people.items():
        person.set_password(found[name])
        person.save(update_fields=["password"])
    return found


def build(*, today: dt.date) -> dict[str, str]:
    """Makes the demonstration if it is not there yet, and renews its passwords; gives them by name."""
    with transaction.atomic():
        is_new = not Person.objects.exists()
        people = accounts()
        if is_new:
            people_of_it = {name: people[name] for name in ("manager", "hand", "viewer")}
            property_data.build(**people_of_it, today=today)
    return renew_passwords(people)
