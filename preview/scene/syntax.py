"""What is wrong with a line that is not TOML, in a person's words rather than the parser's."""

from __future__ import annotations

import re

from preview.errors import PreviewError
from preview.scene.written import LONGEST

QUOTE_IT = 'put it in quotes, without the inch mark: "1 1/4", "5\' 3-1/2", "12 mm"'
TYPOGRAPHIC = "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb\u2032\u2033"
"""Quotes and marks that word processors put in place of the keyboard's."""

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


def syntax_error(message: str, text: str) -> PreviewError:
    """The error for a text that the parser refused with `message`, showing the line it means."""
    lines = text.replace("\r\n", "\n").split("\n")
    said, _, tail = message.partition(" (at ")
    found = re.search(r"line (\d+), column (\d+)", tail)
    if found:
        number, column = int(found[1]), int(found[2])
    else:  # the end of the file
        number = max((i for i, line in enumerate(lines, 1) if line.strip()), default=1)
        column = len(lines[number - 1]) + 1
    line = lines[number - 1]
    before, after = line[: column - 1], line[column - 1 :]
    problem, fix = _explained(said, before, after, at_end=not found)
    return PreviewError(f"line {number}", None, f"it reads: {_around(before, after)}\n{problem}", fix)


def _around(before: str, after: str) -> str:
    """The line as it stands; of a long one what is near the place."""
    before, after = before.lstrip(), after.rstrip()
    if len(before) + len(after) > LONGEST:
        before = before if len(before) <= LONGEST // 2 else "... " + before[-LONGEST // 2 :]
        after = after if len(after) <= LONGEST // 2 else after[: LONGEST // 2] + " ..."
    return "".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}" for c in before + after)


def _explained(said: str, before: str, after: str, *, at_end: bool) -> tuple[str, str]:
    """The problem and the fix, from the parser's words and the line before and after the place it means."""
    if said.startswith(("Expected newline", "Expected '='", "Unclosed")):
        if re.search(r"\d,\d+\s*$", before) or (re.search(r"\d$", before) and re.match(r",\d", after)):
            return "a number is written with a comma", "write decimals with a point: 1.5"
        number = re.search(r"[=\[,]\s*[-+]?\d[\d.]*\s*$", before)
        if number and re.match(rf"[-\d/'\"a-z{TYPOGRAPHIC}]", after.lstrip()):
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
    if after[0] in TYPOGRAPHIC:
        return "text stands in typographic quotes", 'use the straight quote of the keyboard: "this"'
    if value.lower() in ("true", "false", "yes", "no", "on", "off"):
        return f"{value} is not a value", "write true or false, in small letters and without quotes"
    if re.match(r"[+-]?\.\d", after):
        return f"{value} has no digit before its point", f"write {value.replace('.', '0.', 1)}"
    shown = value or after[0]
    quoted = f'"{shown}"' if shown.isalnum() else '"this"'
    return f"{shown} is neither a number nor text in quotes", f"put text in quotes: {quoted}"
