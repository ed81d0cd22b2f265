"""The shop's papers as one PDF: cut list, sticks, curved pieces, what it takes, and the site sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable, KeepTogether, NextPageTemplate, Spacer

from preview.bench.cards import card, end_lines
from preview.bench.layouts import sticks_drawing
from preview.bench.site import CAUTIONS, joint_notes, short_pieces, steps
from preview.blanks import Caution, Way
from preview.cutlist import CutPiece, Group, ShopJob, bend_words, end_words, read_length
from preview.pages import (
    COLUMNS,
    About,
    Drawn,
    Element,
    Para,
    Strip,
    Styles,
    Writing,
    bullets,
    clean,
    note,
    plan_of,
    points,
    said,
    sub,
    table,
    typeset,
    written,
)
from preview.scene import NEUTRAL, Brand, PaperName
from preview.shop import EndSettings
from preview.units import counted, degrees_text, listed

FINE = 25.4 / 64
"""mm: sections are read no coarser, as a board that is milled a hair thin does not fit."""
NAMES = 80
"""Letters of the pieces' names in a heading; of longer ones the member is told."""
ALONG = "along its length"
"""How grain runs where nothing is said of it."""


@dataclass(frozen=True)
class Bench(Writing):
    """The papers in the making.

    tags: the pieces' numbers, as in the drawings, by name. notes, warnings: what stands at the head of it all.
    """

    job: ShopJob
    tags: dict[str, str]
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def told(self, mm: float) -> str:
        """A length as it is written, to the rounding of the shop."""
        return typeset(read_length(mm, self.job.shop.rounding, self.job.built.scene.units).text)

    def stick(self, mm: float) -> str:
        """The length of a stick as it is sold: in feet where the shop reads inches."""
        unit = self.job.built.scene.units
        return typeset(read_length(mm, self.job.shop.rounding, "ft" if unit == "in" else unit).text)

    def fine(self, mm: float) -> str:
        """A size of a section as it is written, never coarser than 1/64 in."""
        return typeset(read_length(mm, min(self.job.shop.rounding, FINE), self.job.built.scene.units).text)


def packet_pdf(
    job: ShopJob,
    tags: Sequence[str],
    paper: PaperName,
    *,
    brand: Brand = NEUTRAL,
    made: str = "",
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
) -> bytes:
    """The papers as PDF. The same job gives the same bytes.

    tags: the number of each piece in the drawings, in the order of the build. made: the date of making as it is
    printed. notes: what else is said at the head, as of an approval; warnings: what speaks against cutting.
    """
    names = [piece.name for piece in job.built.pieces]
    numbers = dict(zip(names, tags, strict=True))
    plan, styles, root = plan_of(paper), Styles(brand), Element("Document")
    bench = Bench(plan, styles, root, job, numbers, tuple(notes), tuple(warnings))
    story: list[Flowable] = [
        NextPageTemplate(COLUMNS),
        *_head(bench),
        *_cuts(bench),
        *_sticks(bench),
        *_curves(bench),
        *_quantities(bench),
        *_site(bench),
    ]
    title = clean(job.built.scene.title) or "Molding"
    code = job.built.digest[:12]
    cells = (
        (0.3, "Shop papers", clean(brand.name)),
        (0.4, title, clean(job.built.scene.job.client)),
        (0.3, f"Model {code}", f"made {made}" if made else ""),
    )
    about = About(title, clean(brand.name), f"Shop papers: model {code}", f"molding, cut list, {code}")
    front = points(bench.plan.column)
    return written(story, bench.root, bench.plan, front, about, Strip(cells, clean(brand.footer)), bench.styles)


def _head(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part = bench.root.child("Sect")
    title = Para.of(part.child("H1"), said(f"{job.built.scene.title}: shop papers"), styles.title(40))
    title.outline, title.plain = 0, "Shop papers"
    worst = max((max(each.error, each.worst) for each in job.closing), default=0.0)
    proof = (
        f"Put together again from this list alone, every run comes within {_hundredth(worst)} mm of the measured plan."
        if job.holds
        else "This list does not put every run together again. Do not cut from it."
    )
    step = read_length(job.shop.rounding, job.shop.rounding, job.built.scene.units).text
    lines = [
        f"Lengths are read to the nearest {step}; the model is never rounded, and the CSV file has every length in mm.",
        (
            "Left and right are as one faces the wall. Pieces have the numbers of the drawings. Back and face are from "
            "cut to cut on that line, overall from long point to long point."
        ),
        "Run all the molding of one section in one set-up.",
    ]
    rounded = [each.sentence + "." for each in job.roundings]
    told = [note(part, proof, styles.text if job.holds else styles.warning)]
    told += [note(part, line, styles.warning) for line in bench.warnings]
    told += [note(part, line, styles.text) for line in (*bench.notes, *lines)]
    return [title, *told, *bullets(part, rounded, styles.item)]


def _hundredth(mm: float) -> str:
    """Up to the next hundredth of a mm, so that what is told is never less than what is."""
    return f"{max(math.ceil(mm * 100 - 1e-6), 1) / 100:.2f}"


def _cuts(bench: Bench) -> list[Flowable]:
    part, flow = bench.section("Cut list", room=40.0)
    flow += _table(bench, part)
    part, more = bench.section("Piece by piece", room=45.0)
    flow += more
    for group in bench.job.cuts.groups:
        flow.append(KeepTogether(list(_group(bench, part, group))))
    return flow


def _table(bench: Bench, part: Element) -> list[Flowable]:
    """The list at a glance: a row for each group, by member, the longest first as they are cut."""
    flow: list[Flowable] = []
    groups = [(bench.job.cuts.piece(group.names[0]), group) for group in bench.job.cuts.groups]
    for member in dict.fromkeys(piece.member for piece, _ in groups):
        mine = sorted(((p, g) for p, g in groups if p.member == member), key=lambda each: -each[0].overall)
        rows = [
            [
                said(listed(bench.tags[name] for name in group.names)),
                str(group.count),
                bench.told(piece.overall),
                bench.told(piece.back),
                bench.told(piece.face),
                *(said(end_lines(piece, end)[0]) for end in piece.ends),
            ]
            for piece, group in mine
        ]
        if all(piece.block for piece, _ in mine):
            flow += [*sub(bench, part, member, room=30.0), _blocks(bench, part, mine)]
            continue
        names = mine[0][0].line_words
        head = ["Piece", "Pieces", "Overall", names[0].capitalize(), names[1].capitalize(), "One end", "Other end"]
        if all(end.at in ("left", "right") for piece, _ in mine for end in piece.ends):
            head[-2:] = ["Left end", "Right end"]
        widths = [share * bench.column for share in (0.14, 0.09, 0.13, 0.13, 0.13, 0.19, 0.19)]
        flow += sub(bench, part, member, room=30.0)
        flow.append(table(part, head, rows, widths, bench.styles, right=[1, 2, 3, 4]))
    return flow


def _blocks(bench: Bench, part: Element, mine: Sequence[tuple[CutPiece, Group]]) -> Flowable:
    rows = [
        [
            said(listed(bench.tags[name] for name in group.names)),
            str(group.count),
            *(bench.told(size) for size in (piece.block.wide, piece.block.out, piece.block.high)),
        ]
        for piece, group in mine
        if piece.block is not None
    ]
    widths = [share * bench.column for share in (0.3, 0.13, 0.19, 0.19, 0.19)]
    return table(part, ["Block", "Pieces", "Wide", "Thick", "High"], rows, widths, bench.styles, right=[1, 2, 3, 4])


def _group(bench: Bench, part: Element, group: Group) -> Iterable[Flowable]:
    job, styles = bench.job, bench.styles
    piece = job.cuts.piece(group.names[0])
    numbers = listed(bench.tags[name] for name in group.names)
    names = listed(group.names)
    kind = f"{piece.member}, {piece.kind}" + (f", {group.count} alike" if group.count > 1 else "")
    short = len(names) <= NAMES
    yield from sub(bench, part, f"{numbers}: {names if short else kind}", room=45.0)
    words = f"Piece {numbers}: {describe(bench, piece)}"
    yield Drawn(part.child("Figure", clean(words)), card(piece, bench.told))
    grain = "" if piece.grain == ALONG else f" Grain {piece.grain}."
    yield note(part, f"{describe(bench, piece)}.{grain}", styles.text)
    yield from bullets(part, list(_ends(piece)), styles.item)
    yield from bullets(part, list(_gains(bench, group)), styles.item)
    if group.mirror_of is not None:
        other = job.cuts.groups[group.mirror_of - 1]
        mirror = f"The mirror image of {listed(bench.tags[name] for name in other.names)}: not the same piece."
        yield note(part, mirror, styles.small)
    yield Spacer(1, 4)


def describe(bench: Bench, piece: CutPiece) -> str:
    """What to take for a piece, and how long."""
    stock = f"{bench.fine(piece.stock.thickness)} × {bench.fine(piece.stock.width)}"
    rough = f"from {piece.stock.rough.name}" + (", glued up" if piece.stock.rough.glued else "")
    if piece.block is not None:
        return f"Block of {stock} stock ({rough})"
    bent = bend_words(piece)
    if piece.bend is not None:
        return f"Curved piece, section {stock}; {bent}: see curved pieces"
    if piece.easing is not None:
        box = f"{bench.told(piece.easing.chord)} × {bench.told(piece.easing.depth)}"
        return f"Easement, section {stock}; {bent}: saw it from a board of {box} by its template"
    long = f"Overall {bench.told(piece.overall)}, from long point to long point"
    if piece.stick > piece.overall + 1e-6:
        long += f" ({bench.told(piece.stick)} of the stick, while the cope is still a miter)"
    return f"{long}; stock {stock} ({rough})" + (f"; {bent}" if bent else "")


def _ends(piece: CutPiece) -> Iterable[str]:
    for end in piece.ends:
        if piece.block is not None:
            continue
        where = {"left": "Left end", "right": "Right end", "foot": "Foot", "top": "Top"}[end.at]
        yield f"{where}: {end_words(piece, end)}{_settings(end.settings)}"


def _settings(found: EndSettings | None) -> str:
    """The settings of the way to cut in most use, in short; nothing for a square cut."""
    if found is None or not found.setups:
        return ""
    setup = found.setups[0]
    setting = setup.setting
    if not setting.swing and not setting.tilt:
        return ""
    swing = f"table {degrees_text(abs(setting.miter))} to the {setting.swing}" if setting.swing else "table square"
    tilt = f"blade {degrees_text(abs(setting.bevel))} to the {setting.tilt}" if setting.tilt else "blade upright"
    return f"; {setup.posture}: {swing}, {tilt}, keep the {setup.keep}"


def _gains(bench: Bench, group: Group) -> Iterable[str]:
    for each in bench.job.longer:
        if each.piece in group.names:
            which = f"{bench.tags[each.piece]}: cut" if group.count > 1 else "Cut"
            yield (
                f"{which} it {bench.told(each.by)} longer at {bench.tags[each.beside]}, whose turned end loses as much "
                "to the saw"
            )


def _sticks(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part, flow = bench.section("Sticks", room=40.0)
    shop = job.shop
    taken = f"Saw kerf {bench.fine(shop.kerf)}; {bench.fine(shop.trim)} trimmed off each end"
    if shop.defects:
        taken += f"; {shop.defects * 100:g} % reckoned for defects"
    usual = "" if shop.sticks_given else " The scene names no sticks: these are the usual lengths (common practice)."
    flow.append(note(part, f"{taken}.{usual}", styles.text))
    for sticks in job.sticks:
        layout = sticks.layout
        numbers = {name: bench.tags[name] for name in sticks.parts}
        lengths = [bench.stick(laid.stick.length) for laid in layout.used]
        told = ", ".join(f"{lengths.count(each)} of {each}" for each in dict.fromkeys(lengths))
        section = f"{bench.fine(sticks.stock.thickness)} × {bench.fine(sticks.stock.width)}"
        words = f"Sticks for {sticks.member}, {section}: {told}"
        drawing = sticks_drawing(layout, sticks.parts, numbers, (bench.told, bench.stick), shop.trim)
        least = f"At most {layout.gap * 100:.2g} % above the least there can be." if layout.gap else "None takes less."
        pairs = counted(layout.pairs, "pair") + " of neighbors on the wall"
        shared = f" {layout.together} of {pairs} share a stick." if layout.pairs else ""
        lost = f"Left over or lost: {bench.told(layout.waste)} in all."
        flow.append(
            KeepTogether(
                [
                    *sub(bench, part, words),
                    Drawn(part.child("Figure", clean(words)), drawing),
                    note(part, f"{least} {lost}{shared}", styles.small),
                ]
            )
        )
    return flow if job.sticks else []


def _curves(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    if not job.curves:
        return []
    part, flow = bench.section("Curved pieces", room=40.0)
    cautions: dict[Caution, None] = {}
    for curve in job.curves:
        numbers = listed(bench.tags[name] for name in curve.group.names)
        member = job.cuts.piece(curve.group.names[0]).member
        flow += sub(bench, part, f"{numbers}: {member}" + (f", {curve.way.name}" if curve.way else ""), room=40.0)
        flow.append(note(part, curve.why, styles.text if curve.way else styles.warning))
        if curve.way is None:
            continue
        flow += bullets(part, [*curve.way.words, *curve.way.limits], styles.item)
        if curve.steps:
            flow.append(note(part, "In this order:", styles.text))
            told = [f"{number}. {step.words}" for number, step in enumerate(curve.steps, 1)]
            flow += [note(part, line, styles.item) for line in told]
        rows = [[said(cell) for cell in _way(way)] for way in curve.ways]
        head = ["Way", "Board feet", "Left in it", "Parts", "Joints in the face", "Why not"]
        widths = [share * bench.column for share in (0.2, 0.11, 0.11, 0.08, 0.12, 0.38)]
        flow.append(table(part, head, rows, widths, styles, right=[1, 2, 3, 4]))
        cautions |= dict.fromkeys(curve.way.cautions)
    flow += sub(bench, part, "Cautions for this work")
    flow += bullets(part, [f"{each.words} ({each.source})" for each in cautions], styles.item)
    return flow


def _way(way: Way) -> list[str]:
    if not way.possible:
        return [way.name, "", "", "", "", way.refusal]
    return [way.name, f"{way.wood:.2f}", f"{100 * way.used:.0f} %", str(way.parts), str(way.joints), ""]


def _quantities(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part, flow = bench.section("What it takes", room=40.0)
    rows = []
    for each in job.quantities:
        weight = "" if each.pounds is None else f"{each.pounds:.1f} lb"
        bought = "" if each.bought_feet is None else f"{each.bought_feet:.1f} ft"
        feet = each.board_feet if each.board_feet_bought is None else each.board_feet_bought
        row = [each.member, str(each.pieces), f"{each.net_feet:.1f} ft", bought, f"{feet:.1f}", weight]
        rows.append([said(cell) for cell in (*row, f"{each.square_feet:.1f} sq ft")])
    head = ["Member", "Pieces", "Net", "Bought", "Board feet", "Weight", "To finish"]
    widths = [share * bench.column for share in (0.22, 0.1, 0.13, 0.14, 0.14, 0.13, 0.14)]
    flow.append(table(part, head, rows, widths, styles, right=[1, 2, 3, 4, 5, 6]))
    basis = "Board feet are thickness × width × length of the rough stock in inches over 144 (trade rule)"
    wood = f"; the weight is that of {job.wood} at 12 % moisture" if job.wood else "; no species is named, so no weight"
    left_out = [name for each in job.quantities for name in each.unreckoned]
    missing = f"; without the wood of {listed(bench.tags[name] for name in left_out)}" if left_out else ""
    flow.append(note(part, f"{basis}{wood}{missing}.", styles.small))
    if job.prices is not None:
        flow += sub(bench, part, "Prices")
        cells = [
            [said(line.what), f"{line.count:.2f} {line.unit}", f"{line.each:.2f}", f"{line.amount:.2f}"]
            for line in job.prices.lines
        ]
        cells.append([said("Total"), "", "", f"{clean(job.prices.currency)} {job.prices.total:.2f}"])
        shares = [share * bench.column for share in (0.42, 0.26, 0.14, 0.18)]
        flow.append(table(part, ["What", "How much", "Each", "Amount"], cells, shares, styles, right=[1, 2, 3]))
        flow += bullets(part, job.prices.notes, styles.small_item)
    return flow


def _site(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part, flow = bench.section("Putting it up", room=40.0)
    flow.append(note(part, "The order is common practice; the room may ask for another.", styles.text))
    told = [f"{number}. {line}" for number, line in enumerate(steps(job, bench.tags), 1)]
    flow += [note(part, line, styles.item) for line in told]
    notes = joint_notes(job)
    if notes:
        flow += [*sub(bench, part, "At the joints"), *bullets(part, notes, styles.item)]
    flow += sub(bench, part, "Cautions")
    flow += bullets(part, [f"{each.words} ({each.source})" for each in CAUTIONS], styles.item)
    short = short_pieces(job, bench.tags)
    if short:
        flow.append(note(part, short, styles.warning))
    return flow
