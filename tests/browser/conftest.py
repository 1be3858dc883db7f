"""Debian's Chromium against a live server with a small made company; what a page must never do is checked everywhere.

`open_page(who, path)` opens a page as somebody and checks it: answered, no console error, no request elsewhere, nothing
wider than the window, no violation that axe finds. Screenshots go to the folder SILTLINE_SHOTS names, if it does.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.cache import cache
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from core import clock
from core.history import remove_guard
from jobs.models import Customer
from tests.browser.made_company import MadeCompany, make_company
from tests.factories import AT
from tests.pages.conftest import home_link

ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {"desk": (1280, 900), "phone": (390, 844)}
SHOTS = os.environ.get("SILTLINE_SHOTS", "")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for all tests; each page gets a context of its own."""
    # The sync driver runs an event loop in this thread, where Django would refuse the database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def made(transactional_db, monkeypatch) -> MadeCompany:
    """The company, with the clock standing at AT in this process and so in the server."""
    remove_guard()  # the database is emptied afterwards
    monkeypatch.setattr(clock, "now", lambda: AT)
    cache.clear()
    return make_company()


@dataclass
class Visitor:
    """One person's browser window: a page, and everything that went wrong on it."""

    base: str
    context: BrowserContext
    page: Page
    size: str
    scheme: str
    wrong: list[str] = field(default_factory=list)

    def listen(self) -> None:
        self.page.on(
            "console", lambda said: self.wrong.append(said.text) if said.type in ("error", "warning") else None
        )
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("request", lambda asked: self._elsewhere(asked.url))

    def _said(self, kind: str, text: str) -> None:
        if kind in ("error", "warning"):
            self.wrong.append(text)

    def _elsewhere(self, url: str) -> None:
        if not url.startswith((self.base, "data:", "blob:", "about:")):
            self.wrong.append(f"asked elsewhere: {url}")

    def go(self, path: str, *, status: int = 200) -> Page:
        """Open a path and check the page; `status` other than 200 is expected to be told by the console."""
        answer = self.page.goto(self.base + path)
        assert answer is not None
        assert answer.status == status, f"{path}: {answer.status}"
        if status >= 400:
            self.wrong = [said for said in self.wrong if f"status of {status}" not in said]
        self.check(path)
        return self.page

    def check(self, what: str) -> None:
        """No console error, nothing asked elsewhere, nothing wider than the window, nothing that axe finds."""
        assert self.wrong == [], what
        width = self.page.evaluate("document.documentElement.scrollWidth")
        assert width <= SIZES[self.size][0], f"{what} is {width} px wide"
        found = Axe().run(self.page)
        assert found.violations_count == 0, f"{what}:\n{found.generate_report()}"

    def shot(self, name: str) -> None:
        """A picture of the whole page, where pictures are wanted."""
        if SHOTS:
            Path(SHOTS).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=f"{SHOTS}/{name}-{self.size}-{self.scheme}.png", full_page=True)


@pytest.fixture
def visitor(chromium, live_server, made) -> Iterator[Callable[..., Visitor]]:
    """visitor("crew", size="phone", scheme="dark"): somebody of the cast at a window; "nobody" is not signed in."""
    contexts: list[BrowserContext] = []

    def open_for(who: str, *, size: str = "phone", scheme: str = "light") -> Visitor:
        width, height = SIZES[size]
        context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, locale="en-US", timezone_id="UTC"
        )
        contexts.append(context)
        context.set_default_timeout(10_000)
        _sign_in(context, live_server.url, None if who == "nobody" else getattr(made.cast, who))
        seen = Visitor(live_server.url, context, context.new_page(), size, scheme)
        seen.listen()
        return seen

    yield open_for
    for context in contexts:
        context.close()


def _sign_in(context: BrowserContext, base: str, person) -> None:
    if person is None:
        return
    client = Client()
    if isinstance(person, Customer):
        client.post(f"/home/{home_link(person)}/")
    else:
        client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": base}])
