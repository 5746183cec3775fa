"""A logbook of invented sessions for the dashboard's tests."""

import importlib

import pytest

from dashboard.data import Source
from tests.dashboard.dyno_logbook import fill_days
from tests.dashboard.invented import fill, geometry_alone


@pytest.fixture(autouse=True)
def quick_delay(monkeypatch):
    """Take the delay from the pipe's geometry, without the search that other tests are about."""
    monkeypatch.setattr(importlib.import_module("bridge.bands.running"), "session_delay", geometry_alone)


@pytest.fixture
def logbook_folder(tmp_path):
    """Return the folder of a logbook with two sessions of an invented twin."""
    return fill(tmp_path / "logbook")


@pytest.fixture(scope="session")
def days(tmp_path_factory):
    """Return the folder of a logbook of dynamometer days; no test writes into it."""
    return fill_days(tmp_path_factory.mktemp("dyno") / "logbook")


@pytest.fixture(scope="session")
def source(days):
    """Return the pages' source on it; what one test had worked out is there for the next."""
    return Source(days)
