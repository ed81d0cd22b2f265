"""What a person walks along a wall: the steps of a run, and how a joint between two of them is to be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

JointWay = Literal["miter", "cope", "scarf", "block"]
LEAST_TURNS, MOST_TURNS = 2, 9
"""How many corners a splayed corner may be made of."""


@dataclass(frozen=True)
class Way:
    """How the joint just before an element is to be made.

    kind: `miter` also stands for what follows by itself where no corner is (tangent and butt joints).
    coped: with a cope, the piece that is cut to the other's face. slant: with a scarf, mm along the run for each mm out
    from the wall, + where the cut runs forward (1 for 45 degrees). block: with a block, the name it is declared under.
    """

    kind: JointWay = "miter"
    coped: Literal["before", "after"] = "after"
    slant: float = 0.0
    block: str = ""


MITER = Way()


@dataclass(frozen=True)
class Straight:
    """Walk straight on for a length in mm, measured level; slope: mm risen for each mm walked, - where it falls."""

    length: float
    slope: float = 0.0


@dataclass(frozen=True)
class Corner:
    """Turn on the spot by an angle in radians, + to the left. A way of kind `block` puts a corner block there."""

    turn: float
    way: Way = MITER


@dataclass(frozen=True)
class Curve:
    """Walk an arc of the back line: a sweep in radians, + to the left, on a radius in mm."""

    sweep: float
    radius: float


@dataclass(frozen=True)
class Splay:
    """A corner made as several equal ones, with short straights of `facet` mm between them.

    ________.         . : the sharp corner, to which both straights beside it are measured
            '\\       turn: of the whole corner, radians, + to the left
               \\ facet     turns: how many corners it is made of, 2 to 9
                |
    """

    turn: float
    turns: int
    facet: float


@dataclass(frozen=True)
class Easement:
    """An arc in elevation, of a radius in mm, between two straights of one wall that differ in slope.

    Both straights are measured to the point where their two lines meet, so an easement moves nothing but itself.
    """

    radius: float


@dataclass(frozen=True)
class Block:
    """A plinth block in line, in place of molding: the name it is declared under and its width along the wall, mm."""

    name: str
    width: float


Step = Straight | Corner | Curve | Splay | Easement | Block
