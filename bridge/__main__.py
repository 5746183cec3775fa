"""``python -m bridge`` is the same as ``sootline``."""

import sys

from bridge.cli import main

sys.exit(main())
