"""A drawing, how it fits a room on paper, and what is written under it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from preview.drafting.scales import Scale
from preview.paper import FAINT, INK, Box, Clipped, Mark, Page, Words, bounds, shifted, svg_bytes, wrapped

ROOM = (267.0, 190.0)
"""mm, width and height: what letter and A4, lying, leave within their margins."""
EDGE = 2.0
"""mm left free round a drawing."""
TITLE, NOTE = 3.5, 2.5
"""mm, the type under a drawing (ISO 3098's series, from memory)."""
LEADING = 3.7
ASIDE = 8.0
"""mm between a drawing and the words beside it."""
LEAST_FOOT = 75.0
"""mm: what is written under a drawing is never set narrower, where the room allows it."""
LONGEST = 80
"""Characters of a file's stem."""
SMALLER = 1
"""How many smaller scales are tried for the sake of lengths that find no place; tags and the page itself have to."""


@dataclass(frozen=True)
class Drawing:
    """A drawing of a job, by itself.

    key: its file's stem. name: what it is called. page: the drawing at its scale, mm. scale: as written under it.
    words: what it shows, in a sentence. left_out: what found no place on it, in words.
    """

    key: str
    name: str
    page: Page
    scale: str
    words: str
    left_out: tuple[str, ...] = ()


@dataclass
class Canvas:
    """What is drawn so far: marks from the back to the front, and labels that found no place."""

    marks: list[Mark | Clipped] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    tags_lost: int = 0

    def add(self, marks: Iterable[Mark] | None, what: str) -> bool:
        """Add a label's marks, or note that it found no place."""
        if marks is None:
            self.left_out.append(what)
            return False
        self.marks += marks
        return True


def drawing_svg(drawing: Drawing) -> bytes:
    """A drawing as SVG, one unit to the mm, with its name and what it shows."""
    return svg_bytes(drawing.page, drawing.name, f"{drawing.words} {drawing.scale}.")


def stem(*words: str) -> str:
    """A file's stem from words.

    >>> stem("section", "base, left")
    'section-base-left'
    """
    plain = unicodedata.normalize("NFKD", " ".join(words).casefold())
    bare = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return re.sub("[^a-z0-9]+", "-", bare).strip("-")[:LONGEST].rstrip("-") or "drawing"


def footing(title: str, notes: Sequence[str], width: float) -> tuple[list[Mark], float]:
    """A title and notes, a paragraph each, from (0, 0) down; and how high they are, mm."""
    marks: list[Mark] = []
    y = -TITLE
    for line in wrapped(title, width, TITLE, bold=True):
        marks.append(Words(line, (0.0, y), TITLE, INK, bold=True))
        y -= TITLE + 1.2
    y += TITLE + 1.2 - LEADING - 0.6
    for note in notes:
        for line in wrapped(note, width, NOTE):
            marks.append(Words(line, (0.0, y), NOTE, FAINT))
            y -= LEADING
    return marks, -(y + LEADING) + 0.8


def foot_width(wide: float, room: tuple[float, float]) -> float:
    """How wide the words under a drawing may be set, mm."""
    return min(room[0] - 2 * EDGE, max(wide, LEAST_FOOT))


def finished(canvas: Canvas, title: str, notes: Sequence[str], room: tuple[float, float]) -> Page:
    """The page with what is drawn, and the words under it."""
    left, low, right, high = bounds(canvas.marks)
    words, tall = footing(title, notes, foot_width(right - left, room))
    wide = max(right - left, bounds(words)[2])
    up = EDGE + tall + 5.0
    drawn = shifted(canvas.marks, EDGE - left + (wide - right + left) / 2, up - low)
    return Page(wide + 2 * EDGE, up + high - low + EDGE, (*drawn, *shifted(words, EDGE, EDGE + tall)))


def finished_beside(canvas: Canvas, title: str, notes: Sequence[str]) -> Page:
    """The page with what is drawn, and the words on its right, on one foot."""
    left, low, right, high = bounds(canvas.marks)
    words, tall = footing(title, notes, LEAST_FOOT)
    column = EDGE + right - left + ASIDE
    drawn = shifted(canvas.marks, EDGE - left, EDGE - low)
    wide, height = column + bounds(words)[2] + EDGE, max(high - low, tall) + 2 * EDGE
    return Page(wide, height, (*drawn, *shifted(words, column, EDGE + tall)))


def best_fit(
    sizes: Iterable[Scale],
    room: tuple[float, float],
    size: tuple[float, float],
    draw: Callable[[Scale], tuple[Canvas, Callable[[Canvas], Page]]],
) -> tuple[Scale, Canvas, Page]:
    """The largest scale at which everything has its place in the room; else the one of the next few that loses least.

    size: of what is drawn, mm, without labels.
    """
    tried: list[tuple[tuple[int, int, int], Scale, Canvas, Page]] = []
    last: Scale | None = None
    for scale in sizes:
        last = scale
        if size[0] * scale.factor > room[0] - 2 * EDGE or size[1] * scale.factor > room[1] - 2 * EDGE - 8.0:
            continue
        canvas, finish = draw(scale)
        page = finish(canvas)
        over = int(page.width > room[0] + 1e-6 or page.height > room[1] + 1e-6)
        tried.append(((over, canvas.tags_lost, len(canvas.left_out)), scale, canvas, page))
        lost = [entry[0] for entry in tried]
        if not any(lost[-1]) or (len(tried) > SMALLER and any(not over and not tags for over, tags, _ in lost)):
            break
    if not tried:
        assert last is not None
        canvas, finish = draw(last)
        return last, canvas, finish(canvas)
    _, scale, canvas, page = min(tried, key=lambda entry: entry[0])
    return scale, canvas, page


def box_lines(box: Box) -> tuple[float, float]:
    """How wide and how high a box is."""
    return box[2] - box[0], box[3] - box[1]
