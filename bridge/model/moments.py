"""What may be a moment of a session, and how long a session may be."""

from datetime import datetime

FIRST_YEAR, LAST_YEAR = 1970, 2200
"""Years of a session: none was logged before, and calendars end not far beyond a zone's width of 1 and 9999."""
LONGEST_S = 366 * 86_400.0
"""A session that is longer has a row with a wrong time [s]."""
LONGEST = "366 days"


def has_sensible_year(moment: datetime) -> bool:
    """Return whether a moment, in its own zone, may be one of a session."""
    return FIRST_YEAR <= moment.year <= LAST_YEAR
