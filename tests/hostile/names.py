"""Names that try to be more than names."""

from unicodedata import category

#: By what they try, then by what they are.  One object of the scene bears each.
FAMILIES: dict[str, dict[str, str]] = {
    "markup": {
        "image": "<img src=x onerror=alert(1)>",
        "script": "</script></title></svg><script>alert(1)</script>",
        "attribute": '" onload="alert(1)" x=\'',
        "cdata": "A]]>B<![CDATA[<b>]]>",
        "comment": "A--><!--B",
        "entity": "&amp;&lt;&#27;[31m&nosuch;",
    },
    "terminal escapes": {
        "colour": "A\x1b[31mRED\x1b[0m",
        "title": "A\x1b]0;owned\x07B",
        "link": "A\x1b]8;;http://x.invalid\x1b\\CLICK\x1b]8;;\x1b\\",
        "cursor": "A\x1b[2J\x1b[1;1HB",
        "answerback": "A\x1b[c\x1b[6n\x1bP$q\x1b\\B",
        "c1": "A\x9b31mRED\x9d0;t\x9cB",
    },
    "control characters": {
        "bells": "A\x07B\x08\x08\x7fC",
        "nul": "A\x00B",
        "feeds": "A\x0bB\x0cC\x1cD\x85E",
    },
    "newlines": {
        "calendar": "ONE\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:TWO",
        "message": "ONE\nOBJECT_ID = 2020-001A\nMETA_STOP",
        "separators": "ONE\u2028TWO\u2029THREE",
        "return": "ONE\rTWO",
    },
    "length": {
        "one word": "LONG" + "x" * 9_996,
        "words": "word " * 2_000,
        "wide": "衛星" * 5_000,
        "stacked": "Z" + "\u0301" * 300 + "A",
    },
    "direction": {
        "override": "\u202eTHGIL\u202c \u2066isolated\u2069",
        "marks": "A\u200fB\u061cC\u200eD",
        "joiners": "A\u200bB\ufeffC\u2060D\u00adE",
        "script": "תחנה محطة",
    },
    "formulas": {
        "command": "=cmd|' /C calc'!A0",
        "plus": "+1+1",
        "minus": "-2+3",
        "at": "@SUM(1)",
        "tab": "\t=1+1",
        "full width": "＝1+1",
        "after a semicolon": "A;=1+1",
        "quotes": 'A","=1+1","B',
    },
    "mathematics": {
        "fraction": r"$\frac{1}{0}$ \alpha",
        "one dollar": "$ 5",
        "broken": r"$\nosuch{$",
        "escaped": r"\$\$",
    },
    "templates": {
        "braces": "{subject} {{7*7}} {% raw %} {0}",
        "shell": "$(id) `id` ${HOME} ; rm -rf / | &",
        "percent": "%s %(name)s %n",
    },
    "paths": {
        "upwards": "../../etc/passwd",
        "absolute": "/etc/passwd",
        "drive": "C:\\..\\CON",
        "option": "--help",
    },
    "bad Unicode": {
        "lone surrogate": "A\ud800B",
        "no character": "A\ufffeB\U0010ffffC",
        "private": "A\ue000B",
    },
    "look-alikes of values": {
        "null": "null",
        "number": "1e999",
        "not a number": "NaN",
    },
    "nothing": {"empty": "", "spaces": "   "},
}

#: Every name by ``family: which``.
NAMES = {
    f"{family}: {which}": name
    for family, names in FAMILIES.items()
    for which, name in names.items()
}

#: Two of each kind: what a quick trial sends through the whole program.
FEW = {
    f"{family}: {which}": names[which]
    for family, names in FAMILIES.items()
    for which in list(names)[:2]
}

#: The only characters that may stand in text for people beside printable ones.
_BREAK = "\n"


def core(text: str) -> str:
    """What of a text is seen: no white space, nothing that was or must be replaced."""
    return "".join(c for c in text if c.isprintable() and c not in " \ufffd")


def harm(text: str, *, allowed: str = _BREAK) -> str:
    """The first character that could steer a terminal or turn a line; "" if none."""
    for place, character in enumerate(text):
        if character in allowed:
            continue
        if category(character) in ("Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp"):
            around = text[max(place - 20, 0) : place + 20]
            return f"U+{ord(character):04X} in {around!r}"
    return ""


def stacked(text: str, most: int = 8) -> str:
    """A run of more marks on one letter than any script writes; "" if there is none."""
    run = 0
    for character in text:
        run = run + 1 if category(character) in ("Mn", "Me") else 0
        if run > most:
            return f"over {most} marks on one letter"
    return ""
