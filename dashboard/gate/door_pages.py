"""The door's own pages: plain HTML, no script, nothing from elsewhere."""

import html
import math
from pathlib import Path

from dashboard.gate.door import DoorState
from dashboard.gate.pins import PLAIN_HTTP
from dashboard.theme import css_variables

_STYLE = css_variables() + (Path(__file__).parent / "door.css").read_text(encoding="utf-8")
_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Sootline: {title}</title>
<link rel="icon" type="image/svg+xml" href="/door/icon.svg">
<style>{style}</style>
</head>
<body><main><h1>{title}</h1>
{body}
</main></body>
</html>
"""


def in_words(seconds: float) -> str:
    """Return a wait as a person says it, rounded up."""
    if seconds <= 0.0:
        return "now"
    if seconds <= 90.0:
        whole = math.ceil(seconds)
        return f"in {whole} second{'s' if whole > 1 else ''}"
    return f"in {math.ceil(seconds / 60.0)} minutes"


def _page(title: str, body: str) -> str:
    return _PAGE.format(title=title, style=_STYLE, body=body)


def _button(action: str, words: str, *, first: bool = False) -> str:
    kind = ' class="first"' if first else ""
    return f'<form method="post" action="{action}"><button{kind}>{words}</button></form>'


def entrance(wait_s: float | None = None, trouble: str | None = None) -> str:
    """Return the page that asks another device for the PIN.

    Args:
        wait_s: after a try that was not let in, how long until the next [s]; the words are the same for a wrong
            PIN and for one that was not even looked at.
        trouble: why nobody can be let in.
    """
    said = ""
    if trouble is not None:
        said = (
            '<p class="said" role="alert">Nobody can be let in now:'
            " on the laptop, make a PIN with “sootline pin”.</p>"
        )
    elif wait_s is not None:
        said = (
            '<p class="said" role="alert">Not let in: the PIN was wrong, or there were too many tries.'
            f" You can try again {in_words(wait_s)}.</p>"
        )
    return _page(
        "The dashboard is behind a PIN",
        f"""{said}
<form method="post" action="/door">
<label for="pin">PIN</label>
<input id="pin" name="pin" type="text" inputmode="numeric" pattern="[0-9]*" maxlength="32"
 autocomplete="off" required autofocus>
<button class="first">Open</button>
</form>
<p class="quiet">It stands in the terminal of the laptop that serves this page, and on that laptop’s own page
when it was made there. A new one is made with “sootline pin”.</p>
<p class="quiet">{PLAIN_HTTP}</p>""",
    )


def inside() -> str:
    """Return the page of a device that has been let in."""
    return _page(
        "This device is let in",
        '<p><a href="/">To the sessions</a></p>'
        + _button("/door/leave", "Log out")
        + '<p class="quiet">It is logged out by itself after twelve hours without use, after seven days, and when'
        " the PIN or the server is started anew.</p>",
    )


def own(state: DoorState) -> str:
    """Return this machine's own page: address as a QR code, PIN, who is in."""
    if not state.urls:
        return _page(
            "Only this machine",
            "<p>This dashboard answers this machine only. To open it on a phone in the same network, start it with"
            " <b>sootline serve --host 0.0.0.0</b>; it then stands behind a PIN.</p>"
            '<p><a href="/">To the sessions</a></p>',
        )
    blocks = "".join(f'<p class="address">{html.escape(url)}</p>{_code(url)}' for url in state.urls)
    return _page(
        "Open it on a phone",
        f"""<p>In the same network, at</p>{blocks}
<h2>PIN</h2>{_pin(state)}
{_button("/door/new", "Make a new PIN")}
<p class="quiet">A new one logs every device out and forgets the tries counted against the old one.</p>
<h2>Devices</h2>
<p>{state.sessions} let in. Since the start: wrong PINs {state.wrong}, tries turned away {state.turned_away}.</p>
{_button("/door/end", "Log every device out")}
<p class="quiet">{PLAIN_HTTP}</p>
<p><a href="/">To the sessions</a></p>""",
    )


def _pin(state: DoorState) -> str:
    if state.shown is not None:
        return (
            f'<p class="pin">{html.escape(state.shown)}</p>'
            '<p class="quiet">Only its hash is kept; this page shows it until the server stops.</p>'
        )
    if state.made_at is not None:
        when = f"{state.made_at.astimezone():%Y-%m-%d %H:%M}"
        return f"<p>Made on {when}. Only its hash is kept, so it cannot be shown again.</p>"
    return '<p class="said">There is none, or its file is damaged, so nobody is let in. Make a new one.</p>'


def _code(url: str) -> str:
    import segno  # noqa: PLC0415  # only this page draws one

    drawn = segno.make(url, error="m", micro=False).svg_inline(omitsize=True, border=4)
    return f'<div class="code" role="img" aria-label="QR code of {html.escape(url)}">{drawn}</div>'
