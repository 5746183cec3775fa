"""A logbook of invented sessions for the dashboard's tests."""

import pytest

from tests.dashboard.invented import fill


@pytest.fixture
def logbook_folder(tmp_path):
    """Return the folder of a logbook with two sessions of an invented twin."""
    return fill(tmp_path / "logbook")
