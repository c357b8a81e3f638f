"""What all tests share: how hard the random ones try, and the browser for page tests."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import databases
import days
import pytest
from hypothesis import settings
from intake_folders import TINY_SHOP, with_a_late_batch
from page_server import Kept, browser, cleared, kept
from playwright.sync_api import Browser, Page

from planner.store import ShopPlace, Store
from planner.store.folder import take_in

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
HINT = (
    "Chromium is not on the path. Install it (Debian: apt install chromium) "
    "or name it in the environment variable BATCHWRIGHT_CHROMIUM."
)
ON_CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")

sys.path.append(str(Path(__file__).parent.parent / "scripts"))  # last, so that its test.py hides nothing

settings.register_profile("ci", derandomize=True, max_examples=30, deadline=None, print_blob=True)
settings.register_profile("here", max_examples=60, deadline=None)
settings.load_profile("ci" if ON_CI else "here")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--kills", type=int, default=20, help="how often a process that writes to a store is killed")


def browser_path() -> str | None:
    """The browser named in the environment, else the first known one on the path."""
    named = os.environ.get("BATCHWRIGHT_CHROMIUM")
    if named:
        return named if Path(named).is_file() else None
    return next(filter(None, map(shutil.which, BROWSERS)), None)


@pytest.fixture(scope="session", autouse=True)
def nothing_is_drawn_ahead() -> Iterator[None]:
    """Most tests serve a store's pages without looking at how sure its plan is."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("web.app.draw_ahead", lambda site: None)
        yield


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Where the browser is. Without one, page tests are skipped, except in CI, where that is a failure."""
    found = browser_path()
    if found is None:
        (pytest.fail if ON_CI else pytest.skip)(HINT)
    return found


@pytest.fixture(scope="session")
def chromium(chromium_path: str) -> Iterator[Browser]:
    """One for all page tests of a process: to start it takes a second or more."""
    with browser(chromium_path) as found:
        yield found


@pytest.fixture(scope="module")
def used(chromium: Browser, base: str) -> Iterator[Kept]:
    """The page that all tests of a module have in turn; the module says what it serves (``base``)."""
    with kept(chromium, base) as found:
        yield found


@pytest.fixture
def page(used: Kept) -> Iterator[Page]:
    with cleared(used) as found:
        yield found


@pytest.fixture(scope="session")
def database_server() -> Iterator[str]:
    """How a PostgreSQL server is reached. Without one, its tests are skipped, except in CI, where that is a failure."""
    programs = databases.server_programs()
    if programs is None:
        (pytest.fail if ON_CI else pytest.skip)(databases.HINT)
    with databases.server(programs) as reach:
        yield reach


@pytest.fixture(params=["embedded", "server"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where a store can be made: a file, and a database on a server."""
    if request.param == "embedded":
        return tmp_path / "shop.db"
    return databases.new_database(request.getfixturevalue("database_server"))


@pytest.fixture(scope="session")
def in_halves(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store to copy, whose accepted plan has batch O-6-1 in halves."""
    folder = tmp_path_factory.mktemp("halves")
    with take_in(with_a_late_batch(folder / "tables").path, folder / "shop.db", "Ann") as store:
        found = days.Day(store, folder / "shop.db").plan("08:00", accept=True, trials=3000)
    assert [p.batches for p in found.job.work.proposals] == [("O-6-1",)]
    return folder / "shop.db"


@pytest.fixture(scope="session", params=["embedded", "server"])
def first_day(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ShopPlace, str]:
    """A store of the tiny shop to copy: of which kind, where, and how its server is reached."""
    reach, place = "", tmp_path_factory.mktemp("store") / "tiny.db"
    if request.param == "server":
        reach = request.getfixturevalue("database_server")
        place = databases.new_database(reach)
    take_in(TINY_SHOP, place, "Ann").close()
    return request.param, place, reach


@pytest.fixture
def day(first_day: tuple[str, ShopPlace, str], tmp_path: Path) -> days.Day:
    kind, origin, reach = first_day
    place = days.copied(kind, origin, tmp_path, reach)
    return days.Day(Store(place), place)


@pytest.fixture(scope="session")
def planned_day(
    first_day: tuple[str, ShopPlace, str], tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, ShopPlace, str]:
    """As ``first_day``, with a plan that was accepted at 08:00."""
    kind, origin, reach = first_day
    place = days.copied(kind, origin, tmp_path_factory.mktemp("planned"), reach)
    with Store(place) as store:
        days.Day(store, place).plan("08:00", accept=True)
    return kind, place, reach


@pytest.fixture
def planned(planned_day: tuple[str, ShopPlace, str], tmp_path: Path) -> days.Day:
    kind, origin, reach = planned_day
    place = days.copied(kind, origin, tmp_path, reach)
    return days.Day(Store(place), place)
