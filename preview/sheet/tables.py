"""The tables: members with their finish and sizes, and the pieces."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.platypus import Flowable

from preview.build import Built
from preview.drafting import piece_tags
from preview.exports import raked_profiles
from preview.joinery import Piece, piece_lengths
from preview.pages import Lines, Pair, Para, Swatch, ink_of, length, note, said, table
from preview.paper import metric
from preview.profiles import Arc, Profile, measure
from preview.scene import FINISH_WORDS, Finish, Member
from preview.sheet.figures import Section
from preview.sheet.making import Making
from preview.units import Unit, counted, degrees_text, listed

SHORT = 0.01
"""mm; a return is no longer than this on the wall line."""
MOST_OPTIONS = 4
"""So many options are named where a profile is only in them; of more it is said how many."""


@dataclass(frozen=True)
class MemberLook:
    """A member as the table has it: with the runs that carry it."""

    member: Member
    runs: tuple[str, ...]


def members_of(built: Built) -> list[MemberLook]:
    """The members and blocks that are built, each once, in the order of the pieces."""
    found: dict[str, tuple[Member, dict[str, None]]] = {}
    for piece, member in zip(built.pieces, built.members, strict=True):
        found.setdefault(member.name, (member, {}))[1][piece.run] = None
    return [MemberLook(member, tuple(runs)) for member, runs in found.values()]


def sections_of(making: Making) -> list[Section]:
    """Every profile that is to be seen at full size: those as drawn, then those that only options have. No blocks."""
    profiles: dict[object, Profile] = {}
    members: dict[object, list[str]] = {}
    options: dict[object, list[int]] = {}
    for number, shown in enumerate(making.job.shown):
        blocks = {piece.member for piece in shown.built.pieces if piece.role == "block"}
        for look in members_of(shown.built):
            if look.member.name in blocks:
                continue
            shape = _shape(look.member.profile)
            profiles.setdefault(shape, look.member.profile)
            if number == 0:
                members.setdefault(shape, []).append(look.member.name)
            elif number not in options.setdefault(shape, []):
                options[shape].append(number)
    found = []
    tags = piece_tags(making.built)
    for shape, profile in profiles.items():
        drawn, only = members.get(shape, []), options.get(shape, [])
        if drawn:
            whose = f"{'Members' if drawn[1:] else 'Member'} {listed(drawn)}, as drawn"
        elif len(only) > MOST_OPTIONS:
            whose = f"Only with {counted(len(only), 'option')}"
        else:
            whose = f"Only with {'options' if only[1:] else 'option'} {listed(map(str, only))}"
        found.append(Section(profile, whose))
    for raked in raked_profiles(making.built, drawn=False):
        mine = [tag for tag, piece in zip(tags, making.built.pieces, strict=True) if piece.name in raked.pieces]
        found.append(Section(raked.profile, f"For {'pieces' if mine[1:] else 'piece'} {listed(mine)}", fitted=True))
    return found


def _shape(profile: Profile) -> object:
    """What tells a profile from others, wherever it stands."""
    size = measure(profile)
    placed = profile.moved(-size.d_min, -size.h_min)
    ends = tuple(
        round(value, 6) + 0.0
        for edge in placed.edges
        for value in (*edge.start, *(edge.via if isinstance(edge, Arc) else edge.end))
    )
    return (profile.name, ends)


def members_table(making: Making) -> list[Flowable]:
    """Finish, species and sizes of each member."""
    part, flow = making.section("Finish and sizes")
    unit = making.built.scene.units
    species = making.job.scene.job.species
    rows = []
    for look in members_of(making.built):
        size = measure(look.member.profile)
        sizes = f"{length(size.h_max - size.h_min, unit)} × {length(size.d_max - size.d_min, unit)}"
        rows.append(
            [
                said(look.member.name),
                said(look.member.profile.name),
                sizes,
                Pair(
                    Swatch(ink_of(look.member.finish.color)),
                    Para(said(finish_words(look.member.finish)), making.styles.cell),
                    12.0,
                ),
            ]
        )
    shares = (0.18, 0.3, 0.23, 0.29)
    head = ["Member", "Profile", "Height × projection", "Finish"]
    flow.append(table(part, head, rows, [share * making.column for share in shares], making.styles))
    if species.strip():
        flow.append(note(part, f"Species: {species}", making.styles.text))
    else:
        flow.append(Lines(part, ["Species, to be agreed"], making.styles, gap=16.0))
    return flow


def finish_words(finish: Finish) -> str:
    """A finish in words: its name and what kind it is."""
    says_it = finish.kind in finish.name.lower()
    return finish.name if says_it else ", ".join(part for part in (finish.name, FINISH_WORDS[finish.kind]) if part)


def pieces_table(making: Making) -> list[Flowable]:
    """Every piece of what is to be approved, with the tag that it has in the drawings."""
    part, flow = making.section("Pieces")
    built = making.built
    unit = built.scene.units
    curved = any(piece.curvature for piece in built.pieces)
    tags = piece_tags(built)
    order = sorted(range(len(built.pieces)), key=lambda i: (len(tags[i]), tags[i]))
    rows = []
    for i in order:
        piece = built.pieces[i]
        row = [said(tags[i]), said(piece.name), said(piece.kind), *_lengths(piece, unit)]
        rows.append([*row, _curve(piece, unit)] if curved else row)
    head = ["Tag", "Piece", "Kind", "On the wall line", *([] if unit == "mm" else ["mm"])]
    shares = [0.075, 0.385, 0.15, 0.2, *([] if unit == "mm" else [0.11])]
    if curved:
        head.append("Radius, turn")
        shares = [0.07, 0.3, 0.12, 0.16, *([] if unit == "mm" else [0.1]), 0.25]
    whole = sum(shares)
    widths = [share / whole * making.column for share in shares]
    told = (
        f"{counted(len(built.pieces), 'piece')} as drawn, with the tags of the drawings. A curve's length is its arc."
    )
    if any(piece.element.slope for piece in built.pieces):
        told += " A climbing piece's length is along its slope; the drawings have its level length as well."
    flow.append(note(part, told, making.styles.small))
    right = [3] if unit == "mm" else [3, 4]
    flow.append(table(part, head, rows, widths, making.styles, right=right, gray=[] if unit == "mm" else [4]))
    return flow


def _lengths(piece: Piece, unit: Unit) -> list[str]:
    """A piece's length on the wall line in the scene's unit, and in mm where that is another.

    Of a return, which has none there, its length over all; of a block its three sizes.
    """
    if piece.role == "block":
        size = measure(piece.profile)
        sides = sorted((size.d_max - size.d_min, size.h_max - size.h_min, piece.element.length))
        told = " × ".join(length(side, unit) for side in sides)
        return [told] if unit == "mm" else [told, ""]
    lengths = piece_lengths(piece)
    long, more = (lengths["back"], "") if lengths["back"] > SHORT else (lengths["overall"], " overall")
    if long is lengths["back"] and piece.element.slope:
        more = " on the slope"
    return [length(long, unit) + more] if unit == "mm" else [length(long, unit) + more, metric(long)]


def _curve(piece: Piece, unit: Unit) -> str:
    if not piece.curvature:
        return ""
    return said(f"R {length(piece.element.radius, unit)}, {degrees_text(abs(piece.element.sweep))}")
