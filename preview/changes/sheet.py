"""A drawing in the making: lines, patches and words in mm, y down, written as SVG of the same bytes every time."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from html import escape

from preview.profiles import Arc, Edge, Point

INK, SOFT, FAINT = "#1b1f24", "#4d555e", "#5f666e"
BEFORE, NOW, SAME = "#a8480f", "#155a9a", "#7d848c"
ONLY_ONE = "#f3dccb"
"""The tint of wood that only one of two profiles has."""
NEW_WOOD, SAME_WOOD = "#dfeaf5", "#f3f2ee"
DASH = "2.4 1.3"
FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
NARROW, WIDE = frozenset("iljtfrI.,:;'|!()[] \""), frozenset("mwMW@%")
HALF = math.pi / 2 + 1e-9


@dataclass(frozen=True)
class Line:
    """How a line is drawn: color, weight in mm, dashed or not."""

    ink: str
    weight: float
    dashed: bool = False


BEFORE_LINE, NOW_LINE, SAME_LINE = Line(BEFORE, 0.45, True), Line(NOW, 0.5), Line(SAME, 0.25)


@dataclass
class Sheet:
    """The marks of a drawing, in order, each over the one before it."""

    marks: list[str] = field(default_factory=list)

    def path(self, d: str, line: Line | None, fill: str = "none", rule: str = "") -> None:
        """A path in SVG's own words; line: None draws none."""
        if not d:
            return
        pen = f'stroke="{line.ink}" stroke-width="{number(line.weight)}"' if line else 'stroke="none"'
        dash = f' stroke-dasharray="{DASH}"' if line and line.dashed else ""
        filled = f' fill-rule="{rule}"' if rule else ""
        self.marks.append(f'<path fill="{fill}"{filled} {pen}{dash} d="{d}"/>')

    def stroke(self, points: Sequence[Point], line: Line) -> None:
        """Straight lines from point to point."""
        self.path(polyline(points), line)

    def words(
        self, text: str, at: Point, size: float = 3.5, ink: str = INK, bold: bool = False, anchor: str = "start"
    ) -> None:
        """One line of text; at: its baseline's left end, middle or right end, as `anchor` says."""
        weight = ' font-weight="bold"' if bold else ""
        held = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self.marks.append(
            f'<text x="{number(at[0])}" y="{number(at[1])}" font-size="{number(size)}" fill="{ink}"{weight}{held}>'
            f"{written(text)}</text>"
        )

    def clipped(self, name: str, box: tuple[float, float, float, float], inside: Sheet) -> None:
        """What of another sheet lies in a box (left, top, width, height)."""
        left, top, wide, high = (number(value) for value in box)
        self.marks.append(
            f'<clipPath id="{name}"><rect x="{left}" y="{top}" width="{wide}" height="{high}"/></clipPath>'
        )
        self.marks += [f'<g clip-path="url(#{name})">', *inside.marks, "</g>"]

    def svg(self, width: float, height: float, title: str, description: str) -> bytes:
        """The whole drawing, sized in mm."""
        w, h = number(width), number(height)
        lines = [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}"',
            f' role="img" font-family="{FONT}" stroke-linejoin="round">',
            f"<title>{written(title)}</title>",
            f"<desc>{written(description)}</desc>",
            f'<rect width="{w}" height="{h}" fill="#ffffff"/>',
            *self.marks,
            "</svg>",
        ]
        return ("\n".join(lines) + "\n").encode("utf-8")


def number(value: float) -> str:
    """A number with three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def written(text: str) -> str:
    """Text as SVG can hold it: marks that do not print become blanks."""
    return escape("".join(letter if letter.isprintable() else " " for letter in text), quote=False)


def polyline(points: Iterable[Point], closed: bool = False) -> str:
    """Straight lines from point to point, as SVG path data."""
    spots = [f"{number(x)} {number(y)}" for x, y in points]
    return f"M{'L'.join(spots)}{'Z' if closed else ''}" if spots else ""


@dataclass(frozen=True)
class Placing:
    """Where a drawing stands on the sheet: (x, y) in mm, y up, goes to (left + scale x, top - scale y)."""

    scale: float
    left: float = 0.0
    top: float = 0.0

    def point(self, at: Point) -> Point:
        """Where a point goes."""
        return (self.left + self.scale * at[0], self.top - self.scale * at[1])

    def outline(self, edges: Iterable[Edge]) -> str:
        """A closed loop of lines and arcs, as SVG path data; arcs stay arcs."""
        words: list[str] = []
        for edge in edges:
            if not words:
                words.append("M" + self._spot(edge.start))
            if isinstance(edge, Arc):
                radius, turn = number(self.scale * edge.radius), "0" if edge.sweep > 0 else "1"
                words += [f"A{radius} {radius} 0 0 {turn} {self._spot(end)}" for end in _stops(edge)]
            else:
                words.append("L" + self._spot(edge.end))
        return " ".join([*words, "Z"]) if words else ""

    def _spot(self, at: Point) -> str:
        x, y = self.point(at)
        return f"{number(x)} {number(y)}"


def _stops(arc: Arc) -> Iterator[Point]:
    """The ends of the parts, none over a quarter turn, in which an arc is drawn."""
    parts = math.ceil(abs(arc.sweep) / HALF)
    yield from arc.point([i / parts for i in range(1, parts + 1)]).tolist()


def width_of(text: str, size: float) -> float:
    """About how wide a line of text comes out, mm; rather more than less."""
    return size * sum(0.32 if each in NARROW else 0.92 if each in WIDE else 0.61 for each in text)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Text in lines of about a width, broken at blanks, and in a word only where that is wider than a line."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if width_of(longer, size) <= width:
            lines[-1] = longer
            continue
        lines += [""] if lines[-1] else []
        for letter in word:
            if lines[-1] and width_of(lines[-1] + letter, size) > width:
                lines.append("")
            lines[-1] += letter
    return lines


def scale_words(scale: float) -> str:
    """A scale as it is spoken of: 1:12, 2:1, full size."""
    if scale == 1:
        return "full size"
    return f"{number(scale)}:1" if scale > 1 else f"1:{number(1 / scale)}"
