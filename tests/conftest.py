"""The fixed cast: the same people on every page's access tests; and a browser for a few."""

import gc
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, Page, expect, sync_playwright
from xdist.scheduler import LoadScopeScheduling

from shopdiag.people.core.roles import Role
from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.models import Member, Shop, User
from tests.kept_pages import Complaints, KeptPages, OpenPage, open_new
from tests.repeatable_examples import repeat_examples
from tests.row_layers import (
    laid,
    layer,
    layers,
    layers_of,
    settle_before,
    take_back_all,
    take_back_before,
)
from tests.shared_tables import django_db_keepdb, django_db_setup, tables_awaited
from tests.statements import (
    leave_out_repeated,
    pytest_ignore_collect,
    pytest_runtest_protocol,
)
from tests.told_templates import tell_of_pages_only

__all__ = [
    "django_db_keepdb",
    "django_db_setup",
    "laid",
    "layers",
    "pytest_ignore_collect",
    "pytest_runtest_protocol",
    "tables_awaited",
]

repeat_examples()

PASSWORD = "bench-vise-1907"

_PROJECT = Path(__file__).parents[1]
_ON_THE_DATABASE = {"db", "transactional_db", "live_server"}


class TogetherByFile(LoadScopeScheduling):  # type: ignore[misc]
    """What a parallel run keeps in one process.

    Tests of a file share its fixtures, so they stay together. Files with tests that start worker
    processes stay together too: side by side their workers would wait for each other; and files
    that fill the demo shop, whose captures are analysed once in a process. (The mark
    `xdist_group` is no way to say so: pytest-xdist 3.8 with pytest 9.2 passes over it.)
    """

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        if starts_workers(file):
            return "queue"
        return "demo" if fills_the_demo_shop(file) else file


@cache
def starts_workers(file: str) -> bool:
    """Return whether a file, named from the project's folder, has tests of the queue."""
    return "pytest.mark.queue" in (_PROJECT / file).read_text(encoding="utf-8")


@cache
def fills_the_demo_shop(file: str) -> bool:
    """Return whether a file, named from the project's folder, has tests on the demo's rows."""
    return "import fill_demo_shop" in (_PROJECT / file).read_text(encoding="utf-8")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One process more for every two cores: tests with a browser wait more than they work."""
    cores = os.cpu_count() or 1
    return cores + cores // 2


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> TogetherByFile:
    return TogetherByFile(config, log)


def pytest_itemcollected(item: pytest.Item) -> None:
    """Mark what touches the database."""
    if item.get_closest_marker("django_db") or _ON_THE_DATABASE & set(_fixtures(item)):
        item.add_marker("database")


def _fixtures(item: pytest.Item) -> list[str]:
    return list(getattr(item, "fixturenames", ()))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no process is left with it at the end.

    Within a file, tests that begin with the same rows stand together; those without such rows come
    last, as Django wants tests that commit.
    """
    leave_out_repeated(config, items)
    items.sort(key=_by_length)
    ordered: list[pytest.Item] = []
    for _, of_file in groupby(items, key=lambda item: item.path):
        ordered += sorted(of_file, key=_by_rows)
    items[:] = ordered


def _by_length(item: pytest.Item) -> int:
    long = ("queue", "browser")
    return next((i for i, name in enumerate(long) if item.get_closest_marker(name)), len(long))


def _by_rows(item: pytest.Item) -> tuple[bool, tuple[str, ...]]:
    layers = layers_of(item)
    return not layers, layers


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    take_back_before(item)


@pytest.hookimpl(tryfirst=True)
def pytest_fixture_setup(fixturedef: Any, request: Any) -> None:
    """Lay a test's rows below its own transaction, which this fixture of pytest-django begins."""
    if fixturedef.argname == "_django_db_helper":
        settle_before(request)


def pytest_collection_finish() -> None:
    """Take the thousands of tests out of the garbage collector's sight: they stay to the end."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@dataclass(frozen=True)
class Cast:
    """Two shops and everybody in them; each attribute but the shops is a membership."""

    shop: Shop
    other_shop: Shop
    owner: Member
    diagnostician: Member
    mechanic: Member
    writer: Member
    # A diagnostician of the other shop: may do the work, but not in this one.
    outsider: Member
    other_owner: Member
    # One person in both shops: writer in the first, mechanic in the second.
    both_here: Member
    both_there: Member

    @property
    def insiders(self) -> dict[Role, Member]:
        """One member of the first shop per role."""
        return {
            Role.OWNER: self.owner,
            Role.DIAGNOSTICIAN: self.diagnostician,
            Role.MECHANIC: self.mechanic,
            Role.WRITER: self.writer,
        }


def _person(username: str, name: str) -> User:
    user = User(username=username, name=name)
    user.set_password(PASSWORD)
    user.save()
    return user


def _member(shop: Shop, user: User, role: Role) -> Member:
    return Member.objects.create(shop=shop, user=user, role=role)


def make_cast() -> Cast:
    shop = Shop.objects.create(name="Harbour Lane Garage")
    other = Shop.objects.create(name="Mill Road Motors")
    both = _person("both", "Bo Bothways")
    return Cast(
        shop=shop,
        other_shop=other,
        owner=_member(shop, _person("owner", "Olive Owner"), Role.OWNER),
        diagnostician=_member(shop, _person("diag", "Dana Diag"), Role.DIAGNOSTICIAN),
        mechanic=_member(shop, _person("mech", "Mika Mech"), Role.MECHANIC),
        writer=_member(shop, _person("writer", "Wren Writer"), Role.WRITER),
        outsider=_member(other, _person("outsider", "Otis Outside"), Role.DIAGNOSTICIAN),
        other_owner=_member(other, _person("otherowner", "Una Elsewhere"), Role.OWNER),
        both_here=_member(shop, both, Role.WRITER),
        both_there=_member(other, both, Role.MECHANIC),
    )


@pytest.fixture(scope="session", autouse=True)
def pages_only(django_test_environment: None) -> None:
    tell_of_pages_only()


@layer
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def client_for(db: None) -> Callable[[Member], Client]:
    """Return a browser signed in as a member, working in that member's shop."""

    def sign_in(member: Member) -> Client:
        client = Client()
        client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
        session = client.session
        session[SHOP_KEY] = member.shop_id
        session.save()
        return client

    return sign_in


# The first one has pages and no window around them, which is half of the work of a page.
_BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
_CHROMIUM = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, _BROWSERS)), None)
_CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return a running Chromium; name it by CHROMIUM where it is not on the path."""
    if _CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is not installed here; CI needs it.")
        pytest.skip("Chromium is not installed; these tests drive it.")
    # The driver runs an event loop in this thread, and Django would refuse the database.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=_CHROMIUM, args=_CHROMIUM_ARGUMENTS)
        yield browser
        # Django keeps another connection for a thread whose event loop has ended.
        take_back_all()
        browser.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
    else:
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = before


@pytest.fixture(scope="module")
def kept_pages() -> Iterator[KeptPages]:
    kept = KeptPages()
    yield kept
    kept.close()


@pytest.fixture
def open_page(
    chromium: Browser, kept_pages: KeptPages
) -> Iterator[Callable[..., tuple[Page, Complaints]]]:
    """Return a way to open pages: options of a browser context in, page and complaints out.

    What a service worker passes on cannot be routed by a test, so it runs where a test allows it.
    With `keep` the page goes on to the next test of the file (`tests/kept_pages.py`).
    """
    opened: list[OpenPage] = []
    kept: list[OpenPage] = []
    # Other tests and workers share the processors: nothing here says how long a page may take.
    expect.set_options(timeout=20_000)

    def new(*, keep: bool = False, **options: Any) -> tuple[Page, Complaints]:
        options.setdefault("service_workers", "block")
        one = kept_pages.take(chromium, options) if keep else open_new(chromium, options)
        (kept if keep else opened).append(one)
        return one.page, one.complaints

    yield new
    for one in opened:
        one.context.close()
    for one in kept:
        kept_pages.give_back(one)


@pytest.fixture
def signed_in_page(
    open_page: Callable[..., tuple[Page, Complaints]],
    live_server: Any,
    client_for: Callable[[Member], Client],
) -> Callable[..., tuple[Page, Complaints]]:
    """Return a way to open pages as a member: who, and options as `open_page` takes them.

    The browser gets the cookie of a session; the form is left to the tests that are about it.
    """

    def new(member: Member, **options: Any) -> tuple[Page, Complaints]:
        address = options.setdefault("base_url", live_server.url)
        page, complaints = open_page(**options)
        name = settings.SESSION_COOKIE_NAME
        session = client_for(member).cookies[name].value
        page.context.add_cookies(
            [{"name": name, "value": session, "url": address, "httpOnly": True, "sameSite": "Lax"}]
        )
        return page, complaints

    return new


def sign_in_by_form(page: Page, member: Member, server: str = "") -> None:
    """Sign in as a person does; a page without an address of its own needs the server's."""
    page.goto(f"{server}/people/sign-in/")
    page.locator("[name=username]").fill(member.user.username)
    page.locator("[name=password]").fill(PASSWORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url("**/jobs/")
