"""The cut list of a build: every piece as it is cut, in the order in which it stands along its run."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from preview.build import Built
from preview.cutlist.alike import Group, grouped
from preview.cutlist.bends import bend_of, easing_of
from preview.cutlist.blocks import block_size, block_stock
from preview.cutlist.lengths import gain, lengths_of, nominal_reach, reach, turn_at
from preview.cutlist.piece import At, CutEnd, CutPiece
from preview.cutlist.seen import block_area, seen_area
from preview.cutlist.stock import Lumber, Stock, on_wall_face, rough_for, stock_of
from preview.joinery import Joint, MemberRun, Piece, PieceKind
from preview.profiles import Profile, measure
from preview.runs import Run
from preview.shop import end_settings

ALONG, UP_AND_DOWN = "along its length", "up and down"
AS_BLANK = "as its blank is made"
WITH_CHORD = "along the chord, so that it is short across both ends"
ALONG_WALL = "along the wall, with its molding"


@dataclass(frozen=True)
class RunOrder:
    """The pieces of one member along one run, blocks among them, as one meets them traveling along it, by name."""

    run: str
    member: str
    names: tuple[str, ...]
    closed: bool


@dataclass(frozen=True)
class CutList:
    """What to cut.

    pieces: in the model's order. groups: identical ones together, in the order of their first piece.
    orders: how they stand along each run, one for each member of it.
    """

    pieces: tuple[CutPiece, ...]
    groups: tuple[Group, ...]
    orders: tuple[RunOrder, ...]

    def piece(self, name: str) -> CutPiece:
        """The piece of that name. Raises KeyError when there is none."""
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)


@dataclass(frozen=True)
class _Told:
    """The joint at an end as the run tells it, and what stands beyond."""

    joint: Joint
    meets: str
    kind: PieceKind | None


def cut_list(built: Built, lumber: Lumber = "hardwood") -> CutList:
    """What to cut for a build, every length exact. lumber: how rough stock is reckoned."""
    found: list[CutPiece] = []
    volumes = iter(built.volumes)
    for line in built.lines:
        told = _told(line, built.lines)
        for number, piece in enumerate(line.pieces):
            volume = next(volumes)
            if piece.kind == "block":
                found.append(_block(piece, line, built, volume, lumber))
            else:
                begin, end = (_end(piece, told[number, at_end], at_end, line.run) for at_end in (False, True))
                others = _others(line, built.lines)
                made = _molding(piece, begin, end, volume, lumber)
                found.append(replace(made, finish_area=seen_area(piece, others)))
    shapes = {piece.name: piece for piece in built.pieces}
    return CutList(
        tuple(found),
        grouped([(piece, shapes[piece.name]) for piece in found]),
        tuple(_order(line, built.lines) for line in built.lines if line.pieces and line.pieces[0].kind != "block"),
    )


def _others(line: MemberRun, lines: Sequence[MemberRun]) -> list[Profile]:
    return [other.profile for other in lines if other.run is line.run and other is not line and not _is_block(other)]


def _is_block(line: MemberRun) -> bool:
    return bool(line.pieces) and line.pieces[0].kind == "block"


def _told(line: MemberRun, lines: Sequence[MemberRun]) -> Mapping[tuple[int, bool], _Told]:
    """For each piece by its number, at its begin and its end: the joint as the run tells it, and what it meets."""
    found: dict[tuple[int, bool], _Told] = {}
    for joint, (before, after), block in zip(line.joints, line.between, line.blocks, strict=True):
        stands = next((b.pieces[0] for b in _blocks(line.run, lines) if _label(b) == block), None) if block else None
        for piece, other, at_end in ((before, after, True), (after, before, False)):
            if piece is not None:
                beyond = stands if other is None else line.pieces[other]
                found[piece, at_end] = _Told(joint, beyond.name if beyond else "", beyond.kind if beyond else None)
    return found


def _blocks(run: Run, lines: Sequence[MemberRun]) -> list[MemberRun]:
    return [line for line in lines if line.run is run and _is_block(line)]


def _label(line: MemberRun) -> str:
    return line.pieces[0].name.rsplit(" / ", 1)[1]


def _order(line: MemberRun, lines: Sequence[MemberRun]) -> RunOrder:
    def place(piece: Piece) -> tuple[float, int]:
        if piece.kind == "return":
            return (-1.0 if piece is line.pieces[0] else math.inf, 0)
        return (float(piece.index), 0 if piece.kind == "block" else 1)

    standing = [*line.pieces, *(block.pieces[0] for block in _blocks(line.run, lines))]
    return RunOrder(
        line.run.name, line.member, tuple(piece.name for piece in sorted(standing, key=place)), line.run.closed
    )


def _end(piece: Piece, told: _Told, at_end: bool, run: Run) -> CutEnd:
    size, joint = measure(piece.profile), told.joint
    past = [0.0, 0.0]
    if joint.kind in ("beveled end", "cope", "self-return"):  # not cut as the line of a miter or a square end runs
        due = replace(joint, slant=0.0)
        past = [reach(piece, at_end, d) - nominal_reach(piece, due, at_end, d) for d in (size.d_min, size.d_max)]
    turned = joint.kind != "block" and joint.turn != 0.0
    back, face = (turn_at(joint, d, piece.hand) if turned else 0.0 for d in (size.d_min, size.d_max))
    mine = piece.end if at_end else piece.begin
    return CutEnd(
        end="end" if at_end else "begin",
        at=_at(piece, run, at_end),
        kind=mine.kind,
        joint=joint.name,
        meets=told.meets,
        corner=math.pi - abs(joint.turn) if turned else None,
        inside=joint.turn > 0 if turned else None,
        gain=gain(piece, at_end),
        turn_back=back,
        turn_face=face,
        past_back=past[0],
        past_face=past[1],
        settings=end_settings(piece, "end" if at_end else "begin"),
        meets_kind=told.kind,
    )


def _at(piece: Piece, run: Run, at_end: bool) -> At:
    """Where an end is to one who stands in the room and faces the wall."""
    if not on_wall_face(run.stand):
        return "left" if (piece.hand > 0) == at_end else "right"
    x, y = piece.element.end_tangent if at_end else piece.element.tangent
    stand, sign = run.stand, 1.0 if at_end else -1.0
    ahead = [sign * (x * a + y * b) for a, b in zip(stand.x, stand.y, strict=True)]
    if abs(ahead[2]) > math.sin(math.radians(45)):
        return "top" if ahead[2] > 0 else "foot"
    # To the right of one who looks against the wall's own normal.
    return "right" if ahead[1] * stand.z[0] - ahead[0] * stand.z[1] > 0 else "left"


def _molding(piece: Piece, begin: CutEnd, end: CutEnd, volume: float, lumber: Lumber) -> CutPiece:
    size, lengths = measure(piece.profile), lengths_of(piece)
    bend, easing = bend_of(piece), easing_of(piece)
    stock = stock_of(piece, lumber)
    if easing is not None:
        stock = _sawn(size.d_max - size.d_min, easing.depth, lumber)
    return CutPiece(
        name=piece.name,
        run=piece.run,
        member=piece.member,
        kind=piece.kind,
        profile=piece.profile,
        room="left" if piece.hand > 0 else "right",
        on_wall=on_wall_face(piece.stand),
        begin=begin,
        end=end,
        out_back=size.d_min,
        out_face=size.d_max,
        wall=lengths.wall,
        back=lengths.back,
        face=lengths.face,
        long=lengths.long,
        short=lengths.short,
        inner=lengths.inner if easing is None else lengths.short,
        overall=lengths.overall if easing is None else easing.chord,
        stick=lengths.stick if easing is None else easing.chord,
        stock=stock,
        grain=AS_BLANK if bend else WITH_CHORD if easing else ALONG,
        volume=volume,
        finish_area=0.0,
        pitch=0.0 if easing else piece.pitch,
        shear=piece.shear,
        square=piece.square,
        bend=bend,
        easing=easing,
    )


def _sawn(out: float, deep: float, lumber: Lumber) -> Stock:
    """The plank that an easement is sawn from: as thick as it stands out, as wide as it is deep in elevation."""
    thickness, width = sorted((out, deep))
    return Stock(thickness, width, "on its back", 0.0, rough_for(thickness, width, lumber))


def _block(piece: Piece, line: MemberRun, built: Built, volume: float, lumber: Lumber) -> CutPiece:
    beside = [
        other
        for each in built.lines
        if each.run is line.run and not _is_block(each)
        for other in each.pieces
        if other.kind != "return"
    ]
    size = block_size(piece, line.run, beside)
    stock, long, upright = block_stock(piece, line.run, size, lumber)
    begin, end = (
        CutEnd(
            "end" if at_end else "begin",
            _at(piece, line.run, at_end) if piece.stand == line.run.stand else ("top" if at_end else "foot"),
            joint.kind,
            joint.name,
            "",
            None,
            None,
            0.0,
            0.0,
            0.0,
            0.0,
            0.0,
            None,
        )
        for at_end, joint in ((False, piece.begin), (True, piece.end))
    )
    section = measure(piece.profile)
    return CutPiece(
        name=piece.name,
        run=piece.run,
        member=piece.member,
        kind="block",
        profile=piece.profile,
        room="left" if line.run.hand > 0 else "right",
        on_wall=on_wall_face(line.run.stand),
        begin=begin,
        end=end,
        out_back=0.0 if size.at_corner else section.d_min,
        out_face=size.out if size.at_corner else section.d_max,
        wall=size.takes,
        back=long,
        face=long,
        long=long,
        short=long,
        inner=long,
        overall=long,
        stick=long,
        stock=stock,
        grain=UP_AND_DOWN if upright else ALONG_WALL,
        volume=volume,
        finish_area=block_area(piece, line.run),
        block=size,
    )
