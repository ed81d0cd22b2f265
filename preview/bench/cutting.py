"""What to cut, on paper: the list at a glance, and every piece with its drawing, its ends and the saw's settings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reportlab.platypus import Flowable, Spacer

from preview.bench.bench import Bench, together
from preview.bench.cards import Asides, card, end_lines
from preview.bench.site import short_pieces
from preview.cutlist import CutEnd, CutPiece, Group, bend_words, end_words
from preview.joinery import Piece
from preview.pages import Drawn, Element, bullets, clean, note, said, sub, table
from preview.shop import EndSettings, Setup, spring_of
from preview.units import counted, degrees_text, listed

NAMES = 80
"""Letters of the pieces' names in a heading; of longer ones the member is told."""
ALONG = "along its length"
"""How grain runs where nothing is said of it."""
MORE = 1e-6
WHICH = {"left": "Left end", "right": "Right end", "foot": "Foot", "top": "Top"}
BY_EDGE = ("flat", "on its back")
"""Postures in which either edge may be against the fence."""


def cut_pages(bench: Bench) -> list[Flowable]:
    """The cut list, and the pieces one by one."""
    part, flow = bench.section("Cut list", room=40.0)
    flow += _table(bench, part)
    part, (_, heading) = bench.section("Piece by piece")
    groups = bench.job.cuts.groups
    shapes = {piece.name: piece for piece in bench.job.built.pieces}
    told = list(_how_it_lies(bench, part))
    for number, group in enumerate(groups):
        before = [heading, *told] if number == 0 else []
        flow += together(bench, *before, *_group(bench, part, group, shapes))
    return flow


def _table(bench: Bench, part: Element) -> list[Flowable]:
    """The list at a glance: a row for each group, by member, the longest first as they are cut."""
    flow: list[Flowable] = []
    groups = [(bench.job.cuts.piece(group.names[0]), group) for group in bench.job.cuts.groups]
    for member in dict.fromkeys(piece.member for piece, _ in groups):
        mine = sorted(((p, g) for p, g in groups if p.member == member), key=lambda each: -each[0].overall)
        head = sub(bench, part, member, room=30.0)
        if all(piece.block for piece, _ in mine):
            flow += [*head, _blocks(bench, part, mine)]
            continue
        stocks = list(dict.fromkeys(stock_words(bench, p) for p, _ in mine if not p.bend and not p.easing))
        profiles = list(dict.fromkeys(p.profile.name for p, _ in mine))
        told = [f"Profile {profiles[0]}"] if len(profiles) == 1 else []
        told += [f"stock {stocks[0]}"] if len(stocks) == 1 else []
        if told:
            line = "; ".join(told)
            head.append(note(part, f"{line[0].upper()}{line[1:]}.", bench.styles.small))
        rows = [[said(cell) for cell in _row(bench, piece, group)] for piece, group in mine]
        names = mine[0][0].line_words
        ends = ("Left end", "Right end")
        if any(end.at in ("foot", "top") for piece, _ in mine for end in piece.ends):
            ends = ("Left end or foot", "Right end or top")
        words = ["Piece", "Qty", "Overall", names[0].capitalize(), names[1].capitalize(), *ends]
        widths = [share * bench.column for share in (0.18, 0.06, 0.13, 0.125, 0.125, 0.19, 0.19)]
        flow += head
        flow.append(table(part, words, rows, widths, bench.styles, right=[1, 2, 3, 4]))
        lines = list(_under_table(bench, mine))
        if lines:
            flow.append(note(part, " ".join(lines), bench.styles.small))
    return flow


def _row(bench: Bench, piece: CutPiece, group: Group) -> list[str]:
    what = "" if piece.kind == "straight" else f" ({piece.kind})"
    return [
        f"{listed(bench.numbers(group.names))}{what}",
        str(group.count),
        f"{bench.told(piece.overall)}{longer_words(bench, group)}",
        bench.told(piece.back),
        bench.told(piece.face),
        *(end_lines(piece, end)[0] for end in piece.ends),
    ]


def longer_words(bench: Bench, group: Group) -> str:
    """What pieces are cut longer than their length over all, as it stands behind that; "" where they are not."""
    gains = {round(bench.job.gains(name), 6) for name in group.names}
    most = max(gains)
    if most <= MORE:
        return ""
    return f" + {bench.fine(most)}" if len(gains) == 1 else f" + up to {bench.fine(most)}"


def _under_table(bench: Bench, mine: Sequence[tuple[CutPiece, Group]]) -> Iterator[str]:
    if any(longer_words(bench, group) for _, group in mine):
        yield "What stands behind a + is cut longer, beside a turned piece: see there."
    if any(piece.bend for piece, _ in mine):
        yield "The lengths of a curve are its arcs."
    if any(piece.easing for piece, _ in mine):
        yield "An easement's overall is its chord, its back and face are along it."
    if any(piece.pitch for piece, _ in mine):
        yield "The lengths of a climbing piece are along its slope."


def _blocks(bench: Bench, part: Element, mine: Sequence[tuple[CutPiece, Group]]) -> Flowable:
    rows = [
        [
            said(listed(bench.numbers(group.names))),
            str(group.count),
            *(bench.told(size) for size in (piece.block.wide, piece.block.out, piece.block.high)),
        ]
        for piece, group in mine
        if piece.block is not None
    ]
    widths = [share * bench.column for share in (0.3, 0.13, 0.19, 0.19, 0.19)]
    return table(part, ["Block", "Qty", "Wide", "Thick", "High"], rows, widths, bench.styles, right=[1, 2, 3, 4])


def _how_it_lies(bench: Bench, part: Element) -> Iterator[Flowable]:
    """How pieces lie on the saw, said once; and which of them are too short to be held by hand."""
    lies: dict[str, str] = {}
    for piece in bench.job.cuts.pieces:
        for end in piece.ends:
            setup = _first(end.settings)
            if setup is not None and setup.posture not in BY_EDGE:
                lies[setup.posture] = setup.lies
    told = [f"{posture.capitalize()}: {_less(words, posture)}." for posture, words in lies.items()]
    if told:
        yield note(part, "Settings are for a saw seen from in front, by how the piece lies on it.", bench.styles.text)
        yield from bullets(part, told, bench.styles.item)
    short = short_pieces(bench.job, bench.tags)
    if short:
        yield note(part, short, bench.styles.warning)


def _less(words: str, posture: str) -> str:
    """How a piece lies, without the words that name it."""
    bare = words.removeprefix(f"{posture} ").removeprefix("on the table, ")
    return bare.replace("the edge on the line of the run", "its inner edge")


def _group(bench: Bench, part: Element, group: Group, shapes: Mapping[str, Piece]) -> Iterator[Flowable]:
    job, styles = bench.job, bench.styles
    piece = job.cuts.piece(group.names[0])
    numbers, names = listed(bench.numbers(group.names)), listed(group.names)
    kind = f"{piece.member}, {piece.kind}" + (f", {group.count} alike" if group.count > 1 else "")
    yield from sub(bench, part, f"{numbers}: {names if len(names) <= NAMES else kind}")
    words = describe(bench, piece, group)
    drawing = card(piece, shapes[piece.name], bench.told, _asides(bench, group))
    yield Drawn(part.child("Figure", clean(f"Piece {numbers}: {words}")), drawing)
    yield note(part, words, styles.text)
    told = [*_ends(piece), *_others(bench, group), *_gains(bench, group), *_templates(bench, group)]
    yield from bullets(part, told, styles.item)
    if group.mirror_of is not None:
        other = listed(bench.numbers(job.cuts.groups[group.mirror_of - 1].names))
        yield note(part, f"The mirror image of {other}: not the same piece.", styles.small)
    yield Spacer(1, 4)


def describe(bench: Bench, piece: CutPiece, group: Group) -> str:
    """What to take for a piece, and how long, in sentences."""
    told = [_what(bench, piece, group)]
    if piece.grain != ALONG and piece.block is not None:
        told.append(f"Grain {piece.grain}.")
    spring = None if piece.block is not None else spring_of(piece.profile)
    if spring is not None and piece.bend is None:
        told.append(
            f"Spring angle {degrees_text(spring)}: its back is the edge on the wall, its face the line furthest out."
        )
    return " ".join(told)


def stock_words(bench: Bench, piece: CutPiece) -> str:
    """The stock of a piece, and what that is milled from."""
    stock = piece.stock
    glued = " glued up" if stock.rough.glued and "glued" not in stock.rough.name else ""
    return f"{bench.fine(stock.thickness)} × {bench.fine(stock.width)} (from {stock.rough.name}{glued})"


def _what(bench: Bench, piece: CutPiece, group: Group) -> str:
    stock = stock_words(bench, piece)
    if piece.block is not None:
        return f"Block of {stock} stock."
    bent = bend_words(piece)
    if piece.bend is not None:
        section = f"{bench.fine(piece.stock.thickness)} × {bench.fine(piece.stock.width)}"
        return f"Curve, section {section}: {bent}. How it is made: see curved pieces."
    if piece.easing is not None:
        rough, chord = piece.stock.rough.name, bench.fine(piece.easing.chord)
        thick, deep = bench.fine(piece.out_face - piece.out_back), bench.fine(piece.easing.depth)
        return (
            f"Easement: {bent}. Saw it by its template from a board {thick} thick and at least {chord} × {deep} "
            f"(from {rough}), the grain {piece.grain}."
        )
    square = all(end.long_at == "square" and end.kind not in ("cope", "self-return") for end in piece.ends)
    long = f"{bench.told(piece.overall)}{longer_words(bench, group)}"
    gains = {round(bench.job.gains(name), 6) for name in group.names}
    if len(gains) == 1 and max(gains) > MORE:
        long += f" = {bench.fine(piece.overall + max(gains))}"
    long = f"{long} long" if square and not piece.pitch else f"Overall {long}, from long point to long point"
    if piece.stick > piece.overall + MORE:
        stick = f"{bench.told(piece.stick)}{longer_words(bench, group)}"
        long += f"; take {stick} of the stick, since the coped end is first mitered"
    mine = [each for each in bench.job.cuts.pieces if each.member == piece.member and not each.bend and not each.easing]
    more = [f"stock {stock}"] if len({stock_words(bench, each) for each in mine}) > 1 else []
    return "; ".join([long, *([bent] if bent else []), *more]) + "."


def _ends(piece: CutPiece) -> Iterator[str]:
    """The ends of which there is more to say than the drawing does."""
    for end in piece.ends:
        settings = _settings(end.settings)
        if piece.block is None and settings:
            yield f"{WHICH[end.at]}: {end_words(piece, end)}{_first_cut(end)}; {settings}"


def _first_cut(end: CutEnd) -> str:
    return ": miter it first, to show the line, then saw along that line, leaning back" if end.kind == "cope" else ""


def _first(found: EndSettings | None) -> Setup | None:
    """The way to cut in most use; None for a square cut, and for what no one pass cuts."""
    if found is None or not found.setups:
        return None
    setup = found.setups[0]
    return setup if setup.setting.swing or setup.setting.tilt else None


def _settings(found: EndSettings | None) -> str:
    """The settings of the way to cut in most use, in short, and of a sprung piece also those flat on its back."""
    first = _first(found)
    if found is None or first is None:
        return ""
    ways = [first]
    if first.posture == "in position":
        ways += [setup for setup in found.setups if setup.posture == "flat"][:1]
    return "; or ".join(_set(setup) for setup in ways)


def _set(setup: Setup) -> str:
    setting = setup.setting
    swing = f"table {degrees_text(abs(setting.miter))} to the {setting.swing}" if setting.swing else "table square"
    tilt = f"blade {degrees_text(abs(setting.bevel))} to the {setting.tilt}" if setting.tilt else "blade upright"
    lies = setup.lies if setup.posture in BY_EDGE else setup.posture
    return f"{lies}: {swing}, {tilt}, keep the {setup.keep}"


def _others(bench: Bench, group: Group) -> Iterator[str]:
    """Pieces of a group whose ends are the same cuts and yet have other names than those in the drawing."""
    first, *more = (bench.job.cuts.piece(name) for name in group.names)
    drawn = _both(first)
    for piece in more:
        mine = _both(piece)
        if piece.block is None and mine != drawn:
            sides = [WHICH[end.at].lower() for end in piece.ends]
            same = f"the ends of {bench.tags[first.name]} are named; {bench.tags[piece.name]} is cut the same"
            yield f"In the drawing {same}, its {sides[0]} {mine[0]}, its {sides[1]} {mine[1]}"


def _both(piece: CutPiece) -> list[str]:
    return [end_lines(piece, end)[0] for end in piece.ends]


def _gained(bench: Bench, name: str) -> dict[str, float]:
    """What a piece gains at each of its ends, mm, by where that is to one who faces the wall."""
    piece = bench.job.cuts.piece(name)
    return {
        end.at: each.by
        for each in bench.job.longer
        for end in piece.ends
        if each.piece == name and end.meets == each.beside
    }


def _asides(bench: Bench, group: Group) -> Asides:
    """What the drawing says beside the ends: by how much all of the group are cut longer there."""
    every = [_gained(bench, name) for name in group.names]
    piece = bench.job.cuts.piece(group.names[0])
    if any(each != every[0] for each in every):
        return (), ()
    left, right = ([f"cut {bench.fine(every[0][end.at])} longer"] if end.at in every[0] else [] for end in piece.ends)
    return left, right


def _gains(bench: Bench, group: Group) -> Iterator[str]:
    """Where pieces are cut longer, and why, in one sentence."""
    mine = [each for each in bench.job.longer if each.piece in group.names]
    if not mine:
        return
    by = {round(each.by, 6) for each in mine}
    beside = {name: [bench.tags[each.beside] for each in mine if each.piece == name] for name in group.names}
    places = [f"{bench.tags[name]} at {listed(tags)}" for name, tags in beside.items() if tags]
    where = listed(places) if group.count > 1 else f"at {listed(beside[group.names[0]])}"
    much = bench.fine(max(by))
    whose = "the turned piece loses" if len(mine) == 1 else "the turned pieces lose"
    which = "Cut" if group.count == 1 else "Cut longer"
    if group.count == 1:
        yield f"{which} it {much} longer {where}, where {whose} as much to the saw"
    else:
        yield f"{which} by {much} where {whose} as much to the saw: {where}"


def _templates(bench: Bench, group: Group) -> Iterator[str]:
    """The templates that the pieces need, by their signs."""
    signs = {entry.template.sign: entry.template.kind for name in group.names for entry in bench.signs(name)}
    if signs:
        told = listed(f"{sign} ({kind})" for sign, kind in signs.items())
        yield f"{'Template' if len(signs) == 1 else 'Templates'} {told}"


def templates_pages(bench: Bench) -> list[Flowable]:
    """Which templates go with the papers; nothing where none are needed."""
    if not bench.templates:
        return []
    part, flow = bench.section("Templates", room=30.0)
    count = sum(entry.sheets for entry in bench.templates)
    told = f"At full size, {counted(count, 'sheet')} in all, and as DXF. Print at 100 %, without scaling."
    flow.append(note(part, told, bench.styles.text))
    rows = []
    for entry in bench.templates:
        serves = [bench.numbered(each) for each in entry.template.pieces]
        sheets = str(entry.sheets) if entry.sheets else "DXF only"
        rows.append([said(cell) for cell in (entry.template.sign, entry.template.kind, listed(serves), sheets)])
    widths = [share * bench.column for share in (0.1, 0.4, 0.36, 0.14)]
    flow.append(table(part, ["No.", "What it is", "For", "Sheets"], rows, widths, bench.styles, right=[3]))
    return flow
