"""How the tables came to be, one step a file in ``versions/``; applied when a logbook is opened to write."""

HEAD = "0004"
"""The version that this program reads and writes."""
