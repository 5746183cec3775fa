"""The two methods over a season."""

from bridge.agreement.season.filters import Filters, cut_after
from bridge.agreement.season.gather import About, Gathered, SeasonPair, kept_pairs
from bridge.agreement.season.points import Absolute, Point
from bridge.agreement.season.result import Season, season
from bridge.agreement.season.statement import season_statement

__all__ = [
    "About",
    "Absolute",
    "Filters",
    "Gathered",
    "Point",
    "Season",
    "SeasonPair",
    "cut_after",
    "kept_pairs",
    "season",
    "season_statement",
]
