"""What holds for every test."""

from hypothesis import settings

# the same examples in every run, and no verdict by the clock: machines differ
settings.register_profile("sootline", deadline=None, derandomize=True)
settings.load_profile("sootline")


def pytest_collection_modifyitems(items):
    """Put the browser's tests last: while it is open its event loop runs, and no other can be started."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)
