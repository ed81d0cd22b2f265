"""The plan: wall lines, molding, lengths, radii, angles, tags and corners; and the same on the face of a wall."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from preview.build import Built
from preview.drafting.casing import casing_sizes, casing_tags, casings_beside, openings
from preview.drafting.dimensions import Way, callout, edge_lines
from preview.drafting.drawing import (
    ASIDE,
    EDGE,
    LEAST_FOOT,
    ROOM,
    Canvas,
    Drawing,
    best_fit,
    finished,
    finished_beside,
    foot_width,
    footing,
    stem,
)
from preview.drafting.grounds import (
    Ground,
    around_marks,
    element_edge,
    grounds_of,
    molding_lines,
    numbers_of,
    reach,
    size_of,
)
from preview.drafting.labels import Field
from preview.drafting.plan_dimensions import angles, curves, lengths, overall
from preview.drafting.plan_lines import InPlan, Wall, thinned, turned_way, unit_way
from preview.drafting.scales import Scale, largest, length_text, scales
from preview.drafting.spans import climbs, run_names
from preview.drafting.tags import number_marks, number_size, piece_tags, tag_marks, tag_radius, travel_order
from preview.joinery import into_room
from preview.paper import INK, SOFT, Box, Clipped, Page, Placing, Trace, stroke
from preview.profiles import Point
from preview.units import counted
from preview.vantage import Corner, Job, corners_of, job_of, joint_places

WALL, OUTLINE, ARRIS, FLOOR = 0.7, 0.35, 0.18, 0.5
"""mm: the wall line, the molding's outline, its arrises, the floor. Of the series 0.18, 0.25, 0.35, 0.5, 0.7, thick to
thin two to one (ISO 128, from memory)."""
FITS = 1e-6
CROWDED = 11.0
"""mm on the page of wall line to a piece, on the average; with less, lengths are left to the table."""
AROUND = 9.0
"""mm of the surroundings shown round the molding."""
NAMES = {"plan": "Plan", "reflected": "Reflected plan", "wall": "Elevation"}
TOLD = {
    "plan": "Seen from above.",
    "reflected": "The molding is looked up at and drawn as the floor plan lies, as if in a mirror on the floor.",
    "wall": "Seen square to the wall.",
}
LINES = {"plan": "the wall line", "reflected": "the wall line", "wall": "the line of the run, the edge of the opening"}


def plan_drawing(built: Built, room: tuple[float, float] = ROOM) -> Drawing:
    """The first plan of a job, at the largest usual scale at which it fits a room (width, height) on paper, mm."""
    return plan_drawings(built, room, most=1)[0]


def plan_drawings(built: Built, room: tuple[float, float] = ROOM, most: int | None = None) -> list[Drawing]:
    """Every plan that it takes to show all runs; of those on the face of a wall the elevation. most: of them.

    What is looked up at, as a crown, has a reflected plan. Runs over each other have a plan each.
    """
    job = job_of(built)
    corners = corners_of(job, joint_places(job))
    tags = piece_tags(built)
    grounds = grounds_of(job)[:most]
    found: list[Drawing] = []
    for ground in grounds:
        found.append(_Plan(job, ground, corners, tags, room).drawing(room, len(grounds) > 1))
    return found


class _Plan:
    """One plan of a job, before its scale is known."""

    def __init__(
        self,
        job: Job,
        ground: Ground,
        corners: Sequence[Corner],
        tags: Sequence[str],
        room: tuple[float, float],
    ) -> None:
        self.job, self.ground, self.corners, self.tags = job, ground, corners, tags
        self.built = job.built
        factor = largest(scales(self.built.scene.units), size_of(self.built, ground), room).factor
        self.lines = molding_lines(self.built, ground, scale=factor)
        self.doors = [] if ground.kind == "wall" else casings_beside(self.built, ground)
        others = {i for door in self.doors for i in door.pieces}
        if ground.kind == "wall":
            others = {i for i, piece in enumerate(self.built.pieces) if piece.stand.z != ground.runs[0].stand.z}
        self.beside = molding_lines(self.built, ground, others, factor) if others else []
        self.reach = reach(self.built, ground.names)
        self.walls: list[Wall] = []
        for run in ground.runs:
            place = ground.placing(run)
            self.walls.append((run, place, [place.edge(element_edge(element)) for element in run.elements]))
        edges = [edge for _, _, row in self.walls for edge in row] + [e for line in self.lines for e in line.edges]
        boxes = np.array([edge.bounds for edge in edges])
        self.box: Box = (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())

    def drawing(self, room: tuple[float, float], several: bool) -> Drawing:
        """The drawing, fitted to a room."""
        kind, unit = self.ground.kind, self.built.scene.units
        names = [run.name for run in self.ground.runs]
        name = f"{NAMES[kind]}{f' of {run_names(names)}' if several or kind == 'wall' else ''}"
        size = (self.box[2] - self.box[0], self.box[3] - self.box[1])

        def draw(scale: Scale) -> tuple[Canvas, Callable[[Canvas], Page]]:
            wide = foot_width(size[0] * scale.factor, room)
            tall = footing(name, self.notes(scale, ("x",)), wide)[1] + 5.0
            space = (room[0] - 2 * EDGE, room[1] - 2 * EDGE - tall)
            canvas = self.drawn(scale.factor, space)
            return canvas, lambda each: finished(each, name, self.notes(scale, each.left_out), room)

        def draw_beside(scale: Scale) -> tuple[Canvas, Callable[[Canvas], Page]]:
            space = (room[0] - 2 * EDGE - ASIDE - LEAST_FOOT, room[1] - 2 * EDGE)
            canvas = self.drawn(scale.factor, space)
            return canvas, lambda each: finished_beside(each, name, self.notes(scale, each.left_out))

        scale, canvas, page = best_fit(scales(unit), room, size, draw)
        if size[1] > size[0] and size[0] * scale.factor < room[0] - 2 * EDGE - ASIDE - LEAST_FOOT:
            other = best_fit(scales(unit), room, size, draw_beside)
            fits = other[2].width <= room[0] + FITS and other[2].height <= room[1] + FITS
            if other[0].factor > scale.factor and fits and len(other[1].left_out) <= len(canvas.left_out):
                scale, canvas, page = other
        key = {"plan": "plan", "reflected": "plan", "wall": "elevation"}[kind]
        file = stem(key, *names) if several or kind == "wall" else key
        count = len(numbers_of(self.built, self.ground.names))
        words = (
            f"{name}: {counted(count, 'piece')} along {run_names(names)}, with "
            f"{self.measured() if self.measured().startswith('level') else f'lengths {self.measured()}'}"
        )
        left_out = (*(["lengths of pieces"] if self.crowded(scale.factor) else []), *canvas.left_out)
        return Drawing(file, name, page, scale.name, f"{words}, tags and corners.", left_out)

    def notes(self, scale: Scale, left_out: Sequence[str]) -> list[str]:
        """What is said under the drawing."""
        unit = self.built.scene.units
        what = "inches" if unit == "in" else "feet and inches" if unit == "ft" else "millimeters"
        found = [f"Scale: {scale.name}. {TOLD[self.ground.kind]}"]
        found.append(f"Lengths in {what}, {self.measured()}.{self.level()}")
        mine = any(self.mine(corner) for corner in self.corners)
        found.append(f"In circles: pieces.{' In boxes: corners, numbered as in the pictures.' if mine else ''}")
        if self.crowded(scale.factor):
            found[-1] += " Lengths in the table."
        elif left_out:
            count = len(left_out)
            found[-1] += f" {count} dimension{'' if count == 1 else 's'} not shown here: lengths in the table."
        return found

    def measured(self) -> str:
        """On which line the lengths are, and whether they are level ones of what climbs."""
        level = "level lengths " if any(climbs(run) for run in self.ground.runs) else ""
        return f"{level}on {LINES[self.ground.kind]}"

    def level(self) -> str:
        """How high the molding's foot stands, where that is not on the floor and the same for all."""
        levels = {round(run.level, 6) for run in self.ground.runs}
        if self.ground.kind == "wall" or len(levels) > 1 or levels == {0.0}:
            return ""
        unit = self.built.scene.units
        begins = " where the run begins" if any(climbs(run) for run in self.ground.runs) else ""
        after = "" if unit in ("in", "ft") else " mm"
        return f" Foot of the molding at {length_text(levels.pop(), unit)}{after}{begins}."

    def mine(self, corner: Corner) -> bool:
        """Whether a corner belongs to this plan."""
        return list(self.job.paths)[corner.path] in self.ground.names

    def drawn(self, factor: float, space: tuple[float, float]) -> Canvas:
        """Everything but the words below, about (0, 0), for a space (width, height), mm."""
        middle = ((self.box[0] + self.box[2]) / 2, (self.box[1] + self.box[3]) / 2)
        page = Placing(factor, 0.0, 0.0, factor, -factor * middle[0], -factor * middle[1])
        room = (-space[0] / 2, -space[1] / 2, space[0] / 2, space[1] / 2)
        # The lines need not stand in the middle of the space: labels may take more of it on one side.
        slack = (space[0] - factor * (self.box[2] - self.box[0]), space[1] - factor * (self.box[3] - self.box[1]))
        wide = (room[0] - slack[0] / 4, room[1] - slack[1] / 4, room[2] + slack[0] / 4, room[3] + slack[1] / 4)
        field = Field(wide if min(slack) > 0 else room)
        canvas = Canvas()
        self._lines(canvas, field, page)
        plan = InPlan(self.built, self.ground, self.walls, self.reach, page, canvas, field)
        crowded = self.crowded(factor)
        if not crowded:
            lengths(plan)
        overall(plan)
        if not crowded:
            curves(plan)
            angles(plan)
        if self.ground.kind == "wall":
            casing_sizes(plan)
        else:
            openings(plan, self.doors)
        self._tags(canvas, field, page)
        casing_tags(plan, self.doors, self.tags)
        self._numbers(canvas, field, page)
        return canvas

    def crowded(self, factor: float) -> bool:
        """Whether the pieces come so close upon each other on the page that only their tags can be read."""
        edges = [edge for _, _, row in self.walls for edge in row]
        return factor * math.fsum(edge.length for edge in edges) < CROWDED * len(edges)

    def _lines(self, canvas: Canvas, field: Field, page: Placing) -> None:
        """Surroundings, molding and wall lines."""
        low, high = page.point((self.box[0], self.box[1])), page.point((self.box[2], self.box[3]))
        window = (low[0] - AROUND, low[1] - AROUND, high[0] + AROUND, high[1] + AROUND)
        if self.ground.kind != "wall":
            around = around_marks(self.built, self.ground, page, window)
            if around:
                canvas.marks.append(Clipped(window, tuple(around)))
                for trace in around:
                    field.draw(np.concatenate([edge_lines(edge) for edge in trace.edges]), 5.0, 0.1)
        beside = [Trace(page.edges(line.edges), ARRIS, SOFT) for line in self.beside if line.outline and line.edges]
        if beside:
            canvas.marks.append(Clipped(window, tuple(beside)))
            for trace in beside:
                field.draw(np.concatenate([edge_lines(edge) for edge in trace.edges]), 3.0, 0.1)
        if self.ground.kind == "wall":
            self._floor(canvas, page)
        for line in thinned(self.lines, page.a):
            edges = page.edges(line.edges)
            canvas.marks.append(Trace(edges, OUTLINE if line.outline else ARRIS))
            field.draw(np.concatenate([edge_lines(edge) for edge in edges]), 20.0, 3.0)
        for _, _, row in self.walls:
            edges = page.edges(row)
            canvas.marks.append(Trace(edges, WALL))
            field.draw(np.concatenate([edge_lines(edge) for edge in edges]), 30.0, 5.0)

    def _floor(self, canvas: Canvas, page: Placing) -> None:
        """The floor, where what is on the wall comes down to it."""
        tops = [thing.top for thing in self.built.scene.surroundings if thing.kind == "floor"]
        low, high = page.point((self.box[0], self.box[1])), page.point((self.box[2], self.box[1]))
        if self.ground.up == (0.0, 0.0, 1.0) and any(abs(top - self.box[1]) < 1.0 for top in tops):
            canvas.marks.append(stroke((low[0] - AROUND, low[1]), (high[0] + AROUND, low[1]), weight=FLOOR, ink=INK))

    def _tags(self, canvas: Canvas, field: Field, page: Placing) -> None:
        """The tags of all pieces, those at one place side by side."""
        groups: dict[tuple[str, float], list[int]] = {}
        for number in numbers_of(self.built, self.ground.names):
            piece = self.built.pieces[number]
            groups.setdefault((piece.run, travel_order(piece)), []).append(number)
        radius = tag_radius(self.tags)
        for numbers in groups.values():
            mine = sorted((self.tags[number] for number in numbers), key=int)
            half = (radius * len(mine), radius)
            found = callout(field, self._targets(numbers, page), half)
            if found is None:
                canvas.tags_lost += len(mine)
                canvas.left_out += mine
                continue
            middle, leader = found
            canvas.marks += [*leader, *tag_marks(mine, middle, radius)]

    def _targets(self, numbers: Sequence[int], page: Placing) -> list[tuple[Point, Way]]:
        """Places on pieces that lie at one place of a run, and the ways out from the wall there."""
        piece = self.built.pieces[numbers[0]]
        run, place, _ = next(wall for wall in self.walls if wall[0].name == piece.run)
        element = run.elements[piece.index - 1]
        if piece.role != "molding" or element.length < 1e-6:
            points = self.ground.flat(np.concatenate([self.built.meshes[i].points for i in numbers]))
            low, high = points.min(axis=0), points.max(axis=0)
            way = turned_way(place, into_room(element.tangent, run.hand))
            return [(page.point((float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)), way)]
        found: list[tuple[Point, Way]] = []
        for share in (0.5, 0.3, 0.7):
            station = share * element.length
            way = into_room(element.tangent_at(station), run.hand)
            x, y = element.point(station)
            out = 0.6 * self.reach
            found.append((page.point(place.point((x + out * way[0], y + out * way[1]))), turned_way(place, way)))
        return found

    def _numbers(self, canvas: Canvas, field: Field, page: Placing) -> None:
        """The numbers of corners, on either side of the wall line."""
        for number, corner in enumerate(self.corners, start=1):
            if not self.mine(corner):
                continue
            flat = self.ground.flat(np.array([corner.at, corner.spot.room]))
            at = page.point((float(flat[0][0]), float(flat[0][1])))
            way = unit_way(flat[1]) or self._outward(at)
            targets = [(at, (-way[0], -way[1])), (at, way)]
            found = callout(field, targets, number_size(str(number)), least=2.2, dot=False, back=0.5)
            if found is None:
                canvas.left_out.append(f"corner {number}")
                continue
            middle, leader = found
            canvas.marks += [*leader, *number_marks(str(number), middle)]

    @staticmethod
    def _outward(at: Point) -> Way:
        """Away from the middle of the drawing."""
        long = math.hypot(*at)
        return (at[0] / long, at[1] / long) if long > 1e-6 else (0.0, 1.0)
