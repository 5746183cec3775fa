"""What holds for every test."""

from hypothesis import settings

# the same examples in every run, and no verdict by the clock: machines differ
settings.register_profile("sootline", deadline=None, derandomize=True)
settings.load_profile("sootline")
