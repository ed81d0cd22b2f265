"""The picture of a joint: the profiles of both pieces laid over each other, what differs shaded and measured.

shapes, notes, lens -> drawing
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from preview.drafting import LEAST_WIDTH, MARGIN, SCALES, SIZE, DrawingUnit, Step, footing, overall, spread
from preview.exports.joint_drawing_lens import AFTER, BLOCK, MISMATCH, lens
from preview.exports.joint_drawing_notes import (
    BAD,
    GOOD,
    ROW,
    SMALL,
    Block,
    JointFigure,
    ellipsis,
    figure_rows,
    shown,
    sign,
    small,
    span,
    text_block,
    told,
)
from preview.exports.joint_drawing_shapes import (
    Floats,
    Loop,
    across,
    apart,
    backwards,
    circle,
    dashes,
    loop_of,
    outside,
)
from preview.exports.names import file_names
from preview.paper import (
    FAINT,
    FINE,
    INK,
    SOFT,
    THICK,
    WOOD,
    Mark,
    Page,
    Placing,
    Trace,
    Words,
    both,
    bounds,
    moved,
    patch,
    scaled,
    stroke,
    svg_bytes,
    wrapped,
)
from preview.profiles import Line, Point, Profile

FOLDER = "joints/"
WHERE = {"left": "on the left", "below": "below"}
ROOMS = ((2.0, (88.0, 84.0)), (1.0, (80.0, 92.0)), (0.0, (66.0, 106.0)))
"""mm, the width and height that the section itself may fill, where it is that many times wider than high."""
DASH = (3.2, 1.8)
"""mm of the dashed line, on and off."""
SEEN = 1.2
"""mm; what is smaller on the drawing is shown once more through a lens."""
FLUSH = 0.05
"""mm; the most that profiles may differ where no limit is given for the step."""
ALIKE = 0.05
"""A distance on the drawing that differs from the step by less than this part of it is called the step."""
RING = 1.5
"""mm, round a place that a label tells of."""
WALL = 5.0
"""mm of hatching behind the wall line, and how far it runs past the section."""
BETWEEN = 7.0
"""mm between the parts of the page."""
MOST_TITLE = 3
"""Lines that a name may take."""


@dataclass(frozen=True, eq=False)
class JointDrawing:
    """What is drawn of a joint.

    title: the joint's name; subtitle: its kind, corner and turn in words. before, after: the outlines of the two end
    faces, profiles or points (k, 2) in order, (d, h) in mm; None where no end face was found. figures: what was
    measured, with limits. covered: whether the second outline, such as a block's face, need only cover the first.
    verdict: said at the top instead of our own words. wall: at d = 0, on the left; or at h = 0, below, where the plan
    of the run is the wall itself, as a casing's is.
    """

    title: str
    subtitle: str
    before: Profile | Floats | None
    after: Profile | Floats | None
    before_name: str
    after_name: str
    figures: tuple[JointFigure, ...] = ()
    unit: DrawingUnit = "in"
    covered: bool = False
    verdict: str = ""
    wall: Literal["left", "below"] = "left"

    @property
    def holds(self) -> bool:
        """Whether every figure is within its limit, and there was something to measure."""
        return self.before is not None and self.after is not None and all(figure.holds for figure in self.figures)


def joint_files(drawings: Iterable[JointDrawing]) -> list[tuple[str, bytes]]:
    """The drawings as files, (path, content): joints/NAME.svg, no two alike."""
    listed = list(drawings)
    names = file_names([drawing.title for drawing in listed], ".svg")
    return [(FOLDER + name, joint_svg(drawing)) for name, drawing in zip(names, listed, strict=True)]


def joint_svg(drawing: JointDrawing) -> bytes:
    """The picture as SVG, sized in mm; the same drawing gives the same bytes. Raises nothing."""
    sentences = [
        drawing.subtitle,
        f"Before: {drawing.before_name}. After: {drawing.after_name}",
        *(told(figure, drawing.unit) for figure in drawing.figures),
        _Seen(drawing).verdict,
    ]
    return svg_bytes(joint_page(drawing), f"Joint {drawing.title}", ". ".join(part for part in sentences if part))


def joint_page(drawing: JointDrawing) -> Page:
    """The picture as a page, sized to what is on it; the wall is on the left."""
    seen = _Seen(drawing)
    drawn = seen.marks()
    box = bounds(drawn) if drawn else (0.0, 0.0, 0.0, 0.0)
    width = max(LEAST_WIDTH, box[2] - box[0] + 2 * MARGIN)
    unit = drawing.unit
    what = "Inches, with millimeters in gray." if unit == "in" else "Millimeters, with inches in gray."
    parts: list[list[Mark]] = [
        footing(seen.scale, unit, what, f"Seen along the run, the wall {WHERE[drawing.wall]}.") if drawn else [],
        figure_rows(drawing.figures, unit, MARGIN, width - 2 * MARGIN),
        seen.legend(width),
        list(moved(drawn, (width - box[2] - box[0]) / 2, 0.0)),
        seen.heading(width),
    ]
    marks: list[Mark] = []
    top = MARGIN - BETWEEN
    for part in parts:
        if part:
            marks += moved(part, 0.0, top + BETWEEN - bounds(part)[1])
            top = bounds(marks)[3]
    return Page(width, top + MARGIN, tuple(marks))


class _Seen:
    """A joint drawing worked out: its loops on the page, to scale, what differs and what is told."""

    def __init__(self, drawing: JointDrawing) -> None:
        self.drawing = drawing
        self.before, self.after = (loop_of(one) if one is not None else () for one in (drawing.before, drawing.after))
        self.loops = [loop for loop in (self.before, self.after) if loop]
        boxes = [edge.bounds for loop in self.loops for edge in loop] or [(0.0, 0.0, 1.0, 1.0)]
        self.box = (
            min(box[0] for box in boxes),
            min(box[1] for box in boxes),
            max(box[2] for box in boxes),
            max(box[3] for box in boxes),
        )
        wide, high = max(self.box[2], 0.0) - min(self.box[0], 0.0), self.box[3] - self.box[1]
        if drawing.wall == "below":
            wide, high = self.box[2] - self.box[0], max(self.box[3], 0.0) - min(self.box[1], 0.0)
        across_, up = next(room for times, room in ROOMS if wide > times * high)
        self.scale = next((s for s in SCALES if wide * s <= across_ and high * s <= up), SCALES[-1])
        self.place: Placing = scaled(float(self.scale))
        self.differs, self.worst = (
            apart(self.before, self.after, drawing.covered) if self.before and self.after else (math.inf, (0.0, 0.0))
        )
        step = next((figure for figure in drawing.figures if figure.name == "step"), None)
        self.step = step or JointFigure("step", self.differs, FLUSH)

    @property
    def verdict(self) -> str:
        """What the drawing says of the joint, in a sentence."""
        if self.drawing.verdict:
            return self.drawing.verdict
        if not self.loops:
            return "No end face was found on either piece"
        if not self.before or not self.after:
            return f"No end face was found on the piece {'after' if self.before else 'before'} the joint"
        over = [figure.name for figure in self.drawing.figures if not figure.holds]
        if over:
            listed = " and ".join(part for part in (", ".join(over[:-1]), over[-1]) if part)
            return f"Does not meet: {listed} over the limit"
        largest = f"{max(self.differs, self.step.value):.3f} mm"
        if self.drawing.covered:
            return "The end lies within the block" if self.differs < 0.0005 else f"The end stands out by {largest}"
        return f"Both profiles agree within {largest}"

    def heading(self, width: float) -> list[Mark]:
        """The joint's name, its kind and the verdict; the last baseline is at 0."""
        drawing, room = self.drawing, width - 2 * MARGIN
        lines = wrapped(drawing.title, room, 8.0, bold=True) or [""]
        if len(lines) > MOST_TITLE:
            lines = [*lines[: MOST_TITLE - 1], ellipsis(" ".join(lines[MOST_TITLE - 1 :]), room, 8.0, bold=True)]
        marks: list[Mark] = [*sign(drawing.holds, (MARGIN, 0.0), 3.8)]
        said, ink = ellipsis(self.verdict, room - 7.0, SIZE, bold=True), GOOD if drawing.holds else BAD
        marks.append(Words(said, (MARGIN + 7.0, 0.0), SIZE, ink, bold=True))
        marks.append(Words(ellipsis(drawing.subtitle, room, SIZE), (MARGIN, 8.2), SIZE, FAINT))
        for number, line in enumerate(reversed(lines)):
            marks.append(Words(line, (MARGIN, 16.4 + 9.0 * number), 8.0, INK, bold=True))
        return marks

    def legend(self, width: float) -> list[Mark]:
        """Which line is which piece, and what the shading means; the last row is at 0."""
        drawing = self.drawing
        rows: list[tuple[list[Mark], str, str]] = []
        for word, name, loop in (
            ("End" if drawing.covered else "Before", drawing.before_name, self.before),
            ("Block" if drawing.covered else "After", drawing.after_name, self.after),
        ):
            line = Line((MARGIN, 1.5), (MARGIN + 14.0, 1.5))
            sample = Trace((line,), THICK) if word in ("Before", "End") else Trace(dashes((line,), *DASH), THICK, AFTER)
            rows.append(([sample], word, f"{name}{self._size(loop)}"))
        if self._shaded():
            swatch = patch([(MARGIN, 0.0), (MARGIN + 14.0, 0.0), (MARGIN + 14.0, 3.2), (MARGIN, 3.2)], MISMATCH)
            said = "what stands out of the block" if drawing.covered else "wood that only one of the two has"
            rows.append(([swatch], "Differs", said))
        marks: list[Mark] = []
        for number, (sample_marks, word, text) in enumerate(reversed(rows)):
            y = ROW * number
            marks += moved(sample_marks, 0.0, y)
            marks.append(Words(word, (MARGIN + 18.0, y), SMALL, INK, bold=True))
            marks.append(Words(ellipsis(text, width - 2 * MARGIN - 36.0, SMALL), (MARGIN + 36.0, y), SMALL, INK))
        return marks

    def marks(self) -> list[Mark]:
        """The drawing itself, to scale, d = 0 at x = 0."""
        if not self.loops:
            return []
        (left, low), (right, high) = self.place.point(self.box[:2]), self.place.point(self.box[2:])
        marks: list[Mark] = []
        beside, under = left, low  # beyond the wall's hatching, where dimensions may stand
        if self.drawing.wall == "left":
            marks += _wall(low - WALL, high + WALL)
            beside = min(left, 0.0) - WALL
        else:
            over = Placing(0.0, 1.0, 1.0, 0.0)
            marks += [replace(mark, edges=over.edges(mark.edges)) for mark in _wall(left - WALL, right + WALL)]
            under = min(low, 0.0) - WALL
        marks += self._sections()
        (d0, h0, d1, h1), unit = self.box, self.drawing.unit
        marks += overall(Step(low, -beside), Step(high, -beside), h1 - h0, "left", beside - 8.0, unit, SIZE)
        level = min(under - 8.0, low - WALL - 8.0)
        marks += overall(Step(left, -under), Step(right, -under), d1 - d0, "bottom", level, unit, SIZE)
        blocks = self._blocks(marks)
        blocks.sort(key=lambda block: block.target[1])
        column = max(right, 0.0) + 13.0
        middles = spread([block.target[1] for block in blocks], [block.height for block in blocks], 5.0)
        for block, middle in zip(blocks, middles, strict=True):
            corner = (column, middle - block.height / 2)
            marks += moved(block.marks, *corner)
            marks += _leader(block.target, (corner[0] + block.meets[0], corner[1] + block.meets[1]), block.clear)
        return marks

    def _sections(self) -> list[Mark]:
        """Both sections: what they share tinted, what differs shaded, the two outlines over it."""
        fills: list[Mark] = [
            Trace(tuple(edge for loop in loops for edge in self.place.edges(loop)), 0.0, ink, ink)
            for loops, ink in self._fills()
        ]
        if self.before:
            fills.append(Trace(self.place.edges(self.before), THICK))
        if self.after:
            fills.append(Trace(dashes(self.place.edges(self.after), *DASH), 0.5, AFTER))
        return fills

    def _fills(self) -> list[tuple[tuple[Loop, ...], str]]:
        """What is filled, in order, each over the one before it: loops and their color."""
        tint = BLOCK if self.drawing.covered else WOOD
        fills: list[tuple[tuple[Loop, ...], str]] = [
            ((loop,), ink) for loop, ink in ((self.after, tint), (self.before, WOOD)) if loop
        ]
        if not self._shaded():
            return fills
        if not self.drawing.covered:
            # Travelled opposite ways, what both enclose is wound 1 - 1 = 0 times, and stays empty.
            return [*fills, ((self.before, backwards(self.after)), MISMATCH)]
        out = outside(self.before, self.after)
        over = [((self.before,), MISMATCH), ((self.after,), BLOCK)]
        return [*fills, *(over if out is None else [(out, MISMATCH)])]

    def _shaded(self) -> bool:
        return bool(self.before and self.after) and self.differs > self.step.limit

    def _blocks(self, marks: list[Mark]) -> list[Block]:
        """What is told beside the drawing; marks on the drawing itself are added to `marks`."""
        blocks: list[Block] = []
        for figure in self.drawing.figures:
            if figure.name == "step" or figure.holds or figure.at is None or not math.isfinite(figure.value):
                continue
            at = self.place.point(figure.at)
            marks.append(_ring(at, RING))
            first, second = shown(figure, self.drawing.unit)
            blocks.append(text_block(figure.name, (first, second), at, SIZE, RING))
        if not self.before or not self.after or max(self.differs, self.step.value) <= self.step.limit:
            return blocks
        if self.differs <= self.step.limit:  # measured in space, and not to be seen along the run
            if self.step.at is not None and math.isfinite(self.step.value):
                at = self.place.point(self.step.at)
                marks.append(_ring(at, RING))
                blocks.append(text_block("step", small(self.step.value, self.drawing.unit), at, SIZE, RING))
            return blocks
        one, other = across(self.before, self.after, self.worst)
        far = math.dist(one, other)
        # A step is measured in the joint's face, which at a miter is longer than the section that is drawn.
        word = "step" if abs(far - self.step.value) <= ALIKE * far else "apart"
        label = small(far, self.drawing.unit)
        middle = ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)
        at = self.place.point(middle)
        if far * float(self.scale) < SEEN:
            loops = (self.before, self.after)
            block = lens(self._fills(), loops, (one, other), (word, *label), at, float(self.scale))
            marks.append(_ring(at, block.clear))
            blocks.append(block)
            return blocks
        marks += span(self.place.point(one), self.place.point(other))
        blocks.append(text_block(word, label, at, SIZE))
        return blocks

    def _size(self, loop: Loop) -> str:
        if not loop:
            return ", no end face found"
        boxes = [edge.bounds for edge in loop]
        high = max(box[3] for box in boxes) - min(box[1] for box in boxes)
        wide = max(box[2] for box in boxes) - min(box[0] for box in boxes)
        after = " mm" if self.drawing.unit == "mm" else ""
        return f", {both(high, self.drawing.unit)[0]}{after} by {both(wide, self.drawing.unit)[0]}{after}"


def _wall(low: float, high: float) -> list[Trace]:
    """The wall line at x = 0, hatched on its left."""
    hatch = []
    for k in range(math.ceil((low - WALL) / 2.4), math.floor(high / 2.4) + 1):
        y = 2.4 * k
        x0 = -WALL if y >= low else -WALL + (low - y)
        x1 = 0.0 if y + WALL <= high else high - WALL - y
        if x1 > x0 + 0.01:
            hatch.append(Line((x0, y + x0 + WALL), (x1, y + x1 + WALL)))
    return [Trace(tuple(hatch), FINE, SOFT), stroke((0.0, low), (0.0, high), weight=0.5, ink=INK)]


def _ring(at: Point, radius: float) -> Trace:
    return Trace(circle(at, radius), 0.35, INK)


def _leader(target: Point, start: Point, clear: float) -> list[Mark]:
    """From a label to what it tells of, level at first; it stops `clear` mm before it, or with a dot on it."""
    elbow = (start[0] - 2.2, start[1])
    away = math.dist(elbow, target)
    if away <= clear + 0.5:
        return []
    share = clear / away
    tip = (target[0] + share * (elbow[0] - target[0]), target[1] + share * (elbow[1] - target[1]))
    marks: list[Mark] = [stroke(start, elbow, tip)]
    if not clear:
        marks.append(Trace(circle(tip, 0.6), 0.0, INK, INK))
    return marks
