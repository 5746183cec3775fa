"""Why ring and sensor differ: a table of causes, what the log and the readings say of each, and the next test."""
