"""Parts of many lines at once: unions of intervals, and what they leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Intervals:
    """k parts of lines: which line each lies on (k,), and where on it it starts and stops (k,), 0 to 1."""

    line: Ints
    start: Floats
    stop: Floats

    @classmethod
    def none(cls) -> Intervals:
        """No parts at all."""
        return cls(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))

    @classmethod
    def all_of(cls, parts: list[Intervals]) -> Intervals:
        """Many lists of parts as one."""
        if not parts:
            return cls.none()
        return cls(
            np.concatenate([part.line for part in parts]),
            np.concatenate([part.start for part in parts]),
            np.concatenate([part.stop for part in parts]),
        )

    def kept(self, which: NDArray[np.bool_]) -> Intervals:
        """Those of them (k,) that are wanted."""
        return Intervals(self.line[which], self.start[which], self.stop[which])

    def united(self, near: Floats) -> Intervals:
        """The same stretches with no two that overlap, or lie closer than `near` (one for each line), in order."""
        order = np.lexsort((self.start, self.line))
        line, start, stop = self.line[order], self.start[order], self.stop[order]
        if not len(line):
            return self
        # Lines lie one behind the other on one axis, two units apart, so that none reaches into the next.
        reached = np.maximum.accumulate(stop + 2.0 * line) - 2.0 * line
        fresh = np.ones(len(line), dtype=np.bool_)
        fresh[1:] = (line[1:] != line[:-1]) | (start[1:] > reached[:-1] + near[line[1:]])
        last = np.append(np.flatnonzero(fresh)[1:], len(line)) - 1
        return Intervals(line[fresh], start[fresh], reached[last])

    def rest(self, other: Intervals) -> Intervals:
        """What is left of these when others are taken away; both `united`."""
        if not len(other.line) or not len(self.line):
            return self
        # Each part is cut at the others' starts and stops; a stretch is kept where no other covers its middle.
        at = np.concatenate([self.start, self.stop, other.start, other.stop])
        line = np.concatenate([self.line, self.line, other.line, other.line])
        marks = np.unique(2.0 * line + np.clip(at, 0.0, 1.0))
        start, stop = marks[:-1], marks[1:]
        middle = (start + stop) / 2
        covered = self.covers(middle) & ~other.covers(middle)
        number = np.floor(middle / 2.0).astype(np.int64)
        found = Intervals(number, start - 2.0 * number, stop - 2.0 * number).kept(covered)
        return found.united(np.zeros(int(number.max(initial=0)) + 1))

    def covers(self, marks: Floats) -> NDArray[np.bool_]:
        """Which marks (m,), 2 for each line and 0 to 1 on it, lie within one of the parts; those are `united`."""
        if not len(self.line):
            return np.zeros(len(marks), dtype=np.bool_)
        starts, stops = self.start + 2.0 * self.line, self.stop + 2.0 * self.line
        at = np.searchsorted(starts, marks, side="right") - 1
        found: NDArray[np.bool_] = (at >= 0) & (marks < stops[np.maximum(at, 0)])
        return found
