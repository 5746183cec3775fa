"""``ports``, ``emulate``, ``record`` and ``recover``: from the wire to a sealed session."""

import argparse
import sys
from typing import TYPE_CHECKING, Any

from bridge.cli.context import logbook_folder, writing
from bridge.cli.output import answer, table, wrap
from bridge.cli.parser import Parser, command, positive
from bridge.errors import BadValue, DiskTrouble, NotCarriedThrough

if TYPE_CHECKING:
    import threading

    from bridge.sealing import Sealed

RIDING = (
    "Do not watch a screen while riding. Run engines in the open or with the exhaust led outside:"
    " the gas kills unnoticed."
)


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    command(commands, "ports", ports, "list the serial ports of this machine")
    one = command(
        commands,
        "emulate",
        emulate,
        "a virtual bike and logger on a port of its own, whose name is the first line printed",
        with_json=False,
    )
    one.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same ride")
    one.add_argument("--rate", type=positive, default=50.0, metavar="HZ", help="lines a second (50)")
    one.add_argument("--seconds", type=positive, metavar="S", help="stop by itself after so long")
    one = command(commands, "record", record, "record one session from a port, then seal it. " + RIDING)
    one.add_argument("--port", required=True, metavar="DEV", help="device path, or socket://host:port")
    one.add_argument("--baud", type=int, default=115_200, metavar="N")
    one.add_argument("--seconds", type=positive, metavar="S", help="stop by itself after so long")
    one.add_argument("--bike", metavar="NAME")
    one.add_argument("--place", metavar="TEXT")
    command(commands, "recover", recover, "seal what an interrupted recording left")


def ports(args: argparse.Namespace) -> int:
    """List the serial ports."""
    from dataclasses import asdict  # noqa: PLC0415  # start-up

    from bridge.link import list_ports  # noqa: PLC0415  # start-up

    found = list_ports()
    rows = [(p.device, p.serial_number, p.description) for p in found]
    answer(
        args,
        {"ports": [asdict(p) for p in found]},
        table(("device", "serial number", "description"), rows)
        if found
        else wrap("No serial port was found: plug the logger in, or try 'sootline emulate'."),
    )
    return 0


def emulate(args: argparse.Namespace) -> int:
    """Run the virtual logger until it is stopped."""
    from bridge.emulator import run  # noqa: PLC0415  # start-up

    if not 1 <= args.rate <= 1000:
        raise BadValue(f"a rate of {args.rate:g} lines a second is outside the 1 to 1000 of a logger")

    def announce(device: str) -> None:
        print(device, flush=True)

    try:
        run(seed=args.seed, rate_hz=args.rate, seconds=args.seconds, announce=announce)
    except KeyboardInterrupt:
        return 0
    return 0


def record(args: argparse.Namespace) -> int:
    """Record one session and seal it."""
    from bridge.link import PortFinder, check_room, open_port  # noqa: PLC0415  # start-up
    from bridge.sealing import record_session  # noqa: PLC0415  # start-up

    stop = _stop_on_signals()
    little_room = check_room(logbook_folder(args), args.baud)
    finder = PortFinder(args.port, args.baud)
    with open_port(args.port, args.baud) as port, writing(args) as logbook:
        say = _Teller(silent=args.json)
        if little_room is not None:
            say(little_room)
        say(f"recording from {args.port}; stop with Ctrl-C. {RIDING}")
        done = record_session(
            logbook,
            port,
            source=args.port,
            finder=finder,
            seconds=args.seconds,
            on_note=lambda _, words: say(words),
            bike=args.bike,
            place=args.place,
            stop=stop.is_set,
        )
    answer(args, _document(done.sealed), [*_lines(done.sealed), *_next(done.sealed, args.bike)])
    if done.trouble is not None:
        raise done.trouble
    if not done.sealed.bytes:
        raise NotCarriedThrough(
            f"nothing came from {args.port}, so session {done.sealed.session} is kept without a sample; look at the"
            " cable, the port's name and the logger's power",
        )
    return 0


def _stop_on_signals() -> "threading.Event":
    import signal  # noqa: PLC0415  # start-up
    import threading  # noqa: PLC0415  # start-up

    stop = threading.Event()
    signal.signal(signal.SIGINT, lambda *_: stop.set())
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    # a terminal that is closed ends the recording in good order, unless it was started so as to outlive that
    if sys.platform != "win32" and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        signal.signal(signal.SIGHUP, lambda *_: stop.set())
    return stop


class _Teller:
    """Says things on standard error from a thread of its own: a terminal that stands still holds nothing up."""

    def __init__(self, *, silent: bool) -> None:
        import queue  # noqa: PLC0415  # start-up
        import threading  # noqa: PLC0415  # start-up

        self._silent = silent
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._say_all, name="telling", daemon=True).start()

    def __call__(self, words: str) -> None:
        """Say it, soon."""
        if not self._silent:
            self._words.put(words)

    def _say_all(self) -> None:
        while True:
            try:
                print(f"sootline: {self._words.get()}", file=sys.stderr, flush=True)
            except OSError:  # nobody listens any more, and the recording goes on all the same
                return


def _document(sealed: "Sealed") -> dict[str, Any]:
    return {
        "session": sealed.session,
        "seconds": sealed.seconds,
        "bytes": sealed.bytes,
        **sealed.counts,
        "samples": sealed.samples,
        "marks": sealed.marks,
        "notes": list(sealed.notes),
    }


def _lines(sealed: "Sealed") -> list[str]:
    return [
        (
            f"session {sealed.session}: {sealed.samples} samples over {sealed.seconds:.1f} s,"
            f" {sealed.bytes} bytes, {sealed.marks} marks"
        ),
        ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in sealed.counts.items()),
        *(line for note in sealed.notes for line in wrap(note, "  ")),
    ]


def _next(sealed: "Sealed", bike: str | None) -> list[str]:
    if not sealed.samples:
        return []
    number = sealed.session
    no_bike = f"No bike was named; say which it was by 'sootline bike rode NAME --session {number}', before any plug."
    steps = (
        f"Next, all for session {number}: 'sootline setup set', 'plug fit' the plugs that were in, 'plug pull', 'plug"
        f" read', then 'sootline compare {number}'."
    )
    return [line for text in (*(() if bike else (no_bike,)), steps) for line in wrap(text)]


def recover(args: argparse.Namespace) -> int:
    """Seal what interrupted recordings left."""
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up
    from bridge.sealing import recover as seal_what_is_left  # noqa: PLC0415  # start-up

    with Logbook.open(logbook_folder(args), write=True) as logbook:
        found = seal_what_is_left(logbook)
    left = [one.in_words() for one in found.left]
    lines = [line for sealed in found.sealed for line in _lines(sealed)]
    if not lines and not left:
        lines = ["nothing was left unsealed"]
    answer(args, {"recovered": [_document(s) for s in found.sealed], "left": left}, lines)
    if left:
        raise DiskTrouble("; ".join(left))
    return 0
