"""The dashboard: pages on a logbook, for this machine."""
