"""From the pieces that a reader meets to whole messages."""

from __future__ import annotations

from datetime import datetime, timedelta

from passes.ephemeris.message import Block, Message, instant
from passes.errors import EphemerisError

#: So many remarks of a message are kept, each so long.
MOST_COMMENTS, LONGEST_COMMENT = 100, 200


class Gathered:
    """What has been read so far of one text; readers of both forms fill it.

    Raises EphemerisError for whatever is wrong: an ephemeris with a gap that nobody
    planned would be believed where it should not.
    """

    def __init__(self, where: str, max_states: int) -> None:
        self.where, self._left, self._most = where, max_states, max_states
        self.messages: list[Message] = []
        self._open = False
        self._header: dict[str, str] = {}
        self._blocks: list[Block] = []
        self._comments: list[str] = []
        self._in_meta = False
        self._skipping = False
        self._others: list[str] = []

    def begin(self, where: str, kind: str) -> None:
        """A message of some kind begins."""
        self._close()
        self._skipping = kind != "OEM"
        if self._skipping:
            self._others.append(kind)
        self._open = not self._skipping
        self._header, self._blocks, self._comments = {}, [], []
        self._in_meta = False

    def segment(self, where: str) -> None:
        """The metadata of a segment begins."""
        if not self._skipping:
            self._blocks.append(Block(where))
            self._in_meta = True

    def ready(self, where: str) -> None:
        """The metadata ends; states follow."""
        self._in_meta = False

    def field(self, where: str, key: str, value: str) -> None:
        """A keyword and its value, of the header or of a segment."""
        if self._skipping:
            return
        if self._in_meta:
            self._blocks[-1].put(key, printable(value))
        elif not self._blocks:
            self._header[key] = printable(value)

    def comment(self, text: str) -> None:
        """A remark, kept for people."""
        if self._open and len(self._comments) < MOST_COMMENTS and text.strip():
            self._comments.append(printable(text)[:LONGEST_COMMENT])

    def state(self, where: str, epoch: str, values: list[str]) -> None:
        """One state of the segment that was last begun."""
        if self._skipping:
            return
        if not self._blocks or self._in_meta:
            raise EphemerisError(where, "a state outside a segment")
        self._left -= 1
        if self._left < 0:
            reason = f"more than {self._most:,} states; allow more by --max-size"
            raise EphemerisError(self.where, reason)
        self._blocks[-1].state(where, epoch, values)

    def finish(self) -> tuple[Message, ...]:
        """Every message; EphemerisError where there is none."""
        self._close()
        if not self.messages:
            kinds = ", ".join(sorted(set(self._others)))
            hint = f" ({kinds} is; give mean elements by --elements)" if kinds else ""
            raise EphemerisError(self.where, f"no orbit ephemeris is in it{hint}")
        return tuple(self.messages)

    def _close(self) -> None:
        if not self._open:
            return
        if not self._blocks:
            raise EphemerisError(self.where, "the message holds no segment")
        notes: list[str] = []
        segments = [block.segment(notes) for block in self._blocks]
        self._open = False
        self.messages.append(
            Message(
                where=self.where,
                originator=self._header.get("ORIGINATOR", ""),
                created=self._created(notes),
                segments=tuple(segments),
                comments=tuple(self._comments),
                notes=tuple(notes),
            )
        )

    def _created(self, notes: list[str]) -> datetime | None:
        """When the message was made: None, with a note, where it does not say."""
        said = self._header.get("CREATION_DATE", "")
        try:
            midnight, seconds = instant(self.where, "CREATION_DATE", said)
        except EphemerisError:
            notes.append(f"{self.where}: says not when it was made")
            return None
        return midnight + timedelta(seconds=seconds)


def printable(text: str) -> str:
    """The text with everything that could steer a terminal made visible."""
    text = text.strip()
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
