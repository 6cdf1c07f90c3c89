"""Markdown pages as the tests read them: files to write, commands to type."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

#: The chapter of DEVELOPERS.md that makes six plugins.
TUTORIAL = "Tutorial: plugins of your own, from an empty folder"

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_FILE = re.compile(r"(?:^|(?P<add>\bAdd to ))`(?P<name>[^`\s]+)`:\n\n\Z", re.MULTILINE)


@dataclass(frozen=True)
class Block:
    """One fenced block; ``name`` is the file it is, or adds to, if it is one."""

    kind: str
    code: str
    name: str = ""
    adds: bool = False

    def typed(self) -> Iterator[tuple[str, str]]:
        """Each command of a console block and what is shown below it."""
        for part in re.split(r"^\$ ", self.code, flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            yield command, output


def blocks(text: str) -> Iterator[Block]:
    """The fenced blocks of a page in order; a file's name stands before its block."""
    for fence in _FENCE.finditer(text):
        named = _FILE.search(text[: fence.start()])
        name, adds = (named["name"], bool(named["add"])) if named else ("", False)
        yield Block(kind=fence[1], code=fence[2], name=name, adds=adds)


def chapter(text: str, heading: str) -> str:
    """What stands below a second-level heading, up to the next."""
    (found,) = re.findall(
        rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL
    )
    return str(found)


def shows(output: str, shown: str) -> bool:
    """Whether a page's text is the output; ``…`` stands for what differs in a line."""
    pattern = re.escape(shown).replace("…", "[^\n]*")
    return re.fullmatch(pattern, output) is not None
