"""A logbook of invented sessions for the dashboard's tests."""

import importlib

import pytest

from tests.dashboard.invented import fill, geometry_alone


@pytest.fixture(autouse=True)
def quick_delay(monkeypatch):
    """Take the delay from the pipe's geometry, without the search that other tests are about."""
    monkeypatch.setattr(importlib.import_module("bridge.bands.running"), "session_delay", geometry_alone)


@pytest.fixture
def logbook_folder(tmp_path):
    """Return the folder of a logbook with two sessions of an invented twin."""
    return fill(tmp_path / "logbook")
