"""One file a page: its layout and its callbacks."""
