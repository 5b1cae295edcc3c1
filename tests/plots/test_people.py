"""People of a property: links that let somebody in once, roles, leaving."""

from __future__ import annotations

import datetime as dt
import hashlib
import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from plots.models import Invite, Person, Role
from plots.services.people import InviteOver, accept_invite, invite, open_invite
from tests.factories import give_role, make_person
from tests.plots.pages import errors_of, filled, send, soup_of, text_of

pytestmark = pytest.mark.django_db
PEOPLE = "/settings/people/?property=GROUND"
INVITE = "/settings/invite/?property=GROUND"
ACCOUNT = {"username": "newhand", "password": "long enough to pass", "again": "long enough to pass"}


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


def link_in(response) -> str:
    found = re.search(r"https?://[^/]+(/join/[\w-]+/)", soup_of(response).select_one("#link")["value"])
    assert found is not None
    return found[1]


class TestInviting:
    def test_the_link_is_shown_once_and_kept_as_a_digest(self, client) -> None:
        response = send(client, INVITE, kind="hand", days="1", email="hand@example.org")
        link = link_in(response)
        token = link.split("/")[2]
        made = Invite.objects.get()
        assert made.token_digest == hashlib.sha256(token.encode()).hexdigest()
        assert token not in str(Invite.objects.values())
        assert made.expires_at - timezone.now() < dt.timedelta(days=1)
        assert response["Cache-Control"].startswith("max-age=0")
        page = client.get(PEOPLE)
        assert "hand@example.org" in text_of(page)
        assert token not in page.content.decode()

    @pytest.mark.parametrize("changes", [{"kind": "owner"}, {"kind": ""}, {"days": "400"}, {"email": "no address"}])
    def test_what_is_no_invitation(self, client, changes) -> None:
        response = send(client, INVITE, **changes)
        assert response.status_code == 422
        assert errors_of(response)
        assert not Invite.objects.exists()

    def test_it_is_withdrawn(self, client, ground, manager) -> None:
        made, token = invite(ground, kind="hand", by=manager)
        client.post(reverse("plots:end_invite", args=[made.pk]))
        assert Client().get(f"/join/{token}/").status_code == 404

    def test_only_a_manager_invites(self, cast, client_of) -> None:
        made, _ = invite(cast.ground, kind="hand", by=cast.manager)
        addresses = [INVITE, PEOPLE, reverse("plots:end_invite", args=[made.pk])]
        for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
            person = client_of(cast.people()[who])
            assert [person.post(one, {"kind": "manager", "days": 1}).status_code for one in addresses] in (
                [status, 405, status], [status, 403, status],
            )  # fmt: skip
            assert person.get(PEOPLE).status_code == status
        assert Role.objects.filter(property=cast.ground).count() == 3


class TestJoining:
    def test_as_a_new_person(self, ground, manager) -> None:
        _, token = invite(ground, kind="hand", by=manager)
        client = Client()
        page = client.get(f"/join/{token}/")
        assert "Join GROUND ground as hired hand" in text_of(page)
        assert page["Referrer-Policy"] == "same-origin", "the address is the key and is told to nobody else"
        response = client.post(f"/join/{token}/", ACCOUNT)
        assert response["Location"] == "/?property=GROUND"
        person = Person.objects.get(username="newhand")
        assert (person.roles.get().kind, person.is_operator, person.is_superuser) == ("hand", False, False)
        assert client.get(response["Location"]).status_code == 200
        assert Invite.objects.get().used_by == person
        assert Client().post(f"/join/{token}/", ACCOUNT | {"username": "second"}).status_code == 404

    def test_as_somebody_signed_in(self, ground, manager, stranger, client_of) -> None:
        _, token = invite(ground, kind="viewer", by=manager)
        client = client_of(stranger)
        assert "You are signed in as stranger" in text_of(client.get(f"/join/{token}/"))
        client.post(f"/join/{token}/")
        assert Role.objects.get(property=ground, person=stranger).kind == "viewer"

    def test_a_member_keeps_role_and_link(self, ground, manager, hand, client_of) -> None:
        _, token = invite(ground, kind="manager", by=manager)
        page = client_of(hand).post(f"/join/{token}/")
        assert "You are its hired hand already" in text_of(page)
        assert hand.roles.get().kind == "hand"
        assert Invite.objects.get().used_at is None

    @pytest.mark.parametrize("token", ["x", "%00", "a" * 3000, "..%2f..", "%ED%A0%80"])
    def test_a_link_that_never_was(self, token) -> None:
        assert Client().get(f"/join/{token}/").status_code == 404

    def test_a_link_that_is_over(self, ground, manager) -> None:
        made, token = invite(ground, kind="hand", by=manager)
        Invite.objects.filter(pk=made.pk).update(expires_at=timezone.now() - dt.timedelta(seconds=1))
        response = Client().get(f"/join/{token}/")
        assert response.status_code == 404
        assert "This invitation cannot be used" in text_of(response)

    def test_of_two_at_once_one_gets_in(self, ground, manager) -> None:
        _, token = invite(ground, kind="hand", by=manager)
        first, second = open_invite(token), open_invite(token)
        accept_invite(first, person=make_person("one"))
        with pytest.raises(InviteOver):
            accept_invite(second, person=make_person("two"))
        assert not Role.objects.filter(person__username="two").exists()

    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"username": "Manager"}, "This name is taken."),
            ({"username": "new hand"}, "allowed are letters, digits and @ . + - _."),
            ({"username": "new\x00hand"}, "U+0000"),
            ({"username": ""}, "Name to sign in with is missing."),
            ({"again": "something else"}, "The two passwords differ."),
            ({"password": "short", "again": "short"}, "at least 10 characters"),
            ({"password": "newhand123", "again": "newhand123"}, "too similar"),
        ],
    )
    def test_an_account_that_cannot_be(self, ground, manager, changes, sentence) -> None:
        _, token = invite(ground, kind="hand", by=manager)
        response = Client().post(f"/join/{token}/", ACCOUNT | changes)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert set(Person.objects.values_list("username", flat=True)) == {"manager", "hand", "viewer"}
        assert Invite.objects.get().used_at is None
        assert "password" not in {name for name, value in filled(response).items() if value and name != "username"}


class TestRoles:
    def test_another_role(self, client, hand) -> None:
        role = hand.roles.get()
        client.post(reverse("plots:change_member", args=[role.pk]), {f"role{role.pk}-kind": "viewer"})
        role.refresh_from_db()
        assert role.kind == "viewer"
        assert role.history.count() == 2

    @pytest.mark.parametrize("kind", ["owner", "", "\x00"])
    def test_a_role_that_is_none(self, client, hand, kind) -> None:
        role = hand.roles.get()
        response = client.post(
            reverse("plots:change_member", args=[role.pk]), {f"role{role.pk}-kind": kind}, follow=True
        )
        assert "Not done: Choose one of the three roles." in text_of(response)
        assert hand.roles.get().kind == "hand"

    def test_taken_away_once_it_is_said_what_stays(self, client, hand, client_of, ground) -> None:
        address = reverse("plots:remove_member", args=[hand.roles.get().pk])
        assert "What they entered stays." in text_of(client.get(address))
        client.post(address)
        assert not hand.roles.exists()
        assert client_of(Person.objects.get(pk=hand.pk)).get("/?property=GROUND").status_code == 404

    def test_a_property_keeps_one_manager(self, client, manager, ground, hand) -> None:
        role = manager.roles.get()
        change = reverse("plots:change_member", args=[role.pk])
        for address, sent in (
            (change, {f"role{role.pk}-kind": "hand"}),
            (reverse("plots:remove_member", args=[role.pk]), {}),
            (reverse("plots:leave", args=[role.pk]), {}),
        ):
            response = client.post(address, sent, follow=True)
            assert "Not done: A property needs a land manager." in text_of(response)
        Role.objects.filter(person=hand).update(kind="manager")
        client.post(change, {f"role{role.pk}-kind": "hand"})
        assert manager.roles.get().kind == "hand"

    def test_a_member_leaves(self, ground, hand, client_of) -> None:
        client = client_of(hand)
        address = reverse("plots:leave", args=[hand.roles.get().pk])
        assert address in client.get("/properties/").content.decode()
        assert "You will not see the property any more" in text_of(client.get(address))
        assert "You have left GROUND ground." in text_of(client.post(address, follow=True))
        assert not Role.objects.filter(person=hand).exists()

    def test_nobody_leaves_for_another(self, cast, client_of) -> None:
        address = reverse("plots:leave", args=[cast.viewer.roles.get().pk])
        for who, status in {"hand": 403, "manager": 403, "stranger": 404, "operator": 404}.items():
            assert client_of(cast.people()[who]).post(address).status_code == status
        assert cast.viewer.roles.exists()

    def test_only_a_manager_changes_roles(self, cast, client_of) -> None:
        role = cast.viewer.roles.get()
        for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
            client = client_of(cast.people()[who])
            for name in ("change_member", "remove_member"):
                sent = {f"role{role.pk}-kind": "manager"}
                assert client.post(reverse(f"plots:{name}", args=[role.pk]), sent).status_code == status
        assert cast.viewer.roles.get().kind == "viewer"

    def test_a_manager_of_one_property_is_nobody_on_another(self, ground, hand, stranger, client_of) -> None:
        client = client_of(stranger)
        role = hand.roles.get()
        assert client.post(reverse("plots:remove_member", args=[role.pk])).status_code == 404
        give_role(stranger, ground, "viewer")
        assert client_of(Person.objects.get(pk=stranger.pk)).post(
            reverse("plots:remove_member", args=[role.pk])
        ).status_code == 403  # fmt: skip
