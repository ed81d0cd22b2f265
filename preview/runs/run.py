"""A run laid out: its back line as straights and arcs, and how its joints and ends are to be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.runs.element import Element
from preview.runs.ends import EndWay
from preview.runs.steps import Way

Side = Literal["left", "right"]


@dataclass(frozen=True)
class Stand:
    """Where a run's own x, y and z lie in the scene: three unit vectors square to each other, and the origin (mm).

    A run along walls has the scene's own; a casing is a run whose plan is the face of a wall.
    """

    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    x: tuple[float, float, float] = (1.0, 0.0, 0.0)
    y: tuple[float, float, float] = (0.0, 1.0, 0.0)
    z: tuple[float, float, float] = (0.0, 0.0, 1.0)


IN_PLAN = Stand()


@dataclass(frozen=True)
class Run:
    """An unbroken path of molding, laid out on its back line (the wall line).

    elements: straights and arcs in the order of travel, end to end.
    turns: one per element, the corner angle in radians just before it, + to the left; 0 where the path goes on
        smoothly. In an open run the first is 0; in a closed one it is the corner between the last and the first.
    room: the side of travel the molding projects to. level: the height of the members' foot, mm.
    places: one per element, where it was written ("step 3"), for messages.
    ways: one per element, how the joint just before it is made; empty where all are mitered.
    begin, end: how the ends of an open run are cut (`ends`). raked: on climbing straights, `derived` gives each the
    profile that meets its neighbors at plumb cuts, `same` keeps the profile square to the rake, whatever that does at
    the joints.
    stand: where the run's plan lies in the scene. blocks: one per element, the block (by the name it is declared under)
    that stands there in place of molding, or ""; empty where there is none.
    """

    name: str
    elements: tuple[Element, ...]
    turns: tuple[float, ...]
    room: Side = "left"
    level: float = 0.0
    closed: bool = False
    places: tuple[str, ...] = ()
    ways: tuple[Way, ...] = ()
    begin: EndWay = "square"
    end: EndWay = "square"
    raked: Literal["derived", "same"] = "derived"
    stand: Stand = IN_PLAN
    blocks: tuple[str, ...] = ()

    @property
    def hand(self) -> int:
        """+1 when the molding projects to the left of travel, -1 to the right."""
        return 1 if self.room == "left" else -1
