"""Labels of plugs as they are typed on the command line."""

import argparse


def label(text: str) -> str:
    """Read a plug's label: what a shell or a phone's keyboard adds around it is no part of it."""
    stripped = text.strip()
    if not stripped:
        raise argparse.ArgumentTypeError("the label is empty; write at least one character to see")
    return stripped
