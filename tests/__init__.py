"""The tests' own helpers, importable as `tests.…` from a process of its own too.

A package by intent, and the only one here: a published data set that the tests read installs a
top-level package of the same name, which would win over a folder without this file.
"""
