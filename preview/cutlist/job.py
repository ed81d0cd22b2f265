"""All that a shop needs of a build: what to cut, from which sticks, how its curves are made, what it takes and costs.

cut list -> ways for curves -> what neighbors of turned pieces gain -> stock layout -> quantities, prices, order
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from preview.blanks import StavedBlank, Way, favored, turning_order, ways
from preview.blanks import Step as TurningStep
from preview.build import Built
from preview.cutlist.alike import Group
from preview.cutlist.making import CutList, cut_list
from preview.cutlist.order import Step, install_order
from preview.cutlist.piece import CutPiece
from preview.cutlist.quantities import PriceSheet, Quantity, gravity_of, price_sheet, quantities, set_up
from preview.cutlist.reading import RoundedRun, roundings
from preview.cutlist.stock import Stock, rough_for
from preview.cutlist.walk import Reassembly, reassembled
from preview.errors import PreviewError
from preview.joinery import Piece
from preview.scene import ShopDetails
from preview.sticks import Layout, Part, lay_out

LEAST = 1e-6


@dataclass(frozen=True)
class Curve:
    """How a group of identical curved pieces is made.

    ways: every way, possible or not; way: the one to take, None where there is none; why: a sentence, or why not.
    steps: in which order a turned blank is worked; () for the other ways.
    """

    group: Group
    ways: tuple[Way, ...]
    way: Way | None
    why: str
    steps: tuple[TurningStep, ...] = ()


@dataclass(frozen=True)
class Longer:
    """What a piece gains at one end because the turned piece beside it loses an end to a saw kerf, mm."""

    piece: str
    beside: str
    by: float


@dataclass(frozen=True)
class Sticks:
    """The sticks for one section of a member. stock: what that is milled from. parts: lengths, mm, by name."""

    member: str
    stock: Stock
    parts: Mapping[str, float]
    layout: Layout


@dataclass(frozen=True)
class ShopJob:
    """What to cut and how. wood: the species that is reckoned with, "" where none is known."""

    built: Built
    shop: ShopDetails
    cuts: CutList
    curves: tuple[Curve, ...]
    longer: tuple[Longer, ...]
    sticks: tuple[Sticks, ...]
    quantities: tuple[Quantity, ...]
    prices: PriceSheet | None
    closing: tuple[Reassembly, ...]
    roundings: tuple[RoundedRun, ...]
    order: tuple[Step, ...]
    wood: str

    def gains(self, name: str) -> float:
        """What a piece is cut longer than its list says, mm, at both ends together."""
        return sum(each.by for each in self.longer if each.piece == name)

    @property
    def holds(self) -> bool:
        """Whether the list puts every run together again."""
        return all(each.holds for each in self.closing)


def shop_job(built: Built) -> ShopJob:
    """What a shop needs of a build.

    Raises PreviewError, naming the scene's file, where a piece is longer than every stick, where the sticks in hand do
    not suffice, and where a curve can't be made in the way that the scene asks for.
    """
    scene, shop = built.scene, built.scene.shop
    cuts = cut_list(built)
    shapes = {piece.name: piece for piece in built.pieces}
    runs = [placed.run for placed in scene.runs]
    try:
        curves = tuple(_curves(cuts, shapes, shop, built))
        longer = tuple(_longer(cuts, curves))
        laid = tuple(_sticks(cuts, longer, shop, built))
        wood = _wood(built)
        bought: dict[str, float] = {}
        for each in laid:
            bought[each.member] = bought.get(each.member, 0.0) + each.layout.total
        blanks = {name: each.way.wood / each.way.wanted for each in curves if each.way for name in each.group.names}
        blanks |= {piece.name: easement_wood(piece) for piece in cuts.pieces if piece.easing is not None}
        found = quantities(cuts, wood=wood or None, bought=bought, blanks=blanks)
        prices = None if shop.prices is None else price_sheet(found, shop.prices)
    except PreviewError as error:
        raise error.in_file(scene.path.name) from None
    return ShopJob(
        built,
        shop,
        cuts,
        curves,
        longer,
        laid,
        found,
        prices,
        reassembled(cuts, runs),
        roundings(cuts, runs, shop.rounding, scene.units),
        install_order(built),
        wood,
    )


def _wood(built: Built) -> str:
    """The species to reckon with: what the site says, else what the job says where that is a wood that is known."""
    site, job = built.scene.site, built.scene.job.species
    if site is not None and site.wood:
        return site.wood
    for words in (job, job.split(",")[0]):
        try:
            if words.strip() and gravity_of(words) is not None:
                return words.strip()
        except PreviewError:
            continue
    return ""


def _curves(cuts: CutList, shapes: Mapping[str, Piece], shop: ShopDetails, built: Built) -> Iterator[Curve]:
    turning, unit = shop.turning, built.scene.units
    finishes = {piece.name: member.finish.kind for piece, member in zip(built.pieces, built.members, strict=True)}
    for group in cuts.groups:
        cut, piece = cuts.piece(group.names[0]), shapes[group.names[0]]
        if cut.bend is None:
            continue
        try:
            found = ways(
                piece,
                staves=turning.staves,
                kerf=turning.kerf,
                chucking=turning.chucking,
                clean=turning.clean,
                wanted=group.count,
                unit=unit,
            )
        except PreviewError as error:
            yield Curve(group, (), None, f"{cut.name}: {error.problems[0].problem}")
            continue
        if turning.method is None and not any(way.possible for way in found):
            reasons = " ".join(f"{way.name[0].upper()}{way.name[1:]}: {way.refusal}" for way in found)
            yield Curve(group, found, None, f"It can be made in none of the ways that are reckoned here. {reasons}")
            continue
        try:
            way, why = favored(found, turning.method)
        except PreviewError as error:
            raise _error_at(error, "blank, method", "[shop], turning, method", cut.name) from None
        if turning.method is None and finishes[piece.name] == "clear":
            way, why = _with_its_grain(found, way, why)
        steps = turning_order(way.plan, piece.profile, piece.element.radius, unit) if _is_turned(way) else ()  # type: ignore[arg-type]
        yield Curve(group, found, way, why, steps)


def _error_at(error: PreviewError, told: str, place: str, what: str) -> PreviewError:
    """The same error at the place in the scene that a room below knows by another name, and of what it is."""
    return PreviewError.several(
        replace(each, place=place, problem=f"{what}: {each.problem}") if each.place == told else each
        for each in error.problems
    )


def _with_its_grain(found: Sequence[Way], way: Way, why: str) -> tuple[Way, str]:
    """For a clear finish the way whose grain runs round the curve, as the pictures show it, where it can be had."""
    bent = next((each for each in found if each.method == "lamination" and each.possible and not each.short), None)
    if way.method in ("lamination", "sawn"):
        return way, why
    if bent is None:
        return (
            way,
            f"{why} The finish is clear, and the grain of such a piece does not follow the curve: show a sample.",
        )
    return bent, f"The finish is clear, and of a bent lamination the grain follows the curve. Otherwise: {why}"


def easement_wood(piece: CutPiece) -> float:
    """Board feet of the board that an easement is sawn from, as wide as the box round it. 0 for what is none."""
    if piece.easing is None:
        return 0.0
    return rough_for(piece.stock.thickness, piece.easing.depth).board_feet(piece.easing.chord)


def _is_turned(way: Way) -> bool:
    return isinstance(way.plan, StavedBlank)


def _longer(cuts: CutList, curves: tuple[Curve, ...]) -> Iterator[Longer]:
    """What straights beside turned pieces gain where the round is parted without true ends."""
    names = {piece.name: piece for piece in cuts.pieces}
    for curve in curves:
        if curve.way is None or not isinstance(curve.way.plan, StavedBlank):
            continue
        by = curve.way.plan.parting.chosen.longer
        if by <= LEAST:
            continue
        for name in curve.group.names:
            for end in names[name].ends:
                if end.meets in names and names[end.meets].bend is None:
                    yield Longer(end.meets, name, by)


def _sticks(cuts: CutList, longer: tuple[Longer, ...], shop: ShopDetails, built: Built) -> Iterator[Sticks]:
    """Layouts, one for each section that has to be set up: sticks of one are no use for another."""
    after: dict[str, str] = {}
    for order in cuts.orders:
        after |= dict(zip(order.names[1:], order.names[:-1], strict=True))
        if order.closed and order.names[2:]:
            after[order.names[0]] = order.names[-1]
    sections: dict[tuple[object, ...], list[CutPiece]] = {}
    for piece in cuts.pieces:
        if piece.bend is None and piece.easing is None and piece.block is None:
            sections.setdefault((piece.member, piece.profile.name, *set_up(piece)), []).append(piece)
    for pieces in sections.values():
        gains = {piece.name: sum(each.by for each in longer if each.piece == piece.name) for piece in pieces}
        lengths = {piece.name: piece.stick + gains[piece.name] for piece in pieces}
        parts = [Part(name, length, after.get(name)) for name, length in lengths.items()]
        try:
            layout = lay_out(
                parts,
                shop.sticks,
                kerf=shop.kerf,
                trim=shop.trim,
                defects=shop.defects,
                match=shop.match,
                unit=built.scene.units,
            )
        except PreviewError as error:
            raise _error_at(error, "sticks", "[shop], sticks", f'member "{pieces[0].member}"') from None
        yield Sticks(pieces[0].member, pieces[0].stock, lengths, layout)
