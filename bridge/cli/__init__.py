"""The command line: wiring and printing only.

Each command's module says its options in ``add`` and does its work in functions that import what they need when
they run, so that ``sootline --help`` answers at once.
"""

import os
import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Args:
        argv: the words after ``sootline``; those of this process where left out.

    Returns:
        0 done; 2 the request or its input was wrong; 1 it could not be carried through.
    """
    from bridge.cli.parser import build  # noqa: PLC0415  # start-up: nothing is imported before it is needed
    from bridge.errors import SootlineError, printable  # noqa: PLC0415  # as above

    args = build().parse_args(argv)
    try:
        code: int = args.run(args)
        sys.stdout.flush()
    except SootlineError as error:
        print(f"sootline: {printable(str(error))}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        # the reader of our output went away (a pager, `head`): not an error, and nothing more can be said
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("sootline: stopped at your request", file=sys.stderr)
        return 1
    return code
