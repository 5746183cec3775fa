"""Pulls: full-throttle runs through the revs, read for mixture and for power."""

from bridge.pulls.evaluate import pulls_of
from bridge.pulls.result import Hold, Pull, Pulls

__all__ = ["Hold", "Pull", "Pulls", "pulls_of"]
