"""The [shop] of a scene: what its saws take, which sticks can be had, how curves are made, and what things cost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from preview.errors import PreviewError
from preview.scene.cut_profile import part
from preview.scene.kinds import Kind, choice, flag, in_a_row, length_within, line, suggested, whole
from preview.scene.table import Table
from preview.scene.written import key_written, what, written
from preview.sticks import Stick
from preview.units import Unit, counted, show

TurningMethod = Literal["turned", "rings", "lamination", "sawn"]
METHODS: tuple[TurningMethod, ...] = ("turned", "rings", "lamination", "sawn")
KEYS = ("kerf", "trim", "defects", "rounding", "sticks", "match", "turning", "prices")
TURNING = ("staves", "kerf", "chucking", "clean", "method")
PRICES = ("currency", "board_foot", "running_foot", "setup", "corner", "square_foot")
STICK = ("length", "have", "price")
IMPERIAL: tuple[Unit, ...] = ("in", "ft")
FOOT = 304.8

KERFS = (0.2, 13.0)
"""A blade, mm: from a fretsaw's to one of half an inch."""
MOST_TRIM = 300.0
MOST_DEFECTS = 50
"""Percent."""
ROUNDINGS = (0.01, 25.4)
DIVISIONS = (1, 2, 4, 8, 16, 32, 64)
STICKS = (600.0, 20_000.0)
"""Stock, mm: a shorter stick is given in the wrong unit, and a longer one comes on no truck."""
MOST_STICKS, MOST_HAVE = 24, 10_000
STAVES = (3, 16)
MOST_CHUCKING, MOST_CLEAN = 300.0, 25.0
MOST_PRICE = 1_000_000
LONGEST_CURRENCY = 8

USUAL_FEET = (16, 14, 12, 10, 8)
"""The lengths of stock where the scene gives none. Common practice, as are the other usual values here."""
USUAL_METRIC = (4800.0, 4200.0, 3600.0, 3000.0, 2400.0)
USUAL_STAVES = 4


@dataclass(frozen=True)
class Turning:
    """How curved pieces are made; lengths in mm.

    kerf: of the saw that parts them. chucking: spare length at each end of a blank. clean: how far the rough blank
    stands over the finished round, on the radius. method: None for the one that the numbers favor.
    """

    staves: int = USUAL_STAVES
    kerf: float = 3.175
    chucking: float = 25.4
    clean: float = 1.5875
    method: TurningMethod | None = None


@dataclass(frozen=True)
class Prices:
    """What things cost, in `currency`; None is not charged.

    board_foot: of every member's wood, or one for each member named. running_foot: running the molder. setup: for each
    profile. corner: for each curved piece. square_foot: finishing, by the face's area.
    """

    currency: str = "$"
    board_foot: float | tuple[tuple[str, float], ...] | None = None
    running_foot: float | None = None
    setup: float | None = None
    corner: float | None = None
    square_foot: float | None = None

    def wood(self, member: str) -> float | None:
        """A board foot of a member's wood; None where it has no price."""
        if isinstance(self.board_foot, tuple):
            return dict(self.board_foot).get(member)
        return self.board_foot


@dataclass(frozen=True)
class ShopDetails:
    """What a shop cuts with and from; lengths in mm. It never enters a check, nor the model's digest.

    kerf: what the saw blade takes. trim: cut off each end of a stick. defects: the share (0 to 1) of each stick that is
    reckoned as lost to knots and checks. rounding: what lengths are read to on a list. match: neighbors from one stick
    where that costs no further one. prices: None where the scene has none. sticks_given: whether the scene names its
    sticks; else they are the usual ones.
    """

    kerf: float = 3.175
    trim: float = 12.7
    defects: float = 0.0
    rounding: float = 1.5875
    sticks: tuple[Stick, ...] = tuple(Stick(feet * FOOT) for feet in USUAL_FEET)
    match: bool = True
    turning: Turning = Turning()
    prices: Prices | None = None
    sticks_given: bool = False


USUAL_SHOP = ShopDetails()
METRIC = ShopDetails(
    kerf=3.2,
    trim=12.0,
    rounding=0.5,
    sticks=tuple(Stick(each) for each in USUAL_METRIC),
    turning=Turning(kerf=3.2, chucking=25.0, clean=1.5),
)


def read_shop(top: Table, unit: Unit | None, members: Sequence[str], every_member: bool) -> ShopDetails:
    """The scene's [shop] table, or the usual where it has none; a mistake is noted, and read as the usual.

    members: the names that prices may be given for; every_member: whether these are all.
    """
    usual = USUAL_SHOP if unit in IMPERIAL else METRIC
    table = top.alone("shop")
    if table is None:
        return usual
    table.only(KEYS, "in a shop")
    kerf = table.take("kerf", _kerf(unit), usual.kerf)
    trim = table.take(
        "trim",
        length_within(
            unit,
            0.0,
            MOST_TRIM,
            f"0 mm to {MOST_TRIM:g} mm are cut off each end of a stick, and this is {{}}",
            'write what is cut off each end: trim = "1/2", or 0',
        ),
        usual.trim,
    )
    defects = table.take("defects", _defects, usual.defects)
    rounding = table.take(
        "rounding",
        _rounding(unit),
        usual.rounding,
    )
    sticks = _sticks(table, unit, trim, defects) if "sticks" in table else None
    return ShopDetails(
        kerf=kerf,
        trim=trim,
        defects=defects,
        rounding=rounding,
        sticks=sticks or usual.sticks,
        match=table.take("match", flag, True),
        turning=_turning(table, unit, kerf, usual.turning),
        prices=_prices(table, members, every_member),
        sticks_given=sticks is not None,
    )


def _kerf(unit: Unit | None) -> Kind[float]:
    return length_within(
        unit,
        *KERFS,
        "a saw blade takes {:g} mm to {:g} mm, and this is {{}}".format(*KERFS),
        'write the width of its cut: kerf = "1/8"',
    )


def _rounding(unit: Unit | None) -> Kind[float]:
    """What lengths are read to: a fraction is one that a rule is divided into, by halves (common practice)."""
    size = length_within(
        unit,
        *ROUNDINGS,
        "lengths are read to {:g} mm at the finest and {:g} mm, and this is {{}}".format(*ROUNDINGS),
        'write what the lists are to be read to: rounding = "1/16", or "0.5 mm"',
    )

    def read(value: object) -> float:
        found = size(value)
        parts = re.search(r"(\d+)\s*/\s*(\d+)", value) if isinstance(value, str) else None
        if parts and Fraction(int(parts[1]), int(parts[2])).denominator not in DIVISIONS:
            problem = "no rule is divided so: a fraction has halves, quarters, eighths, 16ths, 32nds or 64ths"
            raise PreviewError("", written(value), problem, 'write rounding = "1/32", or "0.5 mm"')
        return found

    return read


def _defects(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= MOST_DEFECTS:
        problem = f"0 to {MOST_DEFECTS} percent of a stick are reckoned as lost to knots and checks"
        raise PreviewError("", written(value), problem, "write it in percent, without a sign or a unit: defects = 10")
    return float(value) / 100


def _sticks(table: Table, unit: Unit | None, trim: float, defects: float) -> tuple[Stick, ...] | None:
    """The sticks that can be had; None where the list holds a mistake, which is noted."""
    value, example = table.data["sticks"], """sticks = ["16'", "12'"]"""
    noted = len(table.log.problems)
    if not isinstance(value, list) or not value:
        problem = "it must be a list of lengths" + (", and it is empty" if value == [] else f", not {what(value)}")
        table.wrong("sticks", written(value), problem, f"write the lengths that can be had: {example}")
        return None
    if len(value) > MOST_STICKS:
        problem = f"it has {counted(len(value), 'entry', 'entries')}, and {MOST_STICKS} is the most"
        table.wrong("sticks", written(value), problem, "leave out the lengths that are not needed")
        return None
    found: list[Stick] = []
    for number, entry in enumerate(value, 1):
        keys = entry if isinstance(entry, dict) else {"length": entry}
        row = Table(keys, f"{table.place}, stick {number}", table.log)
        row.only(STICK, "in a stick")
        long = row.need("length", _stick(unit), """write how long it is: length = "16'\"""")
        few = f"there are 0 to {MOST_HAVE:,} of it, in whole numbers"
        have = row.take("have", whole(0, MOST_HAVE, few, "write how many there are, or leave have out"), None)
        price = row.take("price", _price, None)
        if long is None:
            continue
        if unit is not None and long * (1 - defects) - 2 * trim <= 0:
            problem = f"nothing is left of it after {show(trim, unit)} at each end"
            problem += f" and {100 * defects:g} % for defects" if defects else ""
            row.wrong("length", row.shown("length"), problem, "use longer sticks, or a shorter trim")
        if price == 0 and have is None and "have" not in row:
            problem = "any number of sticks that cost nothing"
            row.wrong("price", row.shown("price"), problem, "write how many there are: have = 6")
        if any(each.length == long and (each.have is None) == (have is None) for each in found):
            row.wrong("length", row.shown("length"), "this length is in the list before", "write it once")
        found.append(Stick(long, have, price))
    with_price = [stick for stick in found if stick.price is not None]
    if with_price and len(with_price) < len(found) == len(value):
        problem = f"{len(with_price)} of {counted(len(found), 'stick')} have a price, so the prices cannot be compared"
        table.wrong("sticks", None, problem, "write a price for every stick, or for none")
    if all(stick.have == 0 for stick in found) and len(found) == len(value):
        table.wrong("sticks", written(value), "there are none of any of them", "say which lengths can be had")
    return tuple(found) if len(table.log.problems) == noted else None


def _stick(unit: Unit | None) -> Kind[float]:
    least, most = STICKS
    return length_within(
        unit,
        least,
        most,
        f"a stick is {least:g} mm, about two feet, to {most / 1000:g} m long, and this is {{}}",
        """write its length with its unit: "16'" or "4.8 m\"""",
    )


def _price(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= MOST_PRICE:
        problem = f"a price is a number from 0 to {MOST_PRICE:,}"
        raise PreviewError("", written(value), problem, "write it without a sign or a currency, such as 4.2")
    return float(value)


def _turning(table: Table, unit: Unit | None, kerf: float, usual: Turning) -> Turning:
    keys = part(table, "turning", '{ staves = 4, chucking = "1" }') if "turning" in table else None
    if keys is None:
        return Turning(usual.staves, kerf, usual.chucking, usual.clean)
    keys.only(TURNING, "in turning")
    least, most = STAVES
    few = f"a blank is glued up from {least} to {most} staves"
    said = "a curved piece is turned, built up of rings, bent as a lamination or sawn from solid wood"
    return Turning(
        keys.take("staves", whole(least, most, few, f"write a whole number from {least} to {most}"), usual.staves),
        keys.take("kerf", _kerf(unit), kerf),
        keys.take("chucking", _spare(unit, MOST_CHUCKING, "of spare length at each end of a blank"), usual.chucking),
        keys.take("clean", _spare(unit, MOST_CLEAN, "stand over the finished round"), usual.clean),
        keys.take("method", choice(METHODS, said), None),
    )


def _spare(unit: Unit | None, most: float, said: str) -> Kind[float]:
    problem = f"0 mm to {most:g} mm {said}, and this is {{}}"
    return length_within(unit, 0.0, most, problem, "write it as a length without a minus sign, or 0")


def _prices(table: Table, members: Sequence[str], every_member: bool) -> Prices | None:
    keys = part(table, "prices", "{ board_foot = 4.2, corner = 35 }") if "prices" in table else None
    if keys is None:
        return None
    keys.only(PRICES, "in prices")
    wood: float | tuple[tuple[str, float], ...] | None
    if isinstance(keys.data.get("board_foot"), dict):
        wood = _of_members(keys, members, every_member)
    else:
        wood = keys.take("board_foot", _price, None)
    return Prices(
        keys.take("currency", line(LONGEST_CURRENCY), "$"),
        wood,
        *(keys.take(key, _price, None) for key in PRICES[2:]),
    )


def _of_members(prices: Table, members: Sequence[str], every_member: bool) -> tuple[tuple[str, float], ...]:
    """A board foot by member; a name that no member has is noted."""
    keys = part(prices, "board_foot", "{ base = 4.2, cap = 5 }")
    found: list[tuple[str, float]] = []
    for label in keys.data if keys else ():
        assert keys is not None
        if every_member and label not in members:
            meant = suggested(label, members)
            fix = f"did you mean {meant}?" if meant else f"the members are {in_a_row(members, 'and')}"
            keys.wrong(key_written(label), keys.shown(label), "there is no member of that name", fix)
            continue
        price = keys.take(label, _price, None)
        if price is not None:
            found.append((label, price))
    return tuple(found)
