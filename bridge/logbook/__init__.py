"""All SQL, and where each file lies.

A logbook is a folder::

    logbook.sqlite     the tables
    captures/          NNNN.capture as recorded, or the file that was imported, each untouched
    samples/           NNNN.parquet, made from those and always makeable again
"""

from bridge.logbook.book import Logbook
from bridge.logbook.store.tray import TrayRow

__all__ = ["Logbook", "TrayRow"]
