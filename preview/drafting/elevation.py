"""The elevation of a run, unrolled: what stands along the wall line laid out flat, stretch beside stretch."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial

import numpy as np

from preview.build import Built
from preview.drafting.dimensions import Way, along, callout, edge_lines, note
from preview.drafting.drawing import EDGE, ROOM, Canvas, Drawing, best_fit, finished, stem
from preview.drafting.labels import Field
from preview.drafting.scales import Scale, length_text, scales
from preview.drafting.spans import climb_text, climbs
from preview.drafting.tags import number_marks, number_size, piece_tags, tag_marks, tag_radius, travel_order
from preview.drafting.unrolled import Stretch, Unrolled
from preview.paper import INK, SOFT, Page, Placing, Trace, bounds, scaled, shifted
from preview.profiles import Edge, Line, Point
from preview.runs import IN_PLAN, Run
from preview.units import degrees_text
from preview.vantage import Corner, Job, corners_of, job_of, joint_places

FLOOR, FOLD = 0.7, 0.18
"""mm, of the lines of the floor and of folds."""
CHAIN = (6.0, 1.2, 0.8, 1.2)
"""mm on and off: the long-dashed dotted line of a fold."""
PAST = 3.0
"""mm that a fold's line runs past the molding."""
BETWEEN = 7.0
"""mm between rows."""
AWKWARD = 1e-9
UPWARD = (0.0, 0.3, -0.3, 0.6, -0.6, 0.95, -0.95, 1.2, -1.2)
"""Radians from upright in which the leader of a corner's number may leave."""
BODY = (0.1, 0.3, 0.5, 0.7, 0.9)
"""At which parts of its height labels are kept off the molding."""


def elevation_drawings(built: Built, room: tuple[float, float] = ROOM) -> list[Drawing]:
    """The unrolled elevation of every run along walls."""
    return [
        elevation_drawing(built, placed.run.name, room)
        for placed in built.scene.runs
        if placed.run.stand == IN_PLAN and any(line.run is placed.run for line in built.lines)
    ]


def elevation_drawing(built: Built, run: str, room: tuple[float, float] = ROOM) -> Drawing:
    """A run unrolled along its wall line, in rows where it is long, at the largest usual scale that fits a room, mm.

    Raises KeyError where there is no run of that name along walls.
    """
    job = job_of(built)
    found = next((p.run for p in built.scene.runs if p.run.name == run and p.run.stand == IN_PLAN), None)
    if found is None:
        raise KeyError(run)
    return _Elevation(job, found).drawing(room)


class _Elevation:
    """One run's elevation, before its scale is known."""

    def __init__(self, job: Job, run: Run) -> None:
        self.job, self.run, self.built = job, run, job.built
        self.tags = piece_tags(self.built)
        self.flat = Unrolled(self.built, run)
        self.stretches, self.front, self.span = self.flat.stretches, self.flat.front, self.flat.span
        self.corners = [
            (number, corner)
            for number, corner in enumerate(corners_of(job, joint_places(job)), start=1)
            if list(job.paths)[corner.path] == run.name
        ]

    def drawing(self, room: tuple[float, float]) -> Drawing:
        """The drawing, fitted to a room."""
        name = f"Elevation of {self.run.name}{', unrolled' if self.is_unrolled() else ''}"
        size = (max(s.end - s.begin for s in self.stretches), self.tall())

        def draw(scale: Scale) -> tuple[Canvas, Callable[[Canvas], Page]]:
            canvas = self.drawn(scale.factor, room[0] - 2 * EDGE)
            return canvas, partial(self.finished, scale, name, room)

        scale, canvas, page = best_fit(scales(self.built.scene.units), room, size, draw)
        total = length_text(self.stretches[-1].end, self.built.scene.units)
        after = "" if self.built.scene.units in ("in", "ft") else " mm"
        how, each = ("unrolled along", ": each stretch beside the next,") if self.is_unrolled() else ("square to", ",")
        words = (
            f"The molding of {self.run.name} seen from the room, {how} the wall line, on which it is "
            f"{total}{after} long{each} with lengths, heights and the pieces' tags."
        )
        return Drawing(stem("elevation", self.run.name), name, page, scale.name, words, tuple(canvas.left_out))

    def is_unrolled(self) -> bool:
        """Whether there is anything to unroll: a turn or a curve."""
        return any(self.run.turns) or any(element.sweep for element in self.run.elements)

    def seen(self) -> str:
        """How it is looked at."""
        if not self.is_unrolled():
            return "Seen square to the wall."
        curves = ", curves rolled out flat" if any(element.sweep for element in self.run.elements) else ""
        return f"Seen from the room, each stretch square on{curves}."

    def finished(self, scale: Scale, name: str, room: tuple[float, float], canvas: Canvas) -> Page:
        """The page with its words."""
        return finished(canvas, name, self.notes(scale, canvas.left_out), room)

    def notes(self, scale: Scale, left_out: Sequence[str]) -> list[str]:
        """What is said under the drawing."""
        unit = self.built.scene.units
        what = "inches" if unit == "in" else "feet and inches" if unit == "ft" else "millimeters"
        after = "" if unit in ("in", "ft") else " mm"
        total = length_text(self.stretches[-1].end, unit)
        level = "level lengths " if climbs(self.run) else ""
        walked = length_text(math.fsum(e.walked(e.length) for e in self.run.elements), unit)
        sloping = f"; along the slope {walked}{after}" if level else ""
        outside = any(self.run.hand * turn < -1e-9 for turn in self.run.turns)
        beyond = " At outside corners the molding itself reaches further, by its projection." if outside else ""
        corners = " In boxes: corners, numbered as in the pictures." if self.corners else ""
        found = [
            f"Scale: {scale.name}. {self.seen()}",
            f"Lengths in {what}, {level}on the wall line, {total}{after} in all{sloping}.{beyond}",
            f"In circles: pieces.{corners}{' Chain lines: the folds.' if any(self.run.turns) else ''}",
        ]
        if left_out:
            count = len(left_out)
            found[-1] += f" {count} dimension{'' if count == 1 else 's'} not shown here: lengths in the table."
        return found

    def tall(self) -> float:
        """How high the molding is where it is highest in one stretch, mm."""
        if self.front is None:
            return max((float(np.ptp(self.built.meshes[n].points[:, 2])) for n, _ in self.flat.blocks), default=1.0)
        high = self.front.strips[-1].top[1] - self.front.strips[0].foot[1]
        return high + max(abs(e.end_height - e.height) for e in self.run.elements)

    def rows(self, factor: float, wide: float) -> list[list[Stretch]]:
        """The stretches in rows no wider than `wide` on the page, mm."""
        found: list[list[Stretch]] = []
        for stretch in self.stretches:
            if found and (stretch.end - found[-1][0].begin) * factor <= wide:
                found[-1].append(stretch)
            else:
                found.append([stretch])
        return found

    def drawn(self, factor: float, wide: float) -> Canvas:
        """Everything but the words below, row under row."""
        canvas = Canvas()
        low = 0.0
        margin = 16.0  # for the heights at the left end
        for number, row in enumerate(self.rows(factor, wide - margin)):
            mine = Canvas()
            self.row(mine, row, factor, number == 0, wide)
            box = bounds(mine.marks)
            shift = low - box[3] if number else 0.0
            canvas.marks += shifted(mine.marks, 0.0, shift)
            canvas.left_out += mine.left_out
            canvas.tags_lost += mine.tags_lost
            low = box[1] + shift - BETWEEN
        return canvas

    def row(self, canvas: Canvas, row: Sequence[Stretch], factor: float, is_first: bool, wide: float) -> None:
        """One row, its left end at 0."""
        begin = row[0].begin
        lines: list[tuple[Edge, float]] = []
        for stretch in row:
            begins = stretch is row[0] and (not is_first or self.run.closed)
            lines += self.flat.lines(stretch, factor, begins)
        lines += self.flat.block_lines(row)
        place = scaled(factor, -begin * factor, 0.0)
        edges = [(place.edge(edge), weight) for edge, weight in lines]
        boxes = np.array([edge.bounds for edge, _ in edges])
        low, high = float(boxes[:, 1].min()), float(boxes[:, 3].max())
        end = (row[-1].end - begin) * factor
        field = Field((-40.0, low - 60.0, max(end, wide) + 20.0, high + 80.0))
        for weight in sorted({weight for _, weight in edges}):
            mine = tuple(edge for edge, each in edges if each == weight)
            canvas.marks.append(Trace(mine, weight))
            field.draw(np.concatenate([edge_lines(edge) for edge in mine]), 3.0, 0.1)
        self.keep_off(field, row, place)
        self.folds(canvas, field, row, place, factor)
        self.floor(canvas, row, place)
        self.lengths(canvas, field, row, place)
        self.heights(canvas, field, row, place, is_first)
        self.tags_in(canvas, field, row, place)
        self.pitches(canvas, field, row, place)
        self.numbers(canvas, field, row, place)

    def keep_off(self, field: Field, row: Sequence[Stretch], place: Placing) -> None:
        """Keep labels off the body of the molding, between its lines; their leaders may cross it."""
        for stretch in row:
            spans = [(place.point((at, 0.0))[0], self.span(stretch, at)) for at in (stretch.begin, stretch.end)]
            (x0, (low0, high0)), (x1, (low1, high1)) = spans
            y0, y1 = place.point((0.0, 0.0))[1], place.d
            for share in BODY:
                begin, end = (low + share * (high - low) for low, high in ((low0, high0), (low1, high1)))
                field.draw(np.array([[x0, y0 + y1 * begin, x1, y0 + y1 * end]]), 15.0, 0.0)

    def folds(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing, factor: float) -> None:
        """The lines in which the wall turns."""
        count = len(self.run.elements)
        marked = [(stretch.index, stretch.begin, stretch) for stretch in row]
        marked.append((row[-1].index + 1, row[-1].end, row[-1]))
        for corner, at, stretch in marked:
            if (corner in (0, count) and not self.run.closed) or abs(self.run.turns[corner % count]) < AWKWARD:
                continue
            low, high = self.span(stretch, at)
            x = place.point((at, 0.0))[0]
            line = Line((x, low * factor - PAST), (x, high * factor + PAST))
            canvas.marks.append(Trace((line,), FOLD, SOFT, None, CHAIN))
            field.draw(edge_lines(line), 6.0, 0.5)

    def floor(self, canvas: Canvas, row: Sequence[Stretch], place: Placing) -> None:
        """The floor, where the molding stands on it."""
        heights = [self.span(stretch, stretch.begin)[0] for stretch in row]
        under = [thing.top for thing in self.built.scene.surroundings if thing.kind == "floor"] or [0.0]
        level = next((z for z in under if all(abs(z - h) < 1.0 for h in heights)), None)
        if level is None or any(element.slope or element.bend for element in self.run.elements):
            return
        begin, end = place.point((row[0].begin, level)), place.point((row[-1].end, level))
        line = Line((begin[0] - PAST, begin[1]), (end[0] + PAST, end[1]))
        canvas.marks.append(Trace((line,), FLOOR, INK))

    def lengths(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing) -> None:
        """Under the row, how long each stretch is on the wall line."""
        unit = self.built.scene.units
        low = min(self.span(stretch, at)[0] for stretch in row for at in (stretch.begin, stretch.end))
        for stretch in sorted(row, key=lambda each: each.begin - each.end):
            element = self.run.elements[stretch.index]
            begin, end = place.point((stretch.begin, low)), place.point((stretch.end, low))
            text = length_text(element.length, unit)
            if element.sweep:
                text += f" (R {length_text(element.radius, unit)})"
            else:
                text += climb_text(element, unit)
            sides: list[tuple[Way, float, float]] = [((0.0, -1.0), 0.0, 0.0)]
            canvas.add(along(field, begin, end, text, sides, (7.5, 13.0, 18.5, 24.0), PAST, beyond=14.0), text)

    def heights(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing, is_first: bool) -> None:
        """How high the molding is, at the left end; and how far it rises, at the right of what climbs."""
        unit = self.built.scene.units
        if is_first and self.front is not None:
            low, high = self.front.strips[0].foot[1], self.front.strips[-1].top[1]
            up = self.run.elements[row[0].index].height
            x = self.flat.left_end(row[0])
            begin, end = place.point((x, low + up)), place.point((x, high + up))
            sides: list[tuple[Way, float, float]] = [((-1.0, 0.0), 0.0, 0.0)]
            text = length_text(high - low, unit)
            canvas.add(along(field, begin, end, text, sides, (7.0, 10.0, 13.0), 1.5), text)
        for first, last in _climbs(row, self.run):
            begin_height, end_height = self.run.elements[first.index].height, self.run.elements[last.index].end_height
            if abs(end_height - begin_height) < 0.5 or self.front is None:
                continue
            foot = self.front.strips[0].foot[1]
            x = last.end if end_height > begin_height else first.begin
            begin, end = place.point((x, foot + begin_height)), place.point((x, foot + end_height))
            way = (1.0, 0.0) if end_height > begin_height else (-1.0, 0.0)
            text = f"rise {length_text(abs(end_height - begin_height), unit)}"
            rows = tuple(6.0 + 6.0 * i for i in range(8))
            canvas.add(along(field, begin, end, text, [(way, 0.0, 0.0)], rows, 1.5), text)

    def pitches(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing) -> None:
        """How steep each raked stretch is, beside it."""
        for stretch in row:
            element = self.run.elements[stretch.index]
            if not element.slope or element.bend or not stretch.pieces:
                continue
            begin, end = (np.nanmean(self.flat.places(stretch, at_end), axis=0).tolist() for at_end in (False, True))
            text = f"pitch {degrees_text(abs(math.atan(element.slope)))}"
            targets: list[tuple[Point, Way]] = []
            for share in (0.3, 0.7, 0.4, 0.6):
                at = stretch.begin + share * (stretch.end - stretch.begin)
                share_of = (at - begin[0]) / max(end[0] - begin[0], 1e-9)
                spot = place.point((at, begin[1] + share_of * (end[1] - begin[1])))
                steep = math.hypot(1.0, element.slope)
                targets.append((spot, (-element.slope / steep, 1.0 / steep)))
                targets.append((spot, (element.slope / steep, -1.0 / steep)))
            canvas.add(note(field, targets, text), text)

    def tags_in(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing) -> None:
        """The tags of all pieces of a row, those at one place side by side, above it."""
        radius = tag_radius(self.tags)
        for numbers, at, stretch in self.groups(row):
            mine = sorted((self.tags[number] for number in numbers), key=int)
            low, high = self.span(stretch, at)
            targets: list[tuple[Point, Way]] = []
            for share in (0.5, 0.3, 0.7):
                x = at + (share - 0.5) * (stretch.end - stretch.begin) if at not in (stretch.begin, stretch.end) else at
                low, high = self.span(stretch, x)
                targets.append((place.point((x, low + 0.55 * (high - low))), (0.0, 1.0)))
            lift = (high - low) * 0.45 * place.d
            found = callout(field, targets, (radius * len(mine), radius), least=lift + 3.5, back=30.0)
            if found is None:
                canvas.tags_lost += len(mine)
                canvas.left_out += mine
                continue
            middle, leader = found
            canvas.marks += [*leader, *tag_marks(mine, middle, radius)]

    def groups(self, row: Sequence[Stretch]) -> Iterator[tuple[list[int], float, Stretch]]:
        """The pieces of a row by place, with the place on the unrolled wall line."""
        found: dict[float, list[int]] = {}
        for number, piece in enumerate(self.built.pieces):
            if piece.run == self.run.name:
                found.setdefault(travel_order(piece), []).append(number)
        for order, numbers in found.items():
            piece = self.built.pieces[numbers[0]]
            stretch = self.stretches[piece.index - 1]
            if stretch not in row:
                continue
            if order == piece.index:
                at = (stretch.begin + stretch.end) / 2
            elif piece.role == "block":  # its half on this side of the fold
                at = stretch.begin + self.flat.set_back(stretch, False) / 2
            else:
                at = stretch.begin if order < piece.index else stretch.end
            yield numbers, at, stretch

    def numbers(self, canvas: Canvas, field: Field, row: Sequence[Stretch], place: Placing) -> None:
        """The numbers of the corners of a row, above the folds."""
        for number, at, stretch in self.numbered(row):
            _, high = self.span(stretch, at)
            x, y = place.point((at, high))
            past = PAST if self.turns_at(at) else 0.0  # above the fold's line, where there is one
            half = number_size(str(number))
            box = callout(field, [((x, y + past), (0.0, 1.0))], half, least=0.3, dot=False, turns=UPWARD, back=150.0)
            if box is None:
                canvas.left_out.append(f"corner {number}")
                continue
            middle, leader = box
            canvas.marks += [*leader, *number_marks(str(number), middle)]

    def numbered(self, row: Sequence[Stretch]) -> Iterator[tuple[int, float, Stretch]]:
        """The corners of a row with their places; the one in which a closed run begins stands at its end as well."""
        last = row[-1]
        for number, corner in self.corners:
            found = self.place_of(corner, row)
            if found is not None:
                yield number, *found
            if self.run.closed and last is self.stretches[-1] and corner.station < 1e-6:
                yield number, last.end, last

    def turns_at(self, at: float) -> bool:
        """Whether there is a fold at a place on the unrolled wall line."""
        whole = self.stretches[-1].end if self.run.closed else math.inf
        turns = zip(self.stretches, self.run.turns, strict=True)
        return any(
            abs(turn) > AWKWARD and min(abs(stretch.begin - at), abs(stretch.begin + whole - at)) < 1.0
            for stretch, turn in turns
        )

    def place_of(self, corner: Corner, row: Sequence[Stretch]) -> tuple[float, Stretch] | None:
        """Where on the unrolled wall line a corner is, if it is in a row."""
        path = self.job.paths[self.run.name]
        for stretch in row:
            element = self.run.elements[stretch.index]
            walked = corner.station - path.starts[stretch.index]
            whole = element.walked(element.length)
            if -1e-6 <= walked <= whole + 1e-6:
                return stretch.begin + element.length * min(max(walked / max(whole, 1e-9), 0.0), 1.0), stretch
        return None


def _climbs(row: Sequence[Stretch], run: Run) -> Iterator[tuple[Stretch, Stretch]]:
    """The unbroken climbs of a row: their first and their last stretch."""
    first: Stretch | None = None
    for stretch in row:
        element = run.elements[stretch.index]
        if element.slope or element.bend:
            first = first or stretch
            last = stretch
        elif first is not None:
            yield first, last
            first = None
    if first is not None:
        yield first, last
