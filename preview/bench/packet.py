"""The shop's papers as one PDF: cut list, sticks, curved pieces, what it takes, and the site sheet."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal

from reportlab.platypus import Flowable, NextPageTemplate, PageBreak

from preview.bench.bench import Bench, together
from preview.bench.cutting import cut_pages, templates_pages
from preview.bench.layouts import sticks_drawings
from preview.bench.rounds import blank_drawing
from preview.bench.site import CAUTIONS, joint_notes, reasons, steps
from preview.bench.templates import TemplateEntry
from preview.blanks import Caution, StavedBlank, Way
from preview.cutlist import Curve, ShopJob, Sticks, read_length
from preview.drafting import plan_drawings
from preview.pages import (
    COLUMNS,
    HEADING,
    WIDE,
    About,
    Drawn,
    Element,
    Para,
    Strip,
    Styles,
    bullets,
    clean,
    drawn,
    note,
    packed,
    plan_of,
    said,
    shelves,
    sub,
    table,
    typeset,
    written,
)
from preview.scene import NEUTRAL, Brand, PaperName
from preview.units import counted, listed, show

CLOSE = 1e-6
MOST_STICKS = 60.0
"""mm, the most that sticks stand over each other before a column may end."""
INNER = re.compile(r" \(([^()]*)\)")


def packet_pdf(
    job: ShopJob,
    tags: Sequence[str],
    paper: PaperName,
    *,
    brand: Brand = NEUTRAL,
    made: str = "",
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
    templates: Sequence[TemplateEntry] = (),
) -> bytes:
    """The papers as PDF. The same job gives the same bytes.

    tags: the number of each piece in the drawings, in the order of the build. made: the date of making as it is
    printed. notes: what else is said at the head, as of an approval; warnings: what speaks against cutting. templates:
    those that go with the papers.
    """
    names = [piece.name for piece in job.built.pieces]
    numbers = dict(zip(names, tags, strict=True))
    plan, styles, root = plan_of(paper), Styles(brand), Element("Document")
    bench = Bench(plan, styles, root, job, numbers, tuple(notes), tuple(warnings), tuple(templates))
    story: list[Flowable] = [
        *_head(bench),
        *cut_pages(bench),
        *_sticks(bench),
        *_curves(bench),
        *templates_pages(bench),
        *_plans(bench),
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
    return written(story, bench.root, bench.plan, None, about, Strip(cells, clean(brand.footer)), bench.styles)


def _head(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part = bench.root.child("Sect")
    title = Para.of(part.child("H1"), said(f"{job.built.scene.title}: shop papers"), styles.title(40))
    title.outline, title.plain = 0, "Shop papers"
    worst = max((max(each.error, each.worst) for each in job.closing), default=0.0)
    proof = (
        f"Put together again from this list alone, every run comes within {_hundredth(worst)} mm of the measured plan."
        if job.holds
        else "Put together again, this list does not make every run as it was measured. Do not cut from it."
    )
    step = read_length(job.shop.rounding, job.shop.rounding, job.built.scene.units).text
    rounded = [each.sentence + "." for each in job.roundings if abs(each.total) > CLOSE or each.opens > CLOSE]
    exact = ", and here nothing is lost by it" if job.roundings and not rounded else ""
    if rounded and len(rounded) < len(job.roundings):
        rounded.append("Nothing else is lost by it.")
    sides = "Left and right are as one faces the wall. Pieces have the numbers of the drawings."
    lines = [
        f"{sides} Back and face are from cut to cut on that line, overall from long point to long point.",
        "Run all the molding of one section in one set-up.",
        f"Lengths are read to the nearest {step}{exact}; the model is never rounded. The CSV file has each in mm.",
    ]
    told = [note(part, proof, styles.text if job.holds else styles.warning)]
    told += [note(part, line, styles.warning) for line in bench.warnings]
    told += [note(part, line, styles.text) for line in (*bench.notes, *lines)]
    return [title, *told, *bullets(part, rounded, styles.item)]


def _hundredth(mm: float) -> str:
    """Up to the next hundredth of a mm, so that what is told is never less than what is."""
    return f"{max(math.ceil(mm * 100 - 1e-6), 1) / 100:.2f}"


def _sticks(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    if not job.sticks:
        return []
    part, (_, heading) = bench.section("Sticks")
    shop = job.shop
    taken = f"Saw kerf {bench.fine(shop.kerf)}; {bench.fine(shop.trim)} trimmed off each end"
    if shop.defects:
        taken += f"; {shop.defects * 100:g} % of every stick reckoned as lost to knots and checks"
    more = [] if shop.sticks_given else ["The scene names no sticks: these are the usual lengths (common practice)."]
    if any(stick.have is not None for stick in shop.sticks) and len(job.sticks) > 1:
        more.append("Sticks in hand are reckoned anew for each section: see that they do for all.")
    shown = "Pieces are shown with their numbers and what they take of the stick; dark is lost, white is left over."
    before = [heading, note(part, " ".join([f"{taken}.", *more, shown]), styles.text)]
    flow: list[Flowable] = []
    for number, sticks in enumerate(job.sticks):
        flow += _laid(bench, part, sticks, before if number == 0 else [])
    return flow


def _laid(bench: Bench, part: Element, sticks: Sticks, before: Sequence[Flowable]) -> list[Flowable]:
    """The layout of one section; of very many sticks the drawing runs over several columns."""
    layout, shop = sticks.layout, bench.job.shop
    lengths = [bench.stick(laid.stick.length) for laid in layout.used]
    told = listed(f"{lengths.count(each)} of {each}" for each in dict.fromkeys(lengths))
    section = f"{bench.fine(sticks.stock.thickness)} × {bench.fine(sticks.stock.width)}"
    words = f"Sticks for {sticks.member}, {section}: {told}"
    numbers = {name: bench.tags[name] for name in sticks.parts}
    tolds, lost = (bench.told, bench.stick), (shop.trim, shop.kerf)
    kinds = "costs" if layout.price is not None else "takes"
    least = f"No layout {kinds} less."
    if layout.gap:
        least = f"This {kinds} at most {layout.gap * 100:.2g} % more than the least that there can be."
    said_of = [least, f"Left over or lost: {bench.told(layout.waste)} in all."]
    if layout.price is not None:
        prices = bench.job.prices
        apart = ", which is not among the prices below" if prices else ""
        cost = money(prices.currency if prices else "$", layout.price)
        said_of.append(f"The sticks cost {cost}{apart}.")
    if layout.pairs:
        pairs = counted(layout.pairs, "pair")
        number = {0: "none is", layout.pairs: "all are", 1: "1 is"}.get(layout.together, f"{layout.together} are")
        said_of.append(f"Of {pairs} that meet on the wall, {number} from one stick.")
    drawings = sticks_drawings(layout, sticks.parts, numbers, tolds, lost, MOST_STICKS)
    figures = [Drawn(part.child("Figure", clean(words)), drawing) for drawing in drawings]
    head, tail = [*before, *sub(bench, part, words)], note(part, " ".join(said_of), bench.styles.small)
    if not figures[1:]:
        return together(bench, *head, *figures, tail)
    return [*together(bench, *head, figures[0]), *figures[1:-1], *together(bench, figures[-1], tail)]


def _curves(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    if not job.curves:
        return []
    part, (_, heading) = bench.section("Curved pieces")
    flow: list[Flowable] = []
    cautions: dict[Caution, None] = {}
    for number, curve in enumerate(job.curves):
        flow += _curve(bench, part, curve, [heading] if number == 0 else [])
        cautions |= dict.fromkeys(curve.way.cautions if curve.way is not None else ())
    if cautions:
        flow += sub(bench, part, "Cautions for this work", room=24.0)
        flow += bullets(part, [sourced(each) for each in cautions], styles.item)
    return flow


def _curve(bench: Bench, part: Element, curve: Curve, before: Sequence[Flowable]) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    numbers = listed(bench.numbers(curve.group.names))
    member = job.cuts.piece(curve.group.names[0]).member
    title = f"{numbers}: {member}" + (f", {curve.way.name}" if curve.way else "")
    why = note(part, curve.why, styles.text if curve.way else styles.warning)
    head = [*before, *sub(bench, part, title), why]
    if curve.way is None:
        return together(bench, *head)
    plan = curve.way.plan
    if isinstance(plan, StavedBlank):
        words = f"The blank for {numbers}, from its end"
        head.append(
            Drawn(
                part.child("Figure", clean(words)),
                blank_drawing(plan, lambda mm: typeset(show(mm, job.built.scene.units))),
            )
        )
    flow = together(bench, *head)
    flow += bullets(part, [*curve.way.words, *curve.way.limits], styles.item)
    if curve.steps:
        told = [f"{number}. {step.words}" for number, step in enumerate(curve.steps, 1)]
        first, *rest = [note(part, line, styles.item) for line in told]
        flow += [*together(bench, note(part, "In this order:", styles.text), first), *rest]
    rows = [[said(cell) for cell in _way(way)] for way in curve.ways]
    head_row = ["Way", "Board feet", "Yield", "Parts", "Joints in the face", "Why not"]
    widths = [share * bench.column for share in (0.2, 0.11, 0.11, 0.08, 0.12, 0.38)]
    compared = note(part, f"The ways to make {'it' if curve.group.count == 1 else 'them'}, compared:", styles.text)
    flow += together(bench, compared, table(part, head_row, rows, widths, styles, right=[1, 2, 3, 4]))
    return flow


def sourced(caution: Caution) -> str:
    """A caution with its source in brackets, which has none of its own.

    >>> sourced(Caution("Begin slow.", "woodturners' checklists (trade, not government)"))
    "Begin slow. (woodturners' checklists, trade, not government)"
    """
    source = INNER.sub(r", \1", caution.source)
    return f"{caution.words} ({source})"


def _way(way: Way) -> list[str]:
    if not way.possible:
        return [way.name, "", "", "", "", way.refusal]
    return [way.name, f"{way.wood:.2f}", f"{100 * way.used:.0f} %", str(way.parts), str(way.joints), ""]


def _plans(bench: Bench) -> list[Flowable]:
    """The plans with the numbers of the pieces, across the whole width, on pages of their own."""
    wide, high = bench.plan.room
    room = (wide, high - HEADING)
    items = [drawn(each, room) for each in plan_drawings(bench.job.built, room)]
    part, flow = bench.section("Plan")
    for number, page in enumerate(packed(items, room)):
        flow += [*([PageBreak()] if number else []), *shelves(part, page)]
    return [NextPageTemplate(WIDE), PageBreak(), *flow, NextPageTemplate(COLUMNS), PageBreak()]


def _quantities(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part, flow = bench.section("What it takes", room=40.0)
    weighed = any(each.weight is not None for each in job.quantities)
    rows = []
    for each in job.quantities:
        feet = each.board_feet if each.board_feet_bought is None else each.board_feet_bought
        row = [each.member, str(each.pieces), _feet(bench, each.net)]
        row += ["" if each.bought is None else _feet(bench, each.bought), f"{feet:.1f}"]
        row += [_weight(bench, each.weight)] if weighed else []
        row.append(f"{each.square_feet:.1f} sq ft" if bench.is_imperial else f"{each.finish / 1e6:.2f} m²")
        rows.append([said(cell) for cell in row])
    head = ["Member", "Pieces", "Net", "Bought", "Board feet", *(["Weight"] if weighed else []), "To finish"]
    shares = (0.22, 0.1, 0.13, 0.14, 0.14, 0.13, 0.14) if weighed else (0.3, 0.12, 0.14, 0.14, 0.15, 0.15)
    widths = [share * bench.column for share in shares]
    flow.append(table(part, head, rows, widths, styles, right=list(range(1, len(head)))))
    basis = "Board feet are thickness × width × length of the rough stock in inches over 144 (trade rule)"
    wood = f"; the weight is that of {job.wood} at 12 % moisture" if job.wood else "; no species is named, so no weight"
    left_out = [name for each in job.quantities for name in each.unreckoned]
    missing = f"; without the wood of {listed(bench.tags[name] for name in left_out)}" if left_out else ""
    flow.append(note(part, f"{basis}{wood}{missing}.", styles.small))
    if job.prices is not None:
        cells = [
            [said(line.what), said(_count(line.count, line.unit)), f"{line.each:.2f}", f"{line.amount:,.2f}"]
            for line in job.prices.lines
        ]
        cells.append([said("Total"), "", "", said(money(job.prices.currency, job.prices.total))])
        widths = [share * bench.column for share in (0.42, 0.28, 0.12, 0.18)]
        prices = table(part, ["What", "How much", "Each", "Amount"], cells, widths, styles, right=[1, 2, 3])
        notes = bullets(part, [f"{each}." for each in job.prices.notes], styles.item)
        flow += together(bench, *sub(bench, part, "Prices"), prices, *notes)
    return flow


def money(currency: str, amount: Decimal | float) -> str:
    """An amount as it is written: a sign stands against it, letters apart from it.

    >>> money("$", 1136.5), money("CAD", 40)
    ('$1,136.50', 'CAD 40.00')
    """
    apart = " " if currency[-1:].isalnum() else ""
    return f"{currency}{apart}{amount:,.2f}"


def _feet(bench: Bench, mm: float) -> str:
    return f"{mm / 304.8:.1f} ft" if bench.is_imperial else f"{mm / 1000:.2f} m"


def _weight(bench: Bench, kg: float | None) -> str:
    if kg is None:
        return ""
    return f"{kg / 0.45359237:.1f} lb" if bench.is_imperial else f"{kg:.1f} kg"


def _count(count: float, unit: str) -> str:
    """How much of a unit: pieces and profiles whole, what is measured to two decimals.

    >>> _count(12.5, "running foot"), _count(1.0, "profile"), _count(4, "piece")
    ('12.50 running feet', '1 profile', '4 pieces')
    """
    if unit in ("piece", "profile"):
        return counted(round(count), unit)
    return f"{count:,.2f} {unit.replace('foot', 'feet')}"


def _site(bench: Bench) -> list[Flowable]:
    job, styles = bench.job, bench.styles
    part, flow = bench.section("Putting it up", room=45.0)
    order = "In this order, which is common practice; the room may ask for another."
    flow.append(note(part, order, styles.text))
    rows = [[said(cell) for cell in row] for row in steps(job, bench.tags)]
    widths = [share * bench.column for share in (0.12, 0.18, 0.42, 0.28)]
    flow.append(table(part, ["Step", "Piece", "Name", "Fitted to"], rows, widths, styles))
    flow += bullets(part, reasons(job), styles.item)
    notes = joint_notes(job)
    if notes:
        flow += [*sub(bench, part, "At the joints", room=24.0), *bullets(part, notes, styles.item)]
    cautions = bullets(part, [sourced(each) for each in CAUTIONS], styles.item)
    flow += together(bench, *sub(bench, part, "Cautions"), *cautions)
    return flow
