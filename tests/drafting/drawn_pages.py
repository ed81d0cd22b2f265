"""What the tests read from a drawing: its words, its lines by weight, and where its labels lie."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import shapely

from preview.build import Built, build
from preview.drafting import Drawing, drawings_of
from preview.paper import Clipped, Mark, Page, Trace, Words, ink_box
from preview.profiles import Edge
from preview.scene import load_scene, parse_scene

SCENES = sorted((Path(__file__).parent.parent.parent / "scenes").glob("*.toml"))
BLOCK = """
[profile.block]
foot = 20
face = [{ fillet = 40 }]

[finish.paint]
color = "#ffffff"

[member.block]
profile = "block"
finish = "paint"
"""
"""A square-edged strip, 20 mm out and 40 high: every line of it can be followed by hand."""


@cache
def shipped(stem: str) -> Built:
    """A shipped scene, built."""
    return build(load_scene(next(path for path in SCENES if path.stem == stem)))


@cache
def drawn(stem: str) -> tuple[Drawing, ...]:
    """All drawings of a shipped scene, in its usual rooms."""
    return tuple(drawings_of(shipped(stem)))


def drawn_plans(stem: str) -> list[Drawing]:
    """Its plans, and its elevations of what lies on walls."""
    return [each for each in drawn(stem) if each.key.startswith("plan") or "pieces along" in each.words]


def built(run: str, unit: str = "mm", members: str = BLOCK) -> Built:
    """A scene of one run of the square-edged strip, whose keys are given as text."""
    text = f'title = "Made up"\nunits = "{unit}"\n{members}\n[[run]]\nname = "wall"\nmembers = ["block"]\n{run}\n'
    return build(parse_scene(text, Path("made-up.toml")))


def marks_of(page: Page) -> Iterator[Mark]:
    """All marks of a page, clipped ones among them."""
    for mark in page.marks:
        if isinstance(mark, Clipped):
            yield from mark.marks
        else:
            yield mark


def texts(drawing: Drawing) -> list[str]:
    """Everything that is written on a drawing."""
    return [mark.text for mark in marks_of(drawing.page) if isinstance(mark, Words)]


def traces(drawing: Drawing, weight: float) -> list[Trace]:
    """The lines of one weight."""
    return [mark for mark in marks_of(drawing.page) if isinstance(mark, Trace) and mark.weight == weight]


def edges(drawing: Drawing, weight: float) -> list[Edge]:
    """The edges of all lines of one weight."""
    return [edge for trace in traces(drawing, weight) for edge in trace.edges]


def oblong(words: Words) -> shapely.Polygon:
    """The oblong that the letters of a line of text fill."""
    left, low, right, high = ink_box(Words(words.text, (0.0, 0.0), words.size, words.ink, words.bold))
    cos, sin = math.cos(words.turn), math.sin(words.turn)
    corners = [(left, low), (right, low), (right, high), (left, high)]
    (x, y) = words.at
    return shapely.Polygon([(x + a * cos - b * sin, y + a * sin + b * cos) for a, b in corners])


def rings(drawing: Drawing) -> list[shapely.Polygon]:
    """The circles and boxes round tags and numbers."""
    found = []
    for trace in traces(drawing, 0.25):
        if trace.fill == "#ffffff":
            points = np.concatenate([edge.point(np.linspace(0, 1, 17)) for edge in trace.edges])
            found.append(shapely.Polygon(points))
    return found


def factor_of(drawing: Drawing) -> float:
    """mm on the page for one mm, as the scale says in figures."""
    found = re.search(r"(\d+):(\d+)", drawing.scale)
    assert found
    return int(found[1]) / int(found[2])


def dimension(drawing: Drawing, text: str) -> float:
    """How long the dimension line of a text is, mm on the page: the thin line that it stands on, from tick to tick."""
    (word,) = [mark for mark in marks_of(drawing.page) if isinstance(mark, Words) and mark.text == text]
    cos, sin = math.cos(word.turn), math.sin(word.turn)
    middle = oblong(word).centroid
    ticks = []
    for trace in traces(drawing, 0.5):
        for edge in trace.edges:
            x, y = (edge.start[0] + edge.end[0]) / 2 - middle.x, (edge.start[1] + edge.end[1]) / 2 - middle.y
            if abs(y * cos - x * sin) < 2.2 and edge.length < 3.0:
                ticks.append(x * cos + y * sin)
    before, after = max(at for at in ticks if at < 0), min(at for at in ticks if at > 0)
    return after - before


def assert_labels_are_apart(drawing: Drawing) -> None:
    """No text on other text or on another tag's ring, no ring on a ring, and everything on the page."""
    words = [mark for mark in marks_of(drawing.page) if isinstance(mark, Words)]
    boxes = [oblong(word) for word in words]
    for (one, first), (other, second) in combinations(zip(words, boxes, strict=True), 2):
        assert not first.intersects(second), f"{drawing.key}: {one.text} on {other.text}"
    around = rings(drawing)
    for ring, other_ring in combinations(around, 2):
        assert ring.intersection(other_ring).area < 0.01, f"{drawing.key}: a tag on a tag"
    for word, box in zip(words, boxes, strict=True):
        for ring in around:
            assert ring.contains(box) or ring.disjoint(box), f"{drawing.key}: {word.text} on a tag"
    page = shapely.box(0, 0, drawing.page.width, drawing.page.height)
    assert all(page.contains(box) for box in boxes), drawing.key


def lengths(found: Iterable[Edge]) -> list[float]:
    """The lengths of edges, in order."""
    return [edge.length for edge in found]
