"""Corners as isometrics: each distinct one cut out of its run, seen from the room, with what is hidden left out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.dimensions import Way, callout, edge_lines, note
from preview.drafting.drawing import EDGE, Canvas, Drawing, best_fit, finished, foot_width, footing
from preview.drafting.edges import seen_lines
from preview.drafting.hidden import Seen
from preview.drafting.labels import Field
from preview.drafting.profile import lining
from preview.drafting.scales import Scale, largest, scales
from preview.drafting.snippets import Snippet, snippet, turn_of
from preview.drafting.tags import piece_tags, tag_marks, tag_radius
from preview.drafting.views import ISOMETRIC, View, isometric
from preview.joinery import Piece
from preview.paper import FINE, LINING, WOOD, Page, Trace
from preview.profiles import Line, Point
from preview.runs import IN_PLAN
from preview.units import degrees_text, listed
from preview.vantage import Corner, Job, corner_names, corners_of, end_outline, job_of, joint_places, on_piece

Floats = NDArray[np.float64]

CORNER_ROOM = (128.0, 100.0)
"""mm, what a corner by itself is fitted to."""
AXES = math.sqrt(1.5)
"""An isometric shows its three axes 1/sqrt(1.5) as long as they are; enlarged by this they measure to the scale."""
OUTLINE, ARRIS, JOINT = 0.35, 0.18, 0.25
"""mm; thick to thin two to one, of the series 0.18, 0.25, 0.35, 0.5, 0.7 (ISO 128, from memory)."""
FACING = 0.05
"""A cut end is seen where it looks at least so much toward whoever looks."""
STRAIGHT_ON = 0.2
"""Radians; a run that turns by less is looked at aslant."""
JOINT_WORDS = {"tangent": "smooth joint", "miter": "mitered", "cope": "coped", "block": "butt joint"}
"""What a joint is called where that is not its kind: the angle told with it is the corner's, not a saw's."""
LABEL_SPACE = 13.0
"""mm kept on every side for tags."""


def corner_drawings(built: Built, room: tuple[float, float] = CORNER_ROOM) -> list[Drawing]:
    """An isometric of every distinct corner, numbered as in the pictures; others that look alike are named with it."""
    job = job_of(built)
    corners = corners_of(job, joint_places(job))
    names = corner_names(job, corners)
    tags = piece_tags(built)
    groups: dict[tuple[object, ...], list[tuple[int, Corner, Snippet]]] = {}
    for number, corner in enumerate(corners, start=1):
        cut = snippet(job, corner)
        if cut is not None:
            groups.setdefault(cut.shape, []).append((number, corner, cut))
    found: list[Drawing] = []
    for group in groups.values():
        number, corner, cut = group[0]
        others = [other for other, _, _ in group[1:]]
        name = names[number - 1]
        found.append(_Corner(job, corner, cut, tags, room).drawing(number, name, others, room))
    return found


class _Corner:
    """One corner's isometric, before its scale is known."""

    def __init__(self, job: Job, corner: Corner, cut: Snippet, tags: Sequence[str], room: tuple[float, float]) -> None:
        self.corner, self.cut = corner, cut
        self.little = job_of(cut.built)
        self.all_tags = tags
        (placed,) = cut.built.scene.runs
        self.run = placed.run
        self.view = self.look(job)
        flat = np.concatenate([self.view.project(mesh.points)[:, :2] for mesh in cut.built.meshes])
        wide, high = (np.ptp(flat, axis=0) * AXES).tolist()
        factor = largest(scales(cut.built.scene.units), (wide, high), room).factor
        self.seen = seen_lines(cut.built, self.view, around=False, scale=factor * AXES)
        points = np.concatenate([line.points for line in self.seen])
        self.low, self.high = points.min(axis=0) * AXES, points.max(axis=0) * AXES

    def look(self, job: Job) -> View:
        """From the room, at 45 degrees to both walls of a square corner; from below what is looked up at."""
        room = self.corner.spot.room
        if self.run.stand != IN_PLAN:
            out = np.array(self.run.stand.z)
            ends = sum(
                (np.array(way) for way in self.ends()),
                np.zeros(3),
            )
            side = np.cross((0.0, 0.0, 1.0), out)
            aside = math.pi / 4 if float(ends @ side) > 0 else -math.pi / 4
            down = ISOMETRIC if float(ends[2]) > 0.1 else -ISOMETRIC
            return isometric(math.atan2(-out[1], -out[0]) + aside, down)
        heading = math.atan2(-room[1], -room[0])
        if abs(turn_of(self.run)) < STRAIGHT_ON and not any(
            self.cut.built.pieces[i].role == "return" for i in range(len(self.cut.pieces))
        ):
            heading += math.pi / 4
        down = ISOMETRIC if job.run_look(self.run.name).slope > 0 else -ISOMETRIC
        return isometric(heading, down)

    def ends(self) -> list[Floats]:
        """The ways out of the ends that are cut off."""
        stand = np.array([self.run.stand.x, self.run.stand.y])
        found = []
        if self.cut.cut[0]:
            found.append(-np.array(self.run.elements[0].tangent) @ stand)
        if self.cut.cut[1]:
            found.append(np.array(self.run.elements[-1].end_tangent) @ stand)
        return found

    def drawing(self, number: int, name: str, others: Sequence[int], room: tuple[float, float]) -> Drawing:
        """The drawing, fitted to a room."""
        size = (float(self.high[0] - self.low[0]), float(self.high[1] - self.low[1]))
        what = "block" if name.startswith("Block") else "corner"
        also = f"; also {what}{'' if len(others) == 1 else 's'} {listed(map(str, others))}" if others else ""
        below = self.view.up[2] > 0 and self.view.ahead[2] > 0
        title = f"{name}{also}"

        def notes(scale: Scale) -> list[str]:
            side = "below" if below else "above"
            return [f"Isometric from the room, seen from {side}.", f"Scale along the axes: {scale.name}."]

        def draw(scale: Scale) -> tuple[Canvas, Callable[[Canvas], Page]]:
            tall = footing(title, notes(scale), foot_width(0.0, room))[1] + 5.0
            canvas = self.drawn(scale.factor, (room[0] - 2 * EDGE, room[1] - 2 * EDGE - tall))
            return canvas, partial(_finish, title, notes(scale), room)

        inner = (room[0] - 2 * LABEL_SPACE, room[1] - 2 * LABEL_SPACE - 12.0)
        usual = list(scales(self.cut.built.scene.units))
        sizes = [s for s in usual if size[0] * s.factor <= inner[0] and size[1] * s.factor <= inner[1]]
        scale, canvas, page = best_fit(sizes or usual[-1:], room, size, draw)
        words = f"{name}, cut out and seen from the room in isometric projection, with its pieces' tags."
        return Drawing(f"corner-{number}", title, page, scale.name, words, tuple(canvas.left_out))

    def drawn(self, factor: float, space: tuple[float, float]) -> Canvas:
        """Lines, cut ends and labels, about (0, 0)."""
        canvas = Canvas()
        middle = (self.low + self.high) / 2

        def page(points: Floats) -> Floats:
            found: Floats = (points * AXES - middle) * factor
            return found

        room = (-space[0] / 2, -space[1] / 2, space[0] / 2, space[1] / 2)
        field = Field(room)
        self.sections(canvas, page)
        for line in sorted(self.seen, key=lambda each: each.outline):
            points = page(line.points)
            edges = tuple(Line(_point(a), _point(b)) for a, b in pairwise(points) if (a != b).any())
            if not edges:
                continue
            canvas.marks.append(Trace(edges, self.weight(line)))
            field.draw(np.concatenate([edge_lines(edge) for edge in edges]), 40.0, 0.6)
        self.tags(canvas, field, page)
        self.joints(canvas, field, page)
        return canvas

    @staticmethod
    def weight(line: Seen) -> float:
        """How heavy a line is drawn."""
        return OUTLINE if line.outline else JOINT if line.kind in ("joint", "rim") else ARRIS

    def sections(self, canvas: Canvas, page: Callable[[Floats], Floats]) -> None:
        """The cut ends that look toward whoever looks, filled and lined."""
        toward = -np.array(self.view.ahead)
        ways = [*self.ends()]
        flags = [flag for flag in (False, True) if self.cut.cut[int(flag)]]
        count = len(self.run.elements)
        for way, at_end in zip(ways, flags, strict=True):
            if float(way @ toward) < FACING:
                continue
            number = count if at_end else 1
            falling = False
            for piece, mesh in zip(self.cut.built.pieces, self.cut.built.meshes, strict=True):
                if piece.index != number or piece.role != "molding":
                    continue
                flat = page(self.view.project(end_outline(mesh, at_end))[:, :2])
                edges = tuple(
                    Line(_point(a), _point(b))
                    for a, b in zip(flat, np.roll(flat, -1, axis=0), strict=True)
                    if (a != b).any()
                )
                canvas.marks.append(Trace(edges, 0.0, WOOD, WOOD))
                canvas.marks.append(Trace(lining(flat, falling), FINE, LINING))
                falling = not falling

    def tags(self, canvas: Canvas, field: Field, page: Callable[[Floats], Floats]) -> None:
        """Each piece's tag, with a leader to its face."""
        radius = tag_radius(self.all_tags)
        for number, piece in enumerate(self.cut.built.pieces):
            targets = [self.target(number, piece, share, page) for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
            tag = self.all_tags[self.cut.pieces[number]]
            found = callout(field, targets, (radius, radius), back=2.0)
            if found is None:
                canvas.tags_lost += 1
                canvas.left_out.append(tag)
                continue
            middle, leader = found
            canvas.marks += [*leader, *tag_marks([tag], middle, radius)]

    def target(self, number: int, piece: Piece, share: float, page: Callable[[Floats], Floats]) -> tuple[Point, Way]:
        """A place on a piece's face, on the page, and the way out of the drawing there."""
        look = self.little.look(number)
        mesh = self.cut.built.meshes[number]
        if piece.role == "block" or piece.element.length < 1e-6:
            points = page(self.view.project(mesh.points)[:, :2])
            flat = points.mean(axis=0)
        else:
            d, h = look.place
            begin, end = (float(each[0]) for each in piece.stations(np.array([d]), np.array([h])))
            spot = on_piece(piece, begin + share * (end - begin), d, h)
            flat = page(self.view.project(spot[None])[:, :2])[0]
        at = _point(flat)
        long = math.hypot(*at)
        return at, ((at[0] / long, at[1] / long) if long > 1.0 else (0.0, 1.0))

    def joints(self, canvas: Canvas, field: Field, page: Callable[[Floats], Floats]) -> None:
        """What the joints of the corner are called, each kind once."""
        told: set[str] = set()
        for place in joint_places(self.little):
            joint = self.cut.built.joints[place.number].joint
            text = JOINT_WORDS.get(joint.kind, joint.kind)
            if joint.turn and joint.kind not in ("tangent", "block"):
                text += f", corner {degrees_text(math.pi - abs(joint.turn))}"
            if text in told:
                continue
            told.add(text)
            at = _point(page(self.view.project(place.spot.target[None])[:, :2])[0])
            canvas.add(note(field, [(at, (0.0, 1.0)), (at, (0.0, -1.0))], text), text)


def _finish(title: str, notes: Sequence[str], room: tuple[float, float], canvas: Canvas) -> Page:
    return finished(canvas, title, notes, room)


def _point(row: Floats) -> Point:
    return (float(row[0]), float(row[1]))
