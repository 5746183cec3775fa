"""The names that callbacks meet on; each stands here once."""

# the shell
LOCATION = "location"
CONTENT = "content"
SCHEME = "scheme"
SCHEME_BUTTON = "scheme-button"
PROVIDER = "provider"

# the list of sessions
LEDGER_VERDICTS = "ledger-verdicts"
LEDGER_TICK = "ledger-tick"

# the session page
SESSION = "session"
TRACES = "traces"
WINDOW = "window"
EARLIER, LATER, CLOSER, WIDER, WHOLE = (
    "window-earlier",
    "window-later",
    "window-closer",
    "window-wider",
    "window-whole",
)

# the plug tray
TRAY = "tray"
CHOSEN = "chosen-cylinder"
PANEL = "panel"
PLUG = "plug-of-form"
DEPTH_FIELDS = "depth-fields"
MESSAGE = "panel-message"
TRAY_MESSAGE = "tray-message"
NOSE_PREVIEW = "nose-preview"
SLOT = "slot"
FIT = "fit-button"
PULL = "pull-button"
PULL_ALL = "pull-all-button"
ORDER_LOST = "order-lost"
WHOLE_TRAY = "whole-tray"
READ = "read-button"
FIELD = "field"
FIT_FIELD = "fit-field"
DEPTH_DOWN, DEPTH_UP = "depth-down", "depth-up"

# sensor and exhaust gas
KNOWN = "known-of-sensors"
EVENT, EVENT_WHAT, EVENT_MESSAGE, EVENT_FIELDS = "event-button", "event-what", "event-message", "event-fields"
GAS, GAS_MESSAGE = "gas-button", "gas-message"
EVENT_FIELD, GAS_FIELD = "event-field", "gas-field"


def slot(cylinder: int) -> dict[str, str | int]:
    """Return the id of a cylinder's place in the tray."""
    return {"type": SLOT, "cylinder": cylinder}


def field(name: str) -> dict[str, str]:
    """Return the id of a field of the reading form."""
    return {"type": FIELD, "name": name}


def fit_field(name: str) -> dict[str, str]:
    """Return the id of a field of the fitting form."""
    return {"type": FIT_FIELD, "name": name}


def event_field(name: str) -> dict[str, str]:
    """Return the id of a field of the sensor's form."""
    return {"type": EVENT_FIELD, "name": name}


def gas_field(name: str) -> dict[str, str]:
    """Return the id of a field of the exhaust-gas form."""
    return {"type": GAS_FIELD, "name": name}
