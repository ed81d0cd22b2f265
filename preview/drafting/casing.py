"""Casings: their sizes on the face of a wall; their feet, and the opening between, on the plan of the base beside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.build import Built
from preview.drafting.dimensions import ROWS, Way, along, callout, note
from preview.drafting.grounds import Floats, Ground, numbers_of, piece_range
from preview.drafting.plan_lines import InPlan, Wall, extremes, turned_way
from preview.drafting.scales import length_text
from preview.drafting.spans import SAME
from preview.drafting.tags import tag_marks, tag_radius
from preview.joinery import into_room
from preview.profiles import Point, measure
from preview.units import listed

REACHED = 1.0
"""mm that a casing has to reach into the molding's height to stand beside it."""
OPEN = 10.0
"""mm; what is narrower is no opening."""


@dataclass(frozen=True)
class Casing:
    """A casing as a plan meets it: its pieces at that height, by number, and the edges of its opening, mm."""

    run: str
    pieces: tuple[int, ...]
    edges: tuple[Point, Point] | None


def casings_beside(built: Built, ground: Ground) -> list[Casing]:
    """The casings on upright walls that come down into the height of a plan's molding."""
    mine = [piece_range(built, i) for i in numbers_of(built, ground.names)]
    low, high = min((each[0] for each in mine), default=0.0), max((each[1] for each in mine), default=0.0)
    found: list[Casing] = []
    for placed in built.scene.runs:
        stand = placed.run.stand
        if placed.run.name in ground.names or abs(stand.z[2]) > 1e-6:
            continue
        pieces = []
        for i in numbers_of(built, [placed.run.name]):
            foot, top = piece_range(built, i)
            if foot < high - REACHED and top > low + REACHED:
                pieces.append(i)
        if not pieces:
            continue
        ends = [placed.run.elements[0].start, placed.run.elements[-1].end]
        frame = np.array([stand.x, stand.y])
        spots = np.array(stand.origin) + np.array(ends) @ frame
        edges: tuple[Point, Point] | None = None
        if not placed.run.closed and all(low - REACHED < z < high + REACHED for z in spots[:, 2].tolist()):
            first, last = (_point(each) for each in ground.flat(spots))
            edges = (first, last) if math.dist(first, last) > OPEN else None
        found.append(Casing(placed.run.name, tuple(pieces), edges))
    return found


def openings(plan: InPlan, casings: Sequence[Casing]) -> None:
    """How wide the openings are between their casings, on the plan of what stands beside them."""
    unit = plan.built.scene.units
    for casing in casings:
        if casing.edges is None:
            continue
        begin, end = (plan.page.point(at) for at in casing.edges)
        long = math.dist(begin, end)
        out = _way_out(plan, casing)
        sides: list[tuple[Way, float, float]] = [
            (out, plan.reach * plan.page.a, 0.0),
            ((-out[0], -out[1]), 0.0, 1.0),
        ]
        text = f"{length_text(long / plan.page.a, unit)} opening"
        plan.canvas.add(along(plan.field, begin, end, text, sides), text)


def casing_tags(plan: InPlan, casings: Sequence[Casing], tags: Sequence[str]) -> None:
    """The tags of casings' pieces that stand in a plan's height, those over each other side by side."""
    radius = tag_radius(tags)
    for casing in casings:
        out = _way_out(plan, casing)
        for numbers, middle in _places(plan, casing):
            mine = sorted((tags[number] for number in numbers), key=int)
            found = callout(plan.field, [(plan.page.point(middle), out)], (radius * len(mine), radius))
            if found is None:
                plan.canvas.tags_lost += len(mine)
                plan.canvas.left_out += mine
                continue
            at, leader = found
            plan.canvas.marks += [*leader, *tag_marks(mine, at, radius)]


def _way_out(plan: InPlan, casing: Casing) -> Way:
    """The way out of the wall on which a casing lies."""
    stand = plan.built.pieces[casing.pieces[0]].stand
    way = plan.ground.flat(np.array(stand.z))
    return (float(way[0]), float(way[1]))


def _places(plan: InPlan, casing: Casing) -> list[tuple[list[int], Point]]:
    """The pieces of a casing that stand over each other, and the middle of the place."""
    groups: list[tuple[list[int], Floats]] = []
    for number in casing.pieces:
        points = plan.ground.flat(plan.built.meshes[number].points)
        box = np.array([points.min(axis=0), points.max(axis=0)])
        for numbers, other in groups:
            if (box[0] < other[1] - SAME).all() and (box[1] > other[0] + SAME).all():
                numbers.append(number)
                other[0], other[1] = np.minimum(box[0], other[0]), np.maximum(box[1], other[1])
                break
        else:
            groups.append(([number], box))
    return [(numbers, _point(box.mean(axis=0))) for numbers, box in groups]


def casing_sizes(plan: InPlan) -> None:
    """On the face of a wall, how wide the molding is, how far it stands back, and how large it is over all."""
    unit = plan.built.scene.units
    told: set[str] = set()
    for wall in plan.walls:
        text, targets = _width(plan, wall)
        if text and text not in told:
            told.add(text)
            plan.canvas.add(note(plan.field, targets, text), text)
    names = plan.ground.names
    casing = [i for i in numbers_of(plan.built, names) if plan.built.pieces[i].role != "block"]
    blocks = [i for i in numbers_of(plan.built, names) if plan.built.pieces[i].role == "block"]
    if not casing:
        return
    lines = [plan.page.point(at) for _, _, row in plan.walls for edge in row for at in extremes(edge)]
    left, low, right, high = _box(plan, casing)
    bottom = min([low, *(at[1] for at in lines)])
    every = _box(plan, [*casing, *blocks])
    wider = every[2] - every[0] > right - left + SAME * plan.page.a
    what = "over the casing" if blocks else "overall"
    spans: list[tuple[Point, Point, str]] = [((left, high), (right, high), what)]
    if wider:
        kinds = dict.fromkeys(plan.built.pieces[i].member for i in blocks)
        spans.append(((every[0], bottom), (every[2], bottom), f"over the {listed(kinds)} blocks"))
    top = max(high, every[3])
    for first, last, words in spans:
        text = f"{length_text(math.dist(first, last) / plan.page.a, unit)} {words}"
        other = high - bottom
        up, down = ((0.0, 1.0), 0.0, 0.0), ((0.0, -1.0), other, 14.0)
        if first[1] == bottom:
            up, down = ((0.0, 1.0), other, 14.0), ((0.0, -1.0), 0.0, 0.0)
        plan.canvas.add(along(plan.field, first, last, text, [up, down], ROWS[1:]), text)
    text = f"{length_text((top - bottom) / plan.page.a, unit)} overall"
    sides: list[tuple[Way, float, float]] = [
        ((-1.0, 0.0), 0.0, 0.0),
        ((1.0, 0.0), every[2] - every[0], 1.0),
    ]
    plan.canvas.add(along(plan.field, (every[0], bottom), (every[0], top), text, sides, ROWS[1:]), text)


def _width(plan: InPlan, wall: Wall) -> tuple[str, list[tuple[Point, Way]]]:
    """How wide the molding on a wall's face is and how far it stands back, and places on it to point at."""
    run, place, _ = wall
    unit = plan.built.scene.units
    mine = [line for line in plan.built.lines if line.run is run and line.pieces[0].role != "block"]
    if not mine:
        return "", []
    sizes = [measure(line.profile) for line in mine]
    back, out = min(size.d_min for size in sizes), max(size.d_max for size in sizes)
    text = f"{length_text(out - back, unit)} wide" + (f", reveal {length_text(back, unit)}" if back > SAME else "")
    straights = [piece.element for line in mine for piece in line.pieces if piece.role == "molding"]
    element = max(straights, key=lambda each: each.length)
    targets: list[tuple[Point, Way]] = []
    for share in (0.3, 0.7, 0.2, 0.8, 0.4, 0.6):
        station = share * element.length
        way = into_room(element.tangent_at(station), run.hand)
        x, y = element.point(station)
        off = (back + out) / 2
        targets.append((plan.page.point(place.point((x + off * way[0], y + off * way[1]))), turned_way(place, way)))
    return text, targets


def _box(plan: InPlan, numbers: Sequence[int]) -> tuple[float, float, float, float]:
    """The box round pieces, mm on the page."""
    points = np.concatenate([plan.ground.flat(plan.built.meshes[i].points) for i in numbers])
    low, high = plan.page.point(_point(points.min(axis=0))), plan.page.point(_point(points.max(axis=0)))
    return (*low, *high)


def _point(row: Floats) -> Point:
    return (float(row[0]), float(row[1]))
