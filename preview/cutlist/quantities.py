"""What a job takes: running feet, board feet, weight and finish; and what that costs where prices are given."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from preview.cutlist.making import CutList
from preview.cutlist.piece import CutPiece
from preview.errors import PreviewError
from preview.scene import Prices
from preview.shop import Figure, species

FOOT = 304.8
SQUARE_FOOT = FOOT**2
DENSITY_PER_GRAVITY = 1120.0
"""kg/m³ for each 1 of specific gravity at 12 % moisture: ovendry mass on the volume at 12 %, and 12 % water more."""
POUND = 0.45359237
_TREES = "Tree species strength properties, a table after the Wood Handbook"
_HANDBOOK = "Wood Handbook (FPL-GTR-190) table 5-3a"
MORE_GRAVITIES: Mapping[str, Figure] = {
    "red maple": Figure(0.54, "published elsewhere", _TREES),
    "ponderosa pine": Figure(0.40, "published", _HANDBOOK),
    "sugar pine": Figure(0.36, "published", _HANDBOOK),
}
"""Specific gravity at 12 % moisture of woods of whose movement nothing is known here."""


@dataclass(frozen=True)
class Quantity:
    """What one member takes; areas mm², lengths mm, volume mm³.

    pieces: how many. net: what its straights and returns take of the stick, all together. bought: the sticks
    they are cut from, None where no layout was given. board_feet: rough, on the net length; board_feet_bought: on the
    bought. curved: the curved pieces by name, in plan or in
    elevation. unreckoned: those of them for whose blank no board feet were given.
    profiles: how many sections have to be set up for. weight: kg of the finished pieces, None without a wood whose
    specific gravity is known; gravity: that. finish: the area that is seen.
    """

    member: str
    pieces: int
    net: float
    bought: float | None
    board_feet: float
    board_feet_bought: float | None
    curved: tuple[str, ...]
    unreckoned: tuple[str, ...]
    profiles: int
    volume: float
    weight: float | None
    gravity: Figure | None
    finish: float

    @property
    def net_feet(self) -> float:
        """The net running feet."""
        return self.net / FOOT

    @property
    def bought_feet(self) -> float | None:
        """The running feet bought."""
        return None if self.bought is None else self.bought / FOOT

    @property
    def waste(self) -> float | None:
        """The share of what is bought that becomes no piece, 0 to 1."""
        return 1.0 - self.net / self.bought if self.bought else None

    @property
    def square_feet(self) -> float:
        """The area to finish, square feet."""
        return self.finish / SQUARE_FOOT

    @property
    def pounds(self) -> float | None:
        """The weight in pounds."""
        return None if self.weight is None else self.weight / POUND


def gravity_of(wood: str) -> Figure | None:
    """The specific gravity at 12 % of a wood, with its source; None where none is known.

    Raises PreviewError for a wood that is not known at all.
    """
    plain = " ".join(wood.casefold().replace("-", " ").split())
    return MORE_GRAVITIES[plain] if plain in MORE_GRAVITIES else species(wood).gravity


def quantities(
    cuts: CutList,
    *,
    wood: str | Mapping[str, str] | None = None,
    bought: Mapping[str, float] | None = None,
    blanks: Mapping[str, float] | None = None,
) -> tuple[Quantity, ...]:
    """What each member takes, in the order of its first piece.

    wood: of all members, or by member. bought: mm of stick bought for each member. blanks: board feet of the blank of
    each curved piece, by its name. Raises PreviewError for an unknown wood, and where less is bought than is cut.
    """
    found: list[Quantity] = []
    for member in dict.fromkeys(piece.member for piece in cuts.pieces):
        mine = [piece for piece in cuts.pieces if piece.member == member]
        found.append(_quantity(member, mine, wood, (bought or {}).get(member), blanks or {}))
    return tuple(found)


def _quantity(
    member: str,
    pieces: Sequence[CutPiece],
    wood: str | Mapping[str, str] | None,
    bought: float | None,
    blanks: Mapping[str, float],
) -> Quantity:
    sticks = [piece for piece in pieces if piece.bend is None and piece.easing is None]
    curved = tuple(piece.name for piece in pieces if piece.bend is not None or piece.easing is not None)
    net = math.fsum(piece.stick for piece in sticks)
    if bought is not None and bought < net - 1e-6:
        raise PreviewError(
            f'member "{member}"',
            f"{bought:.1f} mm bought",
            f"its pieces take {net:.1f} mm of the stick",
            "lay the pieces out on longer or on more sticks",
        )
    of_sticks = math.fsum(piece.stock.rough.board_feet(piece.stick) for piece in sticks)
    of_blanks = math.fsum(blanks[name] for name in curved if name in blanks)
    named = wood if wood is None or isinstance(wood, str) else wood.get(member)
    gravity = None if named is None else gravity_of(named)
    volume = math.fsum(piece.volume for piece in pieces)
    return Quantity(
        member=member,
        pieces=len(pieces),
        net=net,
        bought=bought,
        board_feet=of_sticks + of_blanks,
        board_feet_bought=None if bought is None or not net else of_sticks * bought / net + of_blanks,
        curved=curved,
        unreckoned=tuple(name for name in curved if name not in blanks),
        profiles=len({set_up(piece) for piece in pieces if piece.kind != "block"}),
        volume=volume,
        weight=None if gravity is None else volume * 1e-9 * DENSITY_PER_GRAVITY * gravity.value,
        gravity=gravity,
        finish=math.fsum(piece.finish_area for piece in pieces),
    )


def set_up(piece: CutPiece) -> tuple[float, float]:
    """What tells the section of a piece from others of its member: how it is raked."""
    pitch = 0.0 if piece.square or piece.easing else piece.pitch
    return round(abs(pitch), 9) + 0.0, round(abs(piece.shear), 9) + 0.0


@dataclass(frozen=True)
class PriceLine:
    """One line of a price sheet: so many of a unit at so much each. amount: to the hundredth, half up."""

    what: str
    count: float
    unit: str
    each: float
    amount: Decimal


@dataclass(frozen=True)
class PriceSheet:
    """A price sheet. total: of its lines' amounts as they stand. notes: what is not in it, and what it goes by."""

    currency: str
    lines: tuple[PriceLine, ...]
    total: Decimal
    notes: tuple[str, ...] = field(default=())


def price_sheet(found: Sequence[Quantity], prices: Prices) -> PriceSheet:
    """What the quantities cost. Wood is reckoned on what is bought, where that is known.

    Raises PreviewError for a price below nothing, and for a member that a table of board foot prices leaves out.
    """
    lines: list[PriceLine] = []
    notes: list[str] = []

    def add(what: str, count: float, unit: str, each: float | None) -> None:
        if each is None or not count:
            return
        if not 0.0 <= each < math.inf:
            raise PreviewError("prices", f"{each:g}", "a price is no less than nothing", "write an amount such as 4.20")
        exact = Decimal(repr(float(count))) * Decimal(repr(float(each)))
        lines.append(PriceLine(what, count, unit, each, exact.quantize(Decimal("0.01"), ROUND_HALF_UP)))

    for one in found:
        each = prices.wood(one.member)
        if each is None and prices.board_foot is not None:
            raise PreviewError(
                "prices, board_foot",
                None,
                f'there is no price for the wood of member "{one.member}"',
                f"add {one.member} = 4.20, or write one price for all",
            )
        bought = one.board_feet_bought
        add(f"{one.member}: wood", one.board_feet if bought is None else bought, "board foot", each)
        if bought is None and each is not None:
            notes.append(f"{one.member}: the wood is reckoned on the net length, without waste")
        if one.unreckoned and each is not None:
            notes.append(f"{one.member}: the wood of {', '.join(one.unreckoned)} is not in it")
        feet = one.net_feet if one.bought_feet is None else one.bought_feet
        add(f"{one.member}: running the molding", feet if one.profiles else 0.0, "running foot", prices.running_foot)
        add(f"{one.member}: setting up", one.profiles, "profile", prices.setup)
        add(f"{one.member}: curved pieces", len(one.curved), "piece", prices.corner)
        add(f"{one.member}: finish", one.square_feet, "square foot", prices.square_foot)
    return PriceSheet(
        prices.currency, tuple(lines), sum((line.amount for line in lines), Decimal("0.00")), tuple(notes)
    )
