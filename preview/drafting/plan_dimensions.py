"""The dimensions of a plan: lengths along its walls, radii, angles, and how large the whole is."""

from __future__ import annotations

import math

from preview.drafting.dimensions import ROWS, Way, along, angle, note, radius
from preview.drafting.plan_lines import InPlan, extremes, turned_way
from preview.drafting.scales import length_text
from preview.drafting.spans import SAME, SQUARE, climb_text, length_of, splays, stretches
from preview.joinery import into_room
from preview.paper import Placing
from preview.profiles import Arc, Point
from preview.runs import Run
from preview.units import Unit, degrees_text

BESIDE, CHAINED = 4.0, 14.0
"""What it costs to write a length past its line's end; more where the next begins there, which it would seem to be."""

ALONG = 0.999
"""The cosine of the angle within which a straight tells how large the whole is that way."""


def lengths(plan: InPlan) -> None:
    """The length of every straight, and of those in one line their sum."""
    unit = plan.built.scene.units
    rows: list[tuple[Run, Placing, list[int]]] = []
    for run, place, _ in plan.walls:
        rows += [(run, place, row) for row in stretches(run)]
    for run, place, row in sorted(rows, key=lambda each: -length_of(each[0], each[2])):
        first, last = run.elements[row[0]], run.elements[row[-1]]
        sides = _sides(plan, run, place, first.tangent)
        for i in row:
            element = run.elements[i]
            if any(i in splay[1:] for splay in splays(run)):
                continue  # told with the first
            facets = next((len(splay) for splay in splays(run) if i == splay[0]), 1)
            begin, end = (plan.page.point(place.point(at)) for at in (element.start, element.end))
            text = (f"{facets} × " if facets > 1 else "") + length_text(element.length, unit)
            text += climb_text(element, unit)
            past = CHAINED if len(row) > 1 else BESIDE
            plan.canvas.add(along(plan.field, begin, end, text, sides, beyond=past), text)
        if len(row) > 1:
            begin, end = (plan.page.point(place.point(at)) for at in (first.start, last.end))
            text = length_text(length_of(run, row), unit)
            plan.canvas.add(along(plan.field, begin, end, text, sides, ROWS[1:]), text)


def _sides(plan: InPlan, run: Run, place: Placing, tangent: Point) -> list[tuple[Way, float, float]]:
    nx, ny = turned_way(place, into_room(tangent, run.hand))
    return [((-nx, -ny), 0.0, 0.0), ((nx, ny), plan.reach * plan.page.a, 4.0)]


def curves(plan: InPlan) -> None:
    """The radius of every curve, and its angle where it is neither a quarter nor half a turn."""
    unit = plan.built.scene.units
    for run, _, row in plan.walls:
        for element, edge in zip(run.elements, row, strict=True):
            if not isinstance(edge, Arc):
                continue
            text = f"R {length_text(element.radius, unit)}"
            quarters = abs(element.sweep) / (math.pi / 2)
            if abs(quarters - round(quarters)) > 1e-6:
                text += f", {degrees_text(abs(element.sweep))}"
            placed = plan.page.edge(edge)
            assert isinstance(placed, Arc)
            wraps = run.hand * element.sweep < 0
            taken = (plan.reach * plan.page.a, 0.0) if wraps else (0.0, plan.reach * plan.page.a)
            plan.canvas.add(radius(plan.field, placed, text, taken), text)


def angles(plan: InPlan) -> None:
    """The angle between the walls at every corner that is not square."""
    for run, place, _ in plan.walls:
        of_splays = {i for splay in splays(run) for i in range(splay[0], splay[-1] + 2)}
        for splay in splays(run):
            middle = run.elements[splay[len(splay) // 2]]
            at = middle.point(0.0 if len(splay) % 2 == 0 else middle.length / 2)
            way = turned_way(place, into_room(middle.tangent, run.hand))
            text = f"{len(splay) + 1} × {degrees_text(math.pi - abs(run.turns[splay[0]]))}"
            targets = [(plan.page.point(place.point(at)), (-way[0], -way[1])), (plan.page.point(place.point(at)), way)]
            plan.canvas.add(note(plan.field, targets, text), text)
        for i, turn in enumerate(run.turns):
            if i in of_splays:
                continue
            if abs(turn) < 1e-9 or abs(abs(turn) - math.pi / 2) < SQUARE:
                continue
            after, before = run.elements[i], run.elements[i - 1]
            corner = plan.page.point(place.point(after.start))
            bx, by = turned_way(place, before.end_tangent)
            inside = run.hand * turn > 0
            text = degrees_text(math.pi - abs(turn))
            least = plan.reach * plan.page.a if inside else 0.0
            plan.canvas.add(angle(plan.field, corner, (-bx, -by), turned_way(place, after.tangent), text, least), text)


def overall(plan: InPlan) -> None:
    """How large the whole is, across and up, where no straight says so already."""
    unit = plan.built.scene.units
    ends = [plan.page.point(at) for _, _, row in plan.walls for edge in row for at in extremes(edge)]
    if sum(len(row) for _, _, row in plan.walls) < 2:
        return
    known = [
        (length_of(run, row), turned_way(place, run.elements[row[0]].tangent))
        for run, place, _ in plan.walls
        for row in stretches(run)
    ]
    for axis in (0, 1):
        first, last = min(ends, key=lambda at: at[axis]), max(ends, key=lambda at: at[axis])
        length = (last[axis] - first[axis]) / plan.page.a
        text = length_text(length, unit)
        if length < SAME or any(_reads(text, long, unit) and abs(way[axis]) > ALONG for long, way in known):
            continue
        other = 1 - axis
        starts: list[tuple[Point, Point]] = []
        low, high = min(at[other] for at in ends), max(at[other] for at in ends)
        begin, end = list(first), list(last)
        begin[other] = end[other] = (low + high) / 2
        half = (high - low) / 2 + plan.reach * plan.page.a
        ways = [(0.0, 1.0), (0.0, -1.0)] if axis == 0 else [(-1.0, 0.0), (1.0, 0.0)]
        rows = [11.5 + 4.5 * i for i in range(9)]
        sides = [(ways[0], half, 0.0), (ways[1], half, 1.0)]
        for way in ways:  # extension lines start where they are shortest
            near = sorted(ends, key=lambda at: -at[other] * way[other])
            starts.append(
                (
                    next(at for at in near if at[axis] < first[axis] + SAME),
                    next(at for at in near if at[axis] > last[axis] - SAME),
                )
            )
        marks = along(plan.field, (begin[0], begin[1]), (end[0], end[1]), text, sides, rows, starts=starts)
        plan.canvas.add(marks, text)


def _reads(text: str, mm: float, unit: Unit) -> bool:
    """Whether a length reads as that text, exactly or about."""
    return length_text(mm, unit).lstrip("≈") == text.lstrip("≈")
