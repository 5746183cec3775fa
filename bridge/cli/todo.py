"""``todo``: what is to be done after a session, what was promised of it, and what came."""

import argparse
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, finite, group, session_number, whole

if TYPE_CHECKING:
    from bridge.agreement.promises import Came
    from bridge.model import Task


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    todo = group(commands, "todo", "what to do next: tests and changes, and what was promised of them")
    one = command(todo, "add", add_task, "write down what to do after a session, before the next run")
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument("what", metavar="TEXT", help="what to do, such as 'main jet 155 to 158'")
    one.add_argument("--cylinder", type=whole, metavar="N", help="whose; where left out, the whole engine")
    one.add_argument("--because", metavar="TEXT", help="why")
    one.add_argument(
        "--promise",
        type=finite,
        metavar="X",
        help="by how much lambda at full throttle should change; -0.02 is richer by 0.02",
    )
    one = command(todo, "done", done, "tick something off, with what was found")
    one.add_argument("task", type=whole, metavar="N", help="its number in the list")
    one.add_argument("--note", metavar="TEXT", help="what was found")
    one = command(todo, "list", show, "what is to be done, and what came of what was promised")
    one.add_argument("--bike", metavar="NAME", help="one bike alone")
    one.add_argument("--session", type=session_number, metavar="S", help="what came from this session alone")


def add_task(args: argparse.Namespace) -> int:
    """Write something down; with a plan to go leaner stands what goes before it."""
    from bridge.agreement.leaner import cautions_of_promise  # noqa: PLC0415  # start-up

    with writing(args) as logbook:
        caution = cautions_of_promise(logbook, args.session, args.cylinder, args.promise)
        task = logbook.add_task(
            args.session, args.what, cylinder=args.cylinder, because=args.because, promise=args.promise
        )
    cautions = [caution] if caution else []
    said = [line for text in cautions for line in wrap(f"Caution: {text}")]
    answer(args, {"task": asdict(task), "cautions": cautions}, [*_lines(task), *said])
    return 0


def done(args: argparse.Namespace) -> int:
    """Tick something off."""
    with writing(args) as logbook:
        task = logbook.finish_task(args.task, args.note)
    answer(args, {"task": asdict(task)}, _lines(task))
    return 0


def show(args: argparse.Namespace) -> int:
    """List what is to be done, and what came of what was promised."""
    from bridge.agreement.kept_promises import kept_promises  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        tasks = logbook.tasks(session=args.session, bike=args.bike)
        found = kept_promises(logbook, tasks)
    by_task = {one.task.id: one for one in found}
    document = {"tasks": [asdict(task) for task in tasks], "promises": [one.to_json() for one in found]}
    answer(args, document, _list(tasks, by_task))
    return 0


def _list(tasks: "Sequence[Task]", came: "dict[int, Came]") -> list[str]:
    if not tasks:
        return ["nothing is to be done"]
    lines: list[str] = []
    for task in sorted(tasks, key=lambda one: (one.done is not None, one.id)):
        lines += _lines(task)
        if task.id in came:
            lines += [f"    {line}" for line in wrap(came[task.id].says)]
    return lines


def _lines(task: "Task") -> list[str]:
    whose = "" if task.cylinder is None else f", cylinder {task.cylinder}"
    promise = "" if task.promise is None else f" Promised: {task.promise:+.3f} lambda at full throttle."
    state = "to do" if task.done is None else f"done {task.done:%Y-%m-%d}"
    why = f" Because: {task.because.rstrip('.')}." if task.because else ""
    note = f" Found: {task.note.rstrip('.')}." if task.note else ""
    return wrap(
        f"{task.id} ({state}; session {task.session}{whose}): {task.what.rstrip('.')}.{why}{promise}{note}"
    )
