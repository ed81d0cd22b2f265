"""Faults of the program itself: told in one plain line, and recorded once with all that helps to mend them."""

from __future__ import annotations

import logging
import traceback

LOG = logging.getLogger("preview.live")
MOST_TOLD = 100
LONGEST = 300


class Surprises:
    """Remembers which faults were recorded, so that a server that runs for hours does not repeat itself."""

    def __init__(self) -> None:
        self._told: set[tuple[str, str, int]] = set()

    def words(self, error: BaseException, doing: str) -> str:
        """A line for the person; the traceback goes to the log the first time that it happens at this place."""
        frames = traceback.extract_tb(error.__traceback__)
        place = (frames[-1].filename, frames[-1].lineno or 0) if frames else ("", 0)
        key = (type(error).__name__, *place)
        if key not in self._told and len(self._told) < MOST_TOLD:
            self._told.add(key)
            LOG.error("a fault in the program while %s", doing, exc_info=error)
        said = " ".join(f"{type(error).__name__}: {error}".split())[:LONGEST]
        return f"{doing} failed through a fault in the program itself: {said}"
