"""The names that callbacks meet on; each stands here once."""

# the shell
LOCATION = "location"
CONTENT = "content"
SCHEME = "scheme"
SCHEME_BUTTON = "scheme-button"
PROVIDER = "provider"

# the list of sessions
LEDGER_VERDICTS = "ledger-verdicts"

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
MESSAGE = "panel-message"
TRAY_MESSAGE = "tray-message"
SLOT = "slot"
FIT = "fit-button"
PULL = "pull-button"
PULL_ALL = "pull-all-button"
ORDER_LOST = "order-lost"
WHOLE_TRAY = "whole-tray"
FIT_FIELD = "fit-field"
TRAY_SAVED = "tray-saved"
AMENDS = "amends"
AMEND, AMEND_FIELD = "amend", "amend-field"

# a plug's own page, the box, the labels
LABEL = "label-of-plug"
STORY, STORY_SAVED, STORY_MESSAGE = "plug-story", "story-saved", "story-message"
TELLING = "plug-telling"
CLEAN, SCRAP, KEEP, LIFE_NOTE = "clean-button", "scrap-button", "keep-button", "life-note"
JUDGED, JUDGED_SESSION, TRAY_JUDGED = "judged", "judged-session", "tray-judged"
SCALE, SCALE_BIKE = "ring-scale", "bike-of-scale"
BOX, NEW_PLUGS, NEW_LABELS, BOX_MESSAGE = "box", "new-plugs-button", "new-labels", "box-message"
SHEET, WHICH_LABELS, LABELS_HOST = "label-sheet", "which-labels", "labels-host"

# a bike's season
SEASON, SEASON_BODY, SEASON_FILTERS, SEASON_FILTER, SEASON_SHOWN = (
    "season",
    "season-body",
    "season-filters",
    "season-filter",
    "season-shown",
)

# pulls
PULLS, PULLS_BODY, PULL_FIGURE, PULL_CHOSEN = "pulls", "pulls-body", "pull-figure", "pull-chosen"
PULLS_CORRECT, PULLS_TARGET, PULL_KEPT = "pulls-correct", "pulls-target", "pull-kept"
PULLS_BIKE, PULLS_CHOICE, PULLS_BEFORE, PULLS_AFTER, PULLS_GAIN = (
    "pulls-bike",
    "pulls-choice",
    "pulls-before",
    "pulls-after",
    "pulls-gain",
)
BEST_OF, BEST_RPM, BEST_BODY = "best-of", "best-rpm", "best-body"

# the to-do
TASKS, TASKS_OF, TASK_ADD, TASK_MESSAGE = "tasks", "tasks-of", "task-button", "task-message"
TASK_FIELD, TASK_DONE, TASK_TEST, TASK_TEST_WORDS = "task-field", "task-done", "task-test", "task-test-words"

# sensor and exhaust gas
KNOWN = "known-of-sensors"
EVENT, EVENT_MESSAGE, EVENT_FIELDS = "event-button", "event-message", "event-fields"
GAS, GAS_MESSAGE = "gas-button", "gas-message"
EVENT_FIELD, GAS_FIELD = "event-field", "gas-field"


def slot(cylinder: int) -> dict[str, str | int]:
    """Return the id of a cylinder's place in the tray."""
    return {"type": SLOT, "cylinder": cylinder}


def amend(what: str) -> dict[str, str]:
    """Return the id of a button that tells what happened to the tray."""
    return {"type": AMEND, "what": what}


def amend_field(what: str, name: str) -> dict[str, str]:
    """Return the id of a field beside such a button."""
    return {"type": AMEND_FIELD, "what": what, "name": name}


def fit_field(name: str) -> dict[str, str]:
    """Return the id of a field of the fitting form."""
    return {"type": FIT_FIELD, "name": name}


def task_field(name: str) -> dict[str, str]:
    """Return the id of a field of the to-do's form."""
    return {"type": TASK_FIELD, "name": name}


def event_field(name: str) -> dict[str, str]:
    """Return the id of a field of the sensor's form."""
    return {"type": EVENT_FIELD, "name": name}


def gas_field(name: str) -> dict[str, str]:
    """Return the id of a field of the exhaust-gas form."""
    return {"type": GAS_FIELD, "name": name}
