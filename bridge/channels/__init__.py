"""The channel catalogue."""

from bridge.channels.catalogue import CATALOGUE, Channel, find, label, lambda_channel

__all__ = ["CATALOGUE", "Channel", "find", "label", "lambda_channel"]
