"""The gate before the dashboard: who is let in, and under which name.

``gate.py`` is the ASGI class and ``asgi.py`` its plumbing; ``knock.py`` (who knocks), ``tries.py``, ``sessions.py`` and
``pins.py`` decide; ``door.py`` holds what one running server knows, ``door_pages.py`` is what people see of it, and
``addresses.py`` finds where this machine is reached.
"""

from dashboard.gate import pins
from dashboard.gate.addresses import reached_at, url_of
from dashboard.gate.door import Door
from dashboard.gate.gate import DOOR, Gate

__all__ = ["DOOR", "Door", "Gate", "pins", "reached_at", "url_of"]
