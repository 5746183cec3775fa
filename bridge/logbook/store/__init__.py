"""The logbook's answers, one file a subject; each public method is one transaction."""
