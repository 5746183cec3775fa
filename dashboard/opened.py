"""The logbook behind the pages, opened anew for each request: reading for looking, writing for what a person did."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bridge.logbook import Logbook


class Opened:
    """One logbook, for the pages of one app."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @contextmanager
    def _reading(self) -> Iterator[Logbook]:
        with Logbook.open(self.folder, write=False) as logbook:
            yield logbook

    @contextmanager
    def _writing(self) -> Iterator[Logbook]:
        with Logbook.open(self.folder, write=True) as logbook:
            yield logbook
