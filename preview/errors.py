"""The one error a person meets: where it is, what was written, what is wrong, and what would fix it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

LONGEST = 1_000
"""Characters of one part of a problem: more comes from a damaged file, and is cut out of the middle."""
MOST_TOLD = 100
"""Problems that a message tells before it says how many more there are."""
UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
"""What no message may hold, wherever it was quoted from: controls, which a terminal obeys, marks that turn the reading
round, and halves of characters, which cannot be written at all."""


@dataclass(frozen=True)
class Problem:
    """One mistake in what a person wrote.

    place: where, such as `run "north wall", step 3, radius`. value: as it was written, or None.
    problem: what is wrong, in the trade's words and with the numbers. fix: what would put it right.
    file: the file it stands in. Each can be printed anywhere, and is of bounded length, whatever it was made from.
    """

    place: str
    value: str | None
    problem: str
    fix: str
    file: str | None = None

    def __post_init__(self) -> None:
        for part in ("place", "value", "problem", "fix", "file"):
            text = getattr(self, part)
            if text and (len(text) > LONGEST or UNPRINTABLE.search(text)):
                object.__setattr__(self, part, printable(text))

    def __str__(self) -> str:
        where = " = ".join(part for part in (self.place, self.value) if part)
        head = ": ".join(part for part in (self.file, where) if part)
        lines = [head] if head else []
        lines += [f"  {line}" for line in self.problem.splitlines()]
        lines += [f"  fix: {self.fix}"] if self.fix else []
        return "\n".join(lines)


class PreviewError(Exception):
    """One or more problems, told all at once. Lower rooms raise it; upper rooms add the place on the way."""

    problems: tuple[Problem, ...]

    def __init__(self, place: str, value: str | None, problem: str, fix: str, file: str | None = None) -> None:
        super().__init__(problem)
        self.problems = (Problem(place, value, problem, fix, file),)

    @classmethod
    def several(cls, problems: Iterable[Problem]) -> PreviewError:
        """One error that tells every problem given.

        Raises ValueError when there is none.
        """
        found = tuple(problems)
        if not found:
            raise ValueError("an error needs at least one problem")
        first = found[0]
        error = cls(first.place, first.value, first.problem, first.fix, first.file)
        error.problems = found
        return error

    def at(self, place: str) -> PreviewError:
        """The same error with `place` put in front of each problem's own place."""
        return self.several(
            replace(problem, place=", ".join(part for part in (place, problem.place) if part))
            for problem in self.problems
        )

    def in_file(self, file: str) -> PreviewError:
        """The same error with the file named, where a problem does not name one yet."""
        return self.several(replace(problem, file=problem.file or file) for problem in self.problems)

    def __str__(self) -> str:
        told = [str(problem) for problem in self.problems[:MOST_TOLD]]
        left = len(self.problems) - len(told)
        return "\n\n".join([*told, f"and {left:,} more"] if left else told)


def printable(text: str, most: int = LONGEST) -> str:
    """Text from outside as it can be printed anywhere, what is longer than `most` cut out of its middle."""
    if len(text) > most:
        text = f"{text[: most // 2]} ... {text[-most // 4 :]}"
    return UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` was most likely meant to be; None when none is close."""
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return found[0] if found else None
