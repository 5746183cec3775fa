"""Frame or result to figure; dash is not known here."""
