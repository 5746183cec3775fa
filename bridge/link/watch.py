"""Who is speaking on the port: looked at beside the recording, at next to no cost.

Until the first line is accepted every line is looked at; from then on only identity lines are, found by a search
for ``>I,``. What a line is, the wire format's own framing and grammar say; the patterns here only find where one
may stand. (Measured: under 0.1 % of a core at 1000 lines a second.)
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from bridge.errors import WireTooNew
from bridge.link.notes import Kind
from bridge.wire import Identity
from bridge.wire.encode import LINE_BYTES
from bridge.wire.framing import find_frame
from bridge.wire.grammar import read_body

SILENT_S = 3.0
"""No byte for so long is worth a word [s]: a logger prints at least one line a second."""
FOREIGN_S = 10.0
"""Bytes for so long without one sound line are no wire format [s]."""
PROVE_S = 12.0
"""A logger says who it is every 10 s; a port that must be proven has so long [s]."""
_FEWEST = 16
"""Fewer bytes than these are noise at the opening, and nothing is said about them."""
_SAMPLE = 4096
_SHOWN = 48

_ANY_LINE = re.compile(rb">[^>*]{1,500}\*[0-9A-F]{8}")
_IDENTITY_LINE = re.compile(rb">I,[^>*]{1,498}\*[0-9A-F]{8}")
_LIKE_A_LINE = re.compile(rb">[ICDMS],")
_NO_TEXT = bytes(set(range(256)) - set(range(0x20, 0x7F)) - set(b"\t\r\n"))


@dataclass(frozen=True)
class Stranger:
    """What speaks on the port is not the logger that is being recorded."""

    size: int
    """How many of the last bytes are its."""
    because: str


class Watch:
    """Follows the bytes of one recording, over all openings of its port.

    Its times are those of one clock that never jumps [s].
    """

    def __init__(self, tell: Callable[[Kind, str], None], now_s: float) -> None:
        self._tell = tell
        self.identity: Identity | None = None
        """Of the logger that is recorded; None until it has said who it is."""
        self.understood = False
        """Whether a sound line ever came."""
        self.foreign: str | None = None
        """What was said when bytes had come for long, and no sound line among them."""
        self.stranger: Stranger | None = None
        """Set once it shows that what speaks through this opening is another logger."""
        self.opened(now_s)

    def opened(self, now_s: float, *, must_prove: bool = False) -> None:
        """Take note that the port was opened.

        Args:
            now_s: when.
            must_prove: whether only an identity line can show that our logger is behind it.
        """
        self.accepted = False
        """Whether a sound line has come through this opening."""
        self.proven = False
        """Whether our logger has said through this opening who it is."""
        self.stranger = None
        self._must_prove = must_prove
        self._foreign_here = False
        self._opened_s = self._last_s = now_s
        self._first_s: float | None = None
        self._silent = False
        self._bytes = 0
        self._sample = bytearray()
        self._tail = b""

    def silence_s(self, now_s: float) -> float:
        """Return for how long no byte has come [s]."""
        return now_s - self._last_s

    def feed(self, data: bytes, now_s: float) -> None:
        """Take what has come."""
        if self._first_s is None:
            self._first_s = now_s
        if self._silent:
            self._silent = False
            self._tell(Kind.HEARD, f"bytes come again, after {self.silence_s(now_s):.1f} s of silence")
        self._last_s = now_s
        begin = self._bytes - len(self._tail)
        self._bytes += len(data)
        if not self.accepted and len(self._sample) < _SAMPLE:
            self._sample += data[: _SAMPLE - len(self._sample)]
        buffer = self._tail + data
        end = 0
        for match in (_IDENTITY_LINE if self.accepted else _ANY_LINE).finditer(buffer):
            end = match.end()
            self._judge(match.group(), begin + match.start())
        self._tail = self._unfinished(buffer, end)

    def look(self, now_s: float) -> None:
        """Look at the time: whether the port is silent, or what comes through it cannot be read."""
        if not self._silent and self.silence_s(now_s) >= SILENT_S:
            self._silent = True
            self._tell(Kind.SILENT, f"nothing has come for {SILENT_S:.0f} s: is the logger on?")
        since_first = 0.0 if self._first_s is None else now_s - self._first_s
        quiet_about_it = self.accepted or self._foreign_here or self._bytes < _FEWEST
        if since_first >= FOREIGN_S and not quiet_about_it:
            self._foreign_here = True
            self.foreign = self._why_foreign()
            self._tell(Kind.FOREIGN, self.foreign)
        if now_s - self._opened_s >= PROVE_S:
            self.closed()

    def closed(self) -> None:
        """Take note that nothing more comes through this opening, or may: it counts only if it was proven."""
        if self._must_prove and not self.proven and self.stranger is None:
            self.stranger = Stranger(self._bytes, "what spoke there did not say who it is")

    def _why_foreign(self) -> str:
        """Return a sentence: the first bytes readably, and the likely reason why none of them is a line."""
        sample = bytes(self._sample)
        first = sample[:_SHOWN].decode("latin-1").encode("unicode_escape").decode()
        return (
            f"what comes is not the wire format ({self._bytes} bytes so far, which begin '{first}'):"
            f" {_likely_reason(sample)}"
        )

    def _unfinished(self, buffer: bytes, end: int) -> bytes:
        """Return the bytes at the end of a buffer that may be the beginning of a line."""
        begin = max(buffer.rfind(b">"), end)
        tail = buffer[begin:]
        if not tail.startswith(b">") or len(tail) > LINE_BYTES:
            return b""
        return tail if not self.accepted or tail.startswith(b">I,"[: len(tail)]) else b""

    def _judge(self, line: bytes, place: int) -> None:
        frame = find_frame(line[1:])
        if frame is None:
            return
        try:
            record = read_body(frame.body)
        except WireTooNew as error:
            record = None
            if not self.accepted:
                self._tell(Kind.NEWER, str(error))
            self.accepted = self.understood = True
        if record is None:
            return
        if self._foreign_here:
            self._foreign_here = False
            self._tell(Kind.HEARD, "sound lines of the wire format come now")
        self.accepted = self.understood = True
        self._sample.clear()
        if isinstance(record, Identity):
            self._identify(record, place)

    def _identify(self, said: Identity, place: int) -> None:
        ours = self.identity
        if ours is not None and (said.device, said.serial) != (ours.device, ours.serial):
            # until an opening has proven itself, all that came through it may be the stranger's
            size = self._bytes - (place if self.proven else 0)
            self.stranger = Stranger(
                size,
                f"they come from another logger ({said.device} {said.serial}, not {ours.device} {ours.serial})",
            )
            return
        if ours is not None and said.boot != ours.boot:
            self._tell(Kind.RESTARTED, f"the logger began anew (boot {said.boot})")
        self.identity, self.proven = said, True


def _likely_reason(sample: bytes) -> str:
    text = len(sample.translate(None, _NO_TEXT)) / len(sample)
    if text < 0.85:
        return "most of it is no text, so the baud rate is probably not the logger's; give that by --baud"
    if _LIKE_A_LINE.search(sample):
        return (
            "its lines look right but no checksum fits, so bytes are hurt or lost on the way (cable, ground, two"
            " devices on one line), or the logger works its checksum out in another way"
        )
    return "it is text in another format, as another kind of device prints it; look whether this is the right port"
