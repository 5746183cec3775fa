"""Labels of plugs as they are typed on the command line."""

import argparse


def label(text: str) -> str:
    """Read a plug's label: what a shell or a phone's keyboard adds around it is no part of it."""
    stripped = text.strip()
    if not stripped:
        raise argparse.ArgumentTypeError("the label is empty; write at least one character to see")
    return stripped


def new_label(text: str) -> str:
    """Read the label of a plug that may be new here: one that ``A1=2`` could stand for is none."""
    stripped = label(text)
    if "=" in stripped:
        raise argparse.ArgumentTypeError(
            f"'{stripped}' holds a '=', which stands between a plug and its cylinder elsewhere; write it without"
        )
    return stripped
