"""Sealing what an interrupted recording left."""

from dataclasses import dataclass

from bridge.errors import DiskTrouble, RequestError, WireTooNew
from bridge.logbook import Logbook
from bridge.sealing.seal import Sealed, seal_capture


@dataclass(frozen=True)
class Left:
    """A recording that could not be sealed now; it stays to be recovered."""

    session: int
    because: str

    def in_words(self) -> str:
        """Return it in one sentence."""
        return (
            f"session {self.session}, which an interrupted recording left, could not be sealed ({self.because});"
            " its bytes are kept, and 'sootline recover' tries again"
        )


@dataclass(frozen=True)
class Recovered:
    """What became of the recordings whose recorder is gone."""

    sealed: tuple[Sealed, ...] = ()
    left: tuple[Left, ...] = ()


def recover(logbook: Logbook) -> Recovered:
    """Seal the recordings whose recorder is gone, and leave alone those that go on.

    A capture that cannot be read is marked as interrupted with the reason and its bytes are kept; one whose
    samples the disk would not take stays as it is, for a later time. Neither keeps the others from being sealed.

    Args:
        logbook: open to write.

    Returns:
        What was sealed, and what was left with the reason.
    """
    sealed: list[Sealed] = []
    left: list[Left] = []
    for session in logbook.unfinished():
        try:
            with logbook.left_behind(session) as is_left:
                if is_left:
                    sealed.append(seal_capture(logbook, session))
        except (RequestError, WireTooNew):
            continue  # seal_capture has written the reason into the session
        except (DiskTrouble, OSError) as error:  # the latter from the lock's own file
            left.append(Left(session, str(error)))
    return Recovered(tuple(sealed), tuple(left))
