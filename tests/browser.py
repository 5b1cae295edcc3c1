"""A real Chromium for tests marked `browser`.

`browser_page` is a page signed in as nobody; `signed_in(person)` gives one with that person's session. A page fails
its test on a script error and on a breach of the content security policy.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Playwright, sync_playwright

from plots.models import Person

PLACES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def chromium_path() -> str | None:
    """The Chromium of this machine, or None."""
    return next((found for name in PLACES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def chromium_executable(request: pytest.FixtureRequest) -> str:
    """The path of Chromium; without one the test is skipped, or fails under --require-browser."""
    found = chromium_path()
    if found is None:
        say = pytest.fail if request.config.getoption("--require-browser") else pytest.skip
        say("Chromium is not installed (on Debian: apt-get install chromium)")
    return str(found)


@pytest.fixture(scope="session")
def chromium(chromium_executable: str, playwright_driver: Playwright) -> Iterator[Browser]:
    """One Chromium for the session; pages are made in contexts of their own."""
    # The driver keeps an event loop in this thread, in which Django would refuse the database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    running = playwright_driver.chromium.launch(
        executable_path=chromium_executable,
        args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
    )
    yield running
    running.close()


class Watch:
    """Collects what a page must never do."""

    def __init__(self) -> None:
        self.problems: list[str] = []

    def over(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.problems.append(f"script error: {error}"))
        page.on("console", self._heard)

    def _heard(self, message: ConsoleMessage) -> None:
        if "Content Security Policy" in message.text:
            self.problems.append(message.text)


@pytest.fixture
def new_context(chromium: Browser, live_server: object) -> Iterator[Callable[..., BrowserContext]]:
    """`new_context(javascript=True, phone=False)`: a fresh browser profile that opens addresses of the live server."""
    opened: list[BrowserContext] = []
    watch = Watch()

    def make(*, javascript: bool = True, phone: bool = False, **more: object) -> BrowserContext:
        size = {"width": 390, "height": 844} if phone else {"width": 1280, "height": 900}
        context = chromium.new_context(
            base_url=str(live_server), java_script_enabled=javascript, viewport=size, **more  # type: ignore[arg-type]
        )
        context.set_default_timeout(10_000)
        context.on("page", watch.over)
        opened.append(context)
        return context

    yield make
    for context in opened:
        context.close()
    assert watch.problems == []


@pytest.fixture
def browser_page(new_context: Callable[..., BrowserContext]) -> Page:
    """A page of nobody."""
    return new_context().new_page()


@pytest.fixture
def signed_in(new_context: Callable[..., BrowserContext], live_server: object) -> Callable[..., Page]:
    """`signed_in(person, javascript=True, phone=False)`: a page with the person's session."""

    def open_for(person: Person, **kind: bool) -> Page:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        context = new_context(**kind)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
        context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": str(live_server)}])
        return context.new_page()

    return open_for
