"""One reader for each foreign format, each to the same frame, and the export beside it."""

from bridge.imports.export import export_run
from bridge.imports.map import LogMap, read_map

__all__ = ["LogMap", "export_run", "read_map"]
