"""What is wrong with a line that is not TOML, in a person's words rather than the parser's."""

from __future__ import annotations

import re

from preview.errors import PreviewError
from preview.scene.written import LONGEST

QUOTE_IT = 'put it in quotes, without the inch mark: "1 1/4", "5\' 3-1/2", "12 mm"'
TYPOGRAPHIC = "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb\u2032\u2033"
"""Quotes and marks that word processors put in place of the keyboard's."""

DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
"""Hyphens, dashes and the minus sign that only look like the hyphen of the keyboard."""
UNUSUAL_SPACES = "\u00a0\u1680\u2000-\u200d\u202f\u205f\u2060\u3000\ufeff"
"""Spaces that TOML takes for none, some of no width; ranges as in a pattern."""
TEXT_OR_NOTE = r"""\"{3}(?:\\.|[^\\])*?\"{3}|'{3}.*?'{3}|"(?:\\.|[^"\\\n])*(?:"|$)|'[^'\n]*(?:'|$)|#[^\n]*"""
"""Pattern of what holds characters of any kind: text in quotes, and a note to the end of its line."""
KEY = r"""(?:[\w-]+|"[^"]*")(?:\s*\.\s*(?:[\w-]+|"[^"]*"))*"""
VALUE = r'-?\d+(?:\.\d+)?|"[-+\w][^"]*"'
"""Pattern of a number, or text in quotes."""

EXPLAINED = (
    (
        "Expected newline",
        "more follows the value than belongs to it",
        "put text, fractions and units in quotes; a note to yourself starts with #",
    ),
    (
        "Expected '='",
        "a key and its value need an equals sign between them",
        "write it as key = value, the key in one word",
    ),
    (
        "Unclosed array",
        "a comma or a closing bracket ] is missing before this",
        "put a comma between the entries of a list, and ] after the last",
    ),
    (
        "Unclosed inline table",
        "a comma or a closing brace } is missing here",
        "put a comma between keys, and } after the last, on the same line",
    ),
    ("Expected ']", "a heading is not closed", "write it as [member.base] or [[run]]"),
    (
        "Expected",
        "text is opened with a quote and not closed on its line",
        'end it with the same quote: "this"',
    ),
    (
        "Illegal character '\\n'",
        "text is opened with a quote and not closed on its line",
        'end it with the same quote: "this"',
    ),
    ("Illegal", "a mark that does not print stands here", "delete it and write the line again"),
    ("Unterminated", "text is opened with a quote and not closed", 'end it with the same quote: "this"'),
    (
        "Unescaped",
        "a backslash in text has a meaning of its own",
        "write folders with forward slashes: ../profiles/base.toml",
    ),
    (
        "Invalid initial",
        "a key should stand here",
        "keep all from { to } on one line, with no comma before the }; quote a key with odd characters",
    ),
    (
        "Cannot",
        "this key stands here a second time",
        "keep one of the two; every run has its own heading [[run]]",
    ),
    ("Duplicate", "the braces hold the same key twice", "keep one of the two"),
)
"""How the parser's message starts, what that means, and what fixes it: the first that fits."""
OLD_LINE_ENDS = (
    "the file's lines end as on very old machines, with CR alone",
    "save it again from the editor with the line ends of today, LF or CRLF",
)


def syntax_error(message: str, text: str) -> PreviewError:
    """The error for a text that the parser refused with `message`, showing the line it means."""
    if text.count("\r") - text.count("\r\n") > text.count("\n"):
        return PreviewError("", None, *OLD_LINE_ENDS)
    text = text.replace("\r\n", "\n")
    lines = text.split("\n")
    said, _, tail = message.partition(" (at ")
    found = re.search(r"line (\d+), column (\d+)", tail)
    if found:
        number, column = int(found[1]), int(found[2])
    else:  # the end of the file
        number = max((i for i, line in enumerate(lines, 1) if line.strip()), default=1)
        column = len(lines[number - 1]) + 1
    line = lines[number - 1]
    before, after = line[: column - 1], line[column - 1 :]
    problem, fix = (
        _lookalike(said, before, after)
        or _list_left_open(said, lines, number)
        or _comma_left_out(said, before, after)
        or _explained(said, before, after, at_end=not found)
    )
    return PreviewError(f"line {number}", None, f"it reads: {_around(before, after)}\n{problem}", fix)


def _around(before: str, after: str) -> str:
    """The line as it stands; of a long one what is near the place."""
    before, after = before.lstrip(" \t"), after.rstrip(" \t")
    if len(before) + len(after) > LONGEST:
        before = before if len(before) <= LONGEST // 2 else "... " + before[-LONGEST // 2 :]
        after = after if len(after) <= LONGEST // 2 else after[: LONGEST // 2] + " ..."
    return "".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}" for c in before + after)


def _lookalike(said: str, before: str, after: str) -> tuple[str, str] | None:
    """The problem and the fix where a character is not what it looks like, or one too many; else None."""
    for found in re.finditer(rf"{TEXT_OR_NOTE}|([{UNUSUAL_SPACES}])", before + after):
        if found[1]:
            problem = f"an unusual space (U+{ord(found[1]):04X}) stands at column {found.start() + 1}"
            return problem, "delete it, and type a plain space if one belongs there"
    dash = re.match(rf"([{DASHES}])\s*(\d+(?:\.\d+)?)\s*(?:[,\]}}#]|$)", after)
    if dash and said.startswith("Invalid value"):
        problem = f"{dash[1]} (U+{ord(dash[1]):04X}) stands where a plain hyphen belongs"
        return problem, f"write -{dash[2]}, with the hyphen of the keyboard"
    if not said.startswith(("Expected newline", "Unclosed")):
        return None
    if "\r" in before + after:
        return f"{OLD_LINE_ENDS[0]}, here at least", OLD_LINE_ENDS[1]
    bare = re.search(r"[=\[,]\s*([-+]?\d+(?:\.\d+)?)\s*$", before)
    if bare and re.match("[\u00b0\u00ba\u02da]", after):
        return f"a degree mark stands after {bare[1]}", f"degrees are written bare: {bare[1]}"
    inches = re.search(r'"([^"]*\d)"$', before)
    if inches and re.match(r'"\s*(?:[,\]}#]|$)', after):
        unit = "" if "'" in inches[1] else " in"
        return "an inch mark inside the quotes ends the text too early", f'leave it out: "{inches[1]}{unit}"'
    return None


def _list_left_open(said: str, lines: list[str], number: int) -> tuple[str, str] | None:
    """The same where a list is not closed before this line's heading or key, or holds a key as it is; else None."""
    heading = r"\s*(?:\[[A-Za-z_][^\],]*\]|\[\[[A-Za-z_][^\],]*\]\])\s*(?:#|$)"
    line = lines[number - 1]
    if not said.startswith(("Unclosed array", "Invalid value")):
        return None
    opened = _open_at("\n".join(lines[: number - 1]))
    if opened is None:
        return None
    if not re.match(heading, line):
        following = next((i for i in range(number, len(lines)) if re.match(heading, lines[i])), len(lines))
        if not re.match(rf"\s*{KEY}\s*=", line):
            return None
        if _open_at("\n".join(lines[:following])) != opened:  # it is closed further on
            bare = ("a key stands in a list without braces", "put each entry in braces: { straight = 60 },")
            return bare if said.startswith("Invalid value") else None
    entry = "step" if re.match(r"\s*steps\s*=", lines[opened - 1]) else "entry"
    problem = f"the list that opens on line {opened} is not closed before line {number}"
    return problem, f"put ] after its last {entry}"


def _open_at(text: str) -> int | None:
    """The line on which the innermost list opens that is open where a text ends; None where none is."""
    opened: list[int] = []
    for found in re.finditer(rf"{TEXT_OR_NOTE}|([\[\]])", text, re.DOTALL):
        if found[1] == "[":
            opened.append(found.start())
        elif found[1] and opened:
            opened.pop()
    return text.count("\n", 0, opened[-1]) + 1 if opened else None


def _comma_left_out(said: str, before: str, after: str) -> tuple[str, str] | None:
    """The same where two keys or two entries stand side by side; else None."""
    before, after = before[-LONGEST:], after[:LONGEST]
    last = re.search(r"""("[^"]*"|'[^']*'|[^\s,\[\]{}="']+)(\s*)$""", before)
    key = re.match(rf"({KEY})\s*=(?!=)", after)
    if not last:
        return None
    if said.startswith("Expected newline") and key:
        return f"two keys stand on one line, {key[1]} the second", f"put {key[1]} on a line of its own"
    entry = re.match(rf"({VALUE})(?=\s*[,\]]|\s+(?:{VALUE})(?![\d./]))", after) if last[2] else None
    if said.startswith("Unclosed inline table") and key:
        following = key[1]
    elif said.startswith("Unclosed array") and entry:
        following = entry[1]
    else:
        return None
    return (
        f"a comma is missing after {last[1]}, before {following}",
        f"put one between the two: {last[1]}, {following}",
    )


def _explained(said: str, before: str, after: str, *, at_end: bool) -> tuple[str, str]:
    """The problem and the fix, from the parser's words and the line before and after the place it means."""
    if said.startswith(("Expected newline", "Expected '='", "Unclosed")):
        if re.search(r"\d,\d+\s*$", before) or (re.search(r"\d$", before) and re.match(r",\d", after)):
            return "a number is written with a comma", "write decimals with a point: 1.5"
        number = re.search(r"[=\[,]\s*[-+]?\d[\d.]*\s*$", before)
        if number and re.match(rf"[-\d/'\"a-z{TYPOGRAPHIC}{DASHES}]", after.lstrip()):
            return "a length with a fraction, a mark or a unit stands without quotes", QUOTE_IT
    if said.startswith("Invalid value") and (not at_end or before.rstrip().endswith("=")):
        return _bad_value(after.strip())
    if at_end and said.startswith(("Unclosed", "Invalid value")):
        return (
            "the file ends inside a list or a pair of braces",
            "put ] after the last entry of the list, or } after the last key",
        )
    if said.startswith("Expected ']") and "]" in after:
        return (
            "a name in this heading has a blank or a mark in it",
            'put the name in quotes: [finish."warm white"]',
        )
    if said.startswith("Cannot") and before.lstrip().startswith("["):
        double = re.match(r"\s*\[\[\s*([^\]]+?)\s*\]\]", before + after)
        if double:
            return (
                f"this heading has stood in single brackets before: [{double[1]}]",
                f"write it as [[{double[1]}]] there too",
            )
        return (
            "this heading stands here a second time",
            "write [[run]] and [[surrounding]] in double brackets, and give other headings a name each",
        )
    for start, problem, fix in EXPLAINED:
        if said.startswith(start):
            return problem, fix
    return (
        f"this is not TOML: {said[:1].lower()}{said[1:]}",
        "compare the line with one from a file that works",
    )


def _bad_value(after: str) -> tuple[str, str]:
    """The same for what stands after an equals sign and is no value."""
    value = re.split(r"[\s,\]}]", after, maxsplit=1)[0][: LONGEST // 2]
    if re.match(r"#[0-9A-Fa-f]{3}", after):
        return "a color without quotes is taken for a note", f'put it in quotes: "{value}"'
    if not after or after.startswith("#"):
        return "the value after the equals sign is missing", "write the value, or take the key out"
    if after[0] == ",":
        return "there is a comma too many", "take one of the two out"
    if after[0] in TYPOGRAPHIC:
        return "text stands in typographic quotes", 'use the straight quote of the keyboard: "this"'
    if value.lower() in ("true", "false", "yes", "no", "on", "off"):
        return f"{value} is not a value", "write true or false, in small letters and without quotes"
    if re.match(r"[+-]?\.\d", after):
        return f"{value} has no digit before its point", f"write {value.replace('.', '0.', 1)}"
    words = re.match(r"[^\W\d_]\w*(?: \w+)+(?=\s*(?:[,\]}#]|$))", after)
    shown = words[0] if words and len(words[0]) < LONGEST else value or after[0]
    quoted = f'"{shown}"' if shown.replace(" ", "").isalnum() else '"this"'
    return f"{shown} is neither a number nor text in quotes", f"put text in quotes: {quoted}"
