"""``ports``, ``emulate``, ``record`` and ``recover``: from the wire to a sealed session."""

import argparse
import sys
from typing import TYPE_CHECKING, Any

from bridge.cli.context import logbook_folder, writing
from bridge.cli.output import answer, table, wrap
from bridge.cli.parser import Parser, command, positive
from bridge.errors import BadValue

if TYPE_CHECKING:
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
    from bridge.link import open_port  # noqa: PLC0415  # start-up
    from bridge.sealing import record_session  # noqa: PLC0415  # start-up

    with open_port(args.port, args.baud) as port, writing(args) as logbook:
        if not args.json:
            print(f"recording from {args.port}; stop with Ctrl-C. {RIDING}", file=sys.stderr)
        stop = _stop_on_signals()
        done = record_session(
            logbook,
            port,
            source=args.port,
            seconds=args.seconds,
            bike=args.bike,
            place=args.place,
            stop=stop.is_set,
        )
    answer(args, _document(done.sealed), _lines(done.sealed))
    if done.trouble is not None:
        raise done.trouble
    return 0


def _stop_on_signals() -> Any:  # noqa: ANN401  # a threading.Event, imported late for start-up
    import signal  # noqa: PLC0415  # start-up
    import threading  # noqa: PLC0415  # start-up

    stop = threading.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        signal.signal(name, lambda *_: stop.set())
    return stop


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
        (
            f"next: 'sootline plug read LABEL --session {sealed.session} ...', then"
            f" 'sootline compare {sealed.session}'"
        ),
    ]


def recover(args: argparse.Namespace) -> int:
    """Seal what interrupted recordings left."""
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up
    from bridge.sealing import recover as seal_what_is_left  # noqa: PLC0415  # start-up

    with Logbook.open(logbook_folder(args), write=True) as logbook:
        found = seal_what_is_left(logbook)
    lines = [line for sealed in found for line in _lines(sealed)[:-1]]
    answer(args, {"recovered": [_document(s) for s in found]}, lines or ["nothing was left unsealed"])
    return 0
