"""Signing in and out."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client

from plots.models import Person
from tests.factories import make_person

pytestmark = pytest.mark.django_db
RIGHT = "long enough to pass"


def attempt(client: Client, password: str, *, name: str = "manager", address: str = "192.0.2.1") -> int:
    fields = {"username": name, "password": password}
    return client.post("/sign-in/?next=/settings/password/", fields, REMOTE_ADDR=address).status_code


def test_signing_in_goes_on_to_the_page_asked_for(client: Client, manager: Person):
    fields = {"username": "manager", "password": RIGHT}
    answer = client.post("/sign-in/?next=/settings/password/", fields)
    assert (answer.status_code, answer["Location"]) == (302, "/settings/password/")
    assert client.get("/settings/password/").status_code == 200


def test_signing_in_never_goes_on_to_another_site(client: Client, manager: Person):
    answer = client.post("/sign-in/?next=https://elsewhere.example/", {"username": "manager", "password": RIGHT})
    assert answer["Location"] == "/"


def test_a_wrong_password_keeps_the_name_and_says_nothing_of_who_exists(client: Client, manager: Person):
    pages = []
    for name in ("manager", "nobody"):
        answer = client.post("/sign-in/", {"username": name, "password": "wrong"})
        assert answer.status_code == 422
        assert f'value="{name}"' in answer.content.decode()
        pages.append(answer.content.decode().replace(name, "NAME").split("<main")[1])
    token = pages[0].split('csrfmiddlewaretoken" value="')[1].split('"')[0]
    other = pages[1].split('csrfmiddlewaretoken" value="')[1].split('"')[0]
    assert pages[0].replace(token, "") == pages[1].replace(other, "")
    assert "do not belong together" in pages[0]


def test_too_many_attempts_lock_the_name_from_that_address_only(client: Client, manager: Person, hand: Person):
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert attempt(client, "wrong") == 422
    assert attempt(client, "wrong") == 429
    assert attempt(client, RIGHT) == 429  # even the right one
    assert attempt(Client(), RIGHT, address="192.0.2.77") == 302  # the manager elsewhere
    assert attempt(Client(), RIGHT, name="hand") == 302  # somebody else behind the same address


def test_a_locked_page_says_how_long(client: Client, manager: Person):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        attempt(client, "wrong")
    fields = {"username": "manager", "password": RIGHT}
    assert "next 15 minutes" in client.post("/sign-in/", fields, REMOTE_ADDR="192.0.2.1").content.decode()


def test_a_right_password_clears_the_count(client: Client, manager: Person):
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        attempt(client, "wrong")
    assert attempt(Client(), RIGHT) == 302
    assert attempt(Client(), "wrong") == 422


def test_every_sign_in_begins_a_new_session(client: Client, manager: Person):
    planted = client.session
    planted["planted"] = True
    planted.save()
    before = client.cookies[settings.SESSION_COOKIE_NAME].value
    attempt(client, RIGHT)
    after = client.cookies[settings.SESSION_COOKIE_NAME].value
    assert after != before
    assert not Session.objects.filter(session_key=before).exists()


def test_signing_out_takes_a_form_and_ends_the_session(client: Client, manager: Person):
    client.force_login(manager)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/settings/password/").status_code == 302
    assert not Session.objects.exists()


def test_a_new_password_ends_the_other_sessions(client: Client, manager: Person):
    elsewhere = Client()
    for one in (client, elsewhere):
        one.force_login(manager)
    fields = {"old_password": RIGHT, "new_password1": "barley-after-rye", "new_password2": "barley-after-rye"}
    assert client.post("/settings/password/", fields).status_code == 302
    assert client.get("/settings/password/").status_code == 200
    assert elsewhere.get("/settings/password/").status_code == 302


@pytest.mark.parametrize("new", ["short1", "password12", "1234567890", "managermanager"])
def test_a_weak_new_password_is_refused(client: Client, new: str):
    person = make_person("managermanager")
    client.force_login(person)
    fields = {"old_password": RIGHT, "new_password1": new, "new_password2": new}
    answer = client.post("/settings/password/", fields)
    assert answer.status_code == 422
    assert "errorlist" in answer.content.decode()


@pytest.mark.parametrize("name", ["boss\x00", "x" * 5000, "\udcff", "' OR 1=1 --"])
def test_odd_names_are_refused_quietly(client: Client, name: str):
    body = {"username": name.encode("utf-8", "surrogatepass"), "password": "x"}
    assert client.post("/sign-in/", body).status_code == 422


def test_passwords_are_hashed_by_a_memory_hard_function():
    from config import settings as written  # noqa: PLC0415  (the file itself: tests run with a quick hasher)

    assert written.PASSWORD_HASHERS[0].endswith("ScryptPasswordHasher")
