"""Starting and stopping the recorder, which is a process of its own and outlives this one; and marks by hand.

The recorder is the command line's own ``record``. It is stopped by a signal to the process that holds the
session's lock, and by nothing else.
"""

import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from bridge.errors import BadValue, NotCarriedThrough, PortNotUsable
from bridge.link import list_ports
from bridge.logbook import Logbook
from bridge.logbook.files import raw

BEGIN_S = 15.0
"""The recorder has so long to begin, or to say why it cannot [s]."""
_LONGEST = 200
"""Of a typed word [characters]."""
_HAND_MARKS = ("mark", "lap", "chop")

_starting = threading.Lock()


def recordings(folder: Path) -> list[dict[str, Any]]:
    """Return the sessions that a recorder holds just now, the newest first."""
    with Logbook.open(folder, write=False) as logbook:
        going = [number for number in logbook.unfinished() if logbook.recorder(number) is not None]
        found = [logbook.session(number) for number in going]
    return [
        {
            "session": s.id,
            "port": s.source,
            "bike": s.bike,
            "place": s.place,
            "started": s.started.timestamp(),
        }
        for s in sorted(found, key=lambda session: session.id, reverse=True)
    ]


def desk(folder: Path) -> dict[str, Any]:
    """Return what there is to choose from: ports, bikes, the last place, and what is being recorded."""
    with Logbook.open(folder, write=False) as logbook:
        bikes = [bike.name for bike, _ in logbook.bikes()]
        sessions = logbook.sessions()
    last = sessions[-1] if sessions else None
    return {
        "recordings": recordings(folder),
        "ports": [{"device": port.device, "description": port.description} for port in list_ports()],
        "bikes": bikes,
        "bike": (last.bike if last else None) or (bikes[0] if len(bikes) == 1 else None),
        "place": last.place if last else None,
    }


def start(folder: Path, port: str, bike: str | None, place: str | None, *, any_port: bool = True) -> int:
    """Start a recorder.

    Args:
        folder: the logbook.
        port: device path or URL.
        bike: its name, or None.
        place: where, or None.
        any_port: whether the port may be any that this machine can open, or only one of its list.

    Returns:
        The number of the new session.

    Raises:
        BadValue: there is no port named, it may not be named from there, or it is being recorded already.
        PortNotUsable: the recorder ended at once; its own sentence.
        NotCarriedThrough: it has not begun in time.
    """
    port, bike, place = _word(port), _word(bike), _word(place)
    if not port:
        raise BadValue("no port was named; choose one of the list, or type its name")
    if not any_port and port not in {info.device for info in list_ports()}:
        raise BadValue(
            "from another device only a port of the list can be chosen; name any other one on the machine itself"
        )
    with _starting:  # two taps, or two people, are one start
        for going in recordings(folder):
            if _same_port(going["port"], port):
                raise BadValue(f"port {port} is being recorded already, as session {going['session']}")
        return _spawn(folder, port, bike, place)


def stop(folder: Path, session: int) -> None:
    """Ask the recorder of a session to stop; it seals the session and ends.

    Raises:
        UnknownThing: there is no such session.
        BadValue: no process holds its lock, so there is nothing to stop.
    """
    with Logbook.open(folder, write=False) as logbook:
        logbook.session(session)
        pid = logbook.recorder(session)
    if pid is None:
        raise BadValue(f"session {session} is not being recorded any more, so there is nothing to stop")
    os.kill(pid, signal.SIGTERM)


def mark(folder: Path, session: int, what: str, utc: float) -> None:
    """Mark a moment by hand.

    Args:
        folder: the logbook.
        session: its number.
        what: mark, lap or chop.
        utc: when, since 1970 [s].

    Raises:
        UnknownThing: there is no such session.
        BadValue: another word, or a moment outside the session.
    """
    if what not in _HAND_MARKS:
        raise BadValue(f"'{what[:20]}' is no mark; use one of {', '.join(_HAND_MARKS)}")
    with Logbook.open(folder, write=True) as logbook:
        began = logbook.session(session).started
        # the first line may have come a moment before the row was written
        t_s = max(0.0, (datetime.fromtimestamp(utc, UTC) - began).total_seconds())
        logbook.add_mark(session, t_s, what)


def _spawn(folder: Path, port: str, bike: str, place: str) -> int:
    words = ["--logbook", str(folder), "record", f"--port={port}"]
    words += [f"--bike={bike}"] if bike else []
    words += [f"--place={place}"] if place else []
    log = _log_file(folder)
    with log.open("wb") as output:
        process = subprocess.Popen(  # noqa: S603  # our own program; each word is one argument, no shell
            [sys.executable, "-m", "bridge", *words],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=output,
            start_new_session=True,  # so that what ends the dashboard does not end the recording
        )
    # somebody has to take note of its end, or its number is never free again
    threading.Thread(target=process.wait, name="recorder", daemon=True).start()
    until = time.monotonic() + BEGIN_S
    while time.monotonic() < until:
        with Logbook.open(folder, write=False) as logbook:
            for number in logbook.unfinished():
                begun = logbook.recorder(number) == process.pid and raw(folder, number).exists()
                if begun:
                    return number
        if process.poll() is not None:
            raise PortNotUsable(_last_words(log))
        time.sleep(0.05)
    raise NotCarriedThrough(f"the recorder has not begun after {BEGIN_S:.0f} s; what it says stands in {log}")


def _log_file(folder: Path) -> Path:
    """Return where a recorder's words go; one file a recorder."""
    now = datetime.now(UTC)
    path = folder / "logs" / f"record-{now:%Y%m%dT%H%M%S}-{now.microsecond:06d}.log"
    path.parent.mkdir(exist_ok=True)
    return path


def _last_words(log: Path) -> str:
    """Return the sentence with which a recorder ended."""
    lines = [line.strip() for line in log.read_text(errors="replace").splitlines() if line.strip()]
    said = [line.removeprefix("sootline: ") for line in lines if line.startswith("sootline: ")]
    return (said or lines or [f"the recorder ended at once and said nothing; see {log}"])[-1]


def _word(text: str | None) -> str:
    word = (text or "").strip()
    if len(word) > _LONGEST or not word.isprintable():
        raise BadValue(f"'{word[:20]}...' is too long or holds characters that cannot be printed")
    return word


def _same_port(one: str, other: str) -> bool:
    if "://" in one or "://" in other:
        return one == other
    return Path(one).resolve() == Path(other).resolve()
