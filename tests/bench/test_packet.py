"""The shop's papers, read back: figures worked by hand, nothing off a page or over another, the structure tagged."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
import pypdfium2
import pytest

from bench_jobs import HEAD, ROOM, SHOP, climbing, job_of, shipped, small, tags_of
from preview.bench import template_set
from preview.bench.bench import Bench, together
from preview.bench.cutting import longer_words
from preview.bench.layouts import BAR, NAMED, WIDE, stick_text, sticks_drawings
from preview.bench.packet import money, packet_pdf, sourced
from preview.bench.rounds import blank_drawing
from preview.blanks import Caution, StavedBlank
from preview.cutlist import ShopJob
from preview.pages import Element, Styles, plan_of
from preview.paper import Page, Trace, Words, ink_box
from preview.scene import NEUTRAL, PaperName
from preview.sticks import Part, Stick, lay_out
from sheet.sheets import check_pages

JOBS = {"small": small, "climbing": lambda: climbing("left")}


@cache
def papers(name: str, paper: PaperName = "letter") -> bytes:
    job = JOBS[name]() if name in JOBS else shipped(name)
    return made(job, paper)


def made(job: ShopJob, paper: PaperName = "letter", **more: tuple[str, ...]) -> bytes:
    entries = template_set(job.built, paper).entries
    return packet_pdf(job, list(tags_of(job).values()), paper, made="2026-11-29", templates=entries, **more)


def rows(data: bytes, *begin: str) -> list[str]:
    """The lines of text that begin with one of these."""
    return [line for line in lines_of(data) if line.startswith(begin)]


def text_of(data: bytes) -> str:
    """All words, column by column, lines run on."""
    return " ".join(lines_of(data))


@lru_cache(8)
def lines_of(data: bytes) -> tuple[str, ...]:
    """The lines of each of a page's two columns, as PDFium reads them."""
    document = pypdfium2.PdfDocument(data)
    found: list[str] = []
    for page in document:
        wide, high = page.get_size()
        text = page.get_textpage()
        for left in (0.0, wide / 2):
            words = text.get_text_bounded(left, 0.0, left + wide / 2, high)
            found += [" ".join(line.split()) for line in words.splitlines()]
    document.close()
    return tuple(found)


def test_the_small_room_as_it_was_reckoned_by_hand() -> None:
    data = papers("small")
    assert rows(data, "3 1 820", "1 1 1020", "2 1 520", "4 (return) 1") == [
        "1 1 1020.0 mm 1000.0 mm 1020.0 mm square miter, outside 90°",
        "3 1 820.0 mm 800.0 mm 800.0 mm miter, inside 90° miter, outside 90°",
        "2 1 520.0 mm 500.0 mm 500.0 mm miter, outside 90° miter, inside 90°",
        "4 (return) 1 20.0 mm 0.0 mm 20.0 mm miter, outside 90° square",
    ]
    told = text_of(data)
    # One stick: 2500 - 20 - 2380 - 4 cuts of 3 = 88 left; what becomes no piece is 2500 - 2380 = 120.
    assert "Sticks for strip, 20.0 mm × 40.0 mm: 1 of 2500 mm" in told
    assert "88.0 mm left" in told
    assert "No layout costs less. Left over or lost: 120.0 mm in all." in told
    assert "EUR 9.50, which is not among the prices below" in told
    # 4/4 stock, 2 in wide for a strip of 40 mm: 1 × 2 × 2500/25.4 / 144 = 1.367 board feet, and 8.202 running feet.
    assert rows(data, "strip: ", "Total") == [
        "strip: wood 1.37 board feet 6.00 8.20",
        "strip: running the molding 8.20 running feet 2.00 16.40",
        "strip: setting up 1 profile 50.00 50.00",
        "Total EUR 74.60",
    ]
    # Seen: faces of 2340 mm in all, 40 high, and tops of 2320 along their middles, 20 deep: 140,000 mm².
    assert rows(data, "strip 4") == ["strip 4 2.38 m 2.50 m 1.4 0.14 m²"]
    assert "here nothing is lost by it" in told
    assert "Pieces 2 and 4" not in told  # 500 mm is not short
    assert "Piece 4 is shorter than 300 mm (12 in): cut it off a longer one" in told


def test_the_settings_and_the_sides_of_a_piece_are_said() -> None:
    told = text_of(papers("small"))
    # Piece 2, standing: the long point of its left end is on the face, and that of its right end on the back.
    assert "Overall 520.0 mm, from long point to long point." in told
    left = "Left end: miter, outside 90°, long point at the face; standing: table 45° to the left, blade upright"
    right = "Right end: miter, inside 90°, long point at the back; standing: table 45° to the left, blade upright"
    assert f"{left}, keep the right" in told
    assert f"{right}, keep the left" in told
    assert "Standing: as it does on the wall, its foot on the table and its back against the fence." in told


def test_what_a_turned_corner_takes_is_added_to_its_neighbors() -> None:
    """The window seat wants two quarters of a blank that yields three true ones: nothing is short."""
    job, told = shipped("window-seat"), text_of(papers("window-seat"))
    assert [longer_words(_bench(job), group) for group in job.cuts.groups][:2] == ["", ""]
    assert "Cut longer" not in told
    assert "2 true pieces to a blank, sawn outside the glue lines that bound it: nothing is short" in told
    assert "11 is cut the same, its left end square to the curve, its right end square" in told
    # The column wants all four. Its saw takes 3.2 mm: 1.6 at either end, told to a tenth though lengths are read to 0.5
    # mm.
    column = text_of(papers("column"))
    assert "320.0 mm + 3.2 mm = 323.2 mm long." in column
    assert "1 at 2 and 8, 3 at 2 and 4, 5 at 4 and 6 and 7 at 6 and 8" in column


def _bench(job: ShopJob) -> Bench:
    return Bench(plan_of("letter"), Styles(NEUTRAL), Element("Document"), job, tags_of(job))


def test_what_else_a_piece_needs_is_on_its_card() -> None:
    hall = text_of(papers("hall"))
    assert "take 59⁵⁄₈″ of the stick, since the coped end is first mitered" in hall
    assert "Template T1 (cope)" in hall
    assert "2 (left end)" in hall
    cornice = text_of(papers("cornice"))
    assert "Spring angle 45°: its back is the edge on the wall" in cornice
    # A 45° crown at a square corner, flat: 35.26° and 30°, as every table of compound miters has it.
    assert "the wall edge against the fence: table 35.26° to the left, blade 30° to the left" in cornice
    stair = text_of(papers("stair-wall"))
    assert "climbs to the right at 33.69°" in stair
    assert "turns up, level at its left end and climbing 33.69° at its right" in stair
    assert "climbs to the left at 33.69°" in text_of(papers("climbing"))
    assert "level at its left end" not in text_of(papers("climbing"))


@pytest.mark.parametrize(
    ("name", "paper"),
    [
        ("small", "a4"),
        ("window-seat", "tabloid"),
        ("hall", "letter"),
        ("stair-wall", "letter"),
    ],
)
def test_nothing_strays_or_overlaps(name: str, paper: PaperName) -> None:
    assert check_pages(papers(name, paper), paper) >= 1


def test_long_names_and_many_pieces_keep_inside() -> None:
    name = "base of the north and the east wall, painted, with a cap that is left as it is"
    steps = ", ".join(
        f"{{ straight = {400 + 7 * (i % 5)} }}, {{ {'left' if i % 2 else 'right'} = 90 }}" for i in range(64)
    )
    head = HEAD.replace("[member.strip]", f'[member."{name}"]').replace("Small room", "A long title, " * 12)
    run = f'[[run]]\nname = "{"round and " * 7}round"\nmembers = ["{name}"]\nstart = [0, 0]\nheading = 0\n'
    job = job_of(f'{head}[shop]\nsticks = ["4.8 m"]\n{run}steps = [{steps}, {{ straight = 500 }}]')
    data = made(job)
    assert check_pages(data, "letter") >= 3
    assert len(set(tags_of(job).values())) == 65
    assert "1 to 65." in text_of(data)


def test_every_word_is_in_the_structure_and_figures_have_words() -> None:
    document = pypdfium2.PdfDocument(papers("window-seat"))
    assert document.is_tagged()
    raw = papers("window-seat")
    assert raw.count(b"/S /Figure") == len(shipped("window-seat").cuts.groups) + 3  # the stick, the blank and the plan
    for role in (b"/S /H1", b"/S /H2", b"/S /H3", b"/S /Table", b"/S /TH", b"/S /LBody"):
        assert role in raw
    headings = [entry.get_title() for entry in document.get_toc()]
    assert headings[:3] == ["Shop papers", "Cut list", "Piece by piece"]
    assert {"Sticks", "Curved pieces", "Templates", "What it takes", "Putting it up"} <= set(headings)


def test_the_same_job_gives_the_same_bytes() -> None:
    again = job_of(HEAD + SHOP + ROOM)
    assert made(again) == papers("small")
    assert made(again, notes=("Approved.",)) != papers("small")


def test_warnings_and_notes_stand_at_the_head() -> None:
    data = made(small(), warnings=("Do not cut from these papers.",), notes=("Model approved by R. Mo.",))
    first = text_of(data)
    assert -1 < first.index("Do not cut from these papers.") < first.index("Cut list")
    assert -1 < first.index("Model approved by R. Mo.") < first.index("Cut list")


def _boxes(page: Page) -> list[tuple[str, tuple[float, float, float, float]]]:
    return [(mark.text, ink_box(mark)) for mark in page.marks if isinstance(mark, Words)]


def test_sticks_are_drawn_to_scale_with_their_cuts() -> None:
    """Two parts of 500 and 300 from a stick of 1000: trim 20, cuts 5. They begin at 20 and at 525, and 150 are left."""
    layout = lay_out([Part("a", 500.0), Part("b", 300.0)], [Stick(1000.0)], kerf=5.0, trim=20.0)
    (laid,) = layout.used
    lengths, tags = {"a": 500.0, "b": 300.0}, {"a": "7", "b": "8"}
    (page,) = sticks_drawings(layout, lengths, tags, (str, str), (20.0, 5.0), 200.0)
    fills = [np.array([e.start for e in m.edges]) for m in page.marks if isinstance(m, Trace) and m.fill]
    whole, *parts, left = fills
    scale = (WIDE - NAMED) / 1000.0
    at = [20.0]
    for name in laid.parts:
        at += [at[-1] + lengths[name], at[-1] + lengths[name] + 5.0]
    assert whole[:, 0].min() == NAMED
    assert whole[:, 0].max() == pytest.approx(WIDE)
    for part, begin, end in zip(parts, at[::2], at[1::2], strict=False):
        assert ((part[:, 0].min() - NAMED) / scale, (part[:, 0].max() - NAMED) / scale) == pytest.approx((begin, end))
        assert np.ptp(part[:, 1]) == pytest.approx(BAR)
    assert (left[:, 0].min() - NAMED) / scale == pytest.approx(20 + 500 + 5 + 300 + 5)
    assert (left[:, 0].max() - NAMED) / scale == pytest.approx(980)
    assert laid.offcut == pytest.approx(150)


def test_small_parts_are_named_under_the_stick_and_none_is_left_out() -> None:
    parts = [Part(f"p{i}", 12.0 + i) for i in range(14)]
    layout = lay_out(parts, [Stick(2400.0)], kerf=3.0, trim=10.0)
    lengths, tags = (
        {part.name: part.length for part in parts},
        {part.name: str(100 + i) for i, part in enumerate(parts)},
    )
    pages = sticks_drawings(layout, lengths, tags, (lambda mm: f"{mm:.1f} mm", str), (10.0, 3.0), 100.0)
    boxes = [box for page in pages for box in _boxes(page)]
    for i in range(14):
        assert f"{100 + i}: {12 + i:.1f} mm" in [text for text, _ in boxes]
    for number, (text, box) in enumerate(boxes):
        assert min(box[:2]) >= -0.1, text
        assert box[2] <= WIDE + 0.1, text
        for other, beside in boxes[number + 1 :]:
            across = min(box[2], beside[2]) - max(box[0], beside[0])
            assert across <= 0 or min(box[3], beside[3]) - max(box[1], beside[1]) <= 0.05, f"{text} over {other}"


def test_many_sticks_take_several_drawings() -> None:
    parts = [Part(f"p{i}", 900.0) for i in range(40)]
    layout = lay_out(parts, [Stick(1000.0)], kerf=3.0, trim=0.0)
    tags = {part.name: part.name for part in parts}
    pages = sticks_drawings(layout, dict.fromkeys(tags, 900.0), tags, (str, str), (0.0, 3.0), 60.0)
    assert len(pages) > 3
    assert max(page.height for page in pages) <= 60.0
    assert sum("p" in text for page in pages for text, _ in _boxes(page)) == 40


def test_sticks_are_told_as_they_are_sold() -> None:
    inches, metric = shipped("window-seat"), small()
    assert stick_text(inches, 16 * 304.8) == "16'"
    assert stick_text(inches, 12.5 * 304.8) == "12' 6\""
    assert stick_text(inches, 4000.0) == "4000 mm"
    assert stick_text(metric, 2500.0) == "2500 mm"


def test_a_blank_is_drawn_as_the_lathe_sees_it() -> None:
    """Four staves: the corners of its outline are over the points, and the finished rounds lie inside and outside."""
    (curve,) = shipped("window-seat").curves
    assert curve.way is not None
    plan = curve.way.plan
    assert isinstance(plan, StavedBlank)
    page = blank_drawing(plan, lambda mm: f"{mm:.2f}")
    outside = np.array([e.start for e in next(m for m in page.marks if isinstance(m, Trace)).edges])
    across = np.linalg.norm(outside[0] - outside[2])
    scale = across / plan.diagonal
    assert len(outside) == plan.staves == 4
    sides = [np.linalg.norm(a - b) / scale for a, b in zip(outside, np.roll(outside, 1, axis=0), strict=True)]
    assert sides == pytest.approx([plan.face_width] * 4)
    told = " ".join(text for text, _ in _boxes(page))
    assert f"rough round {plan.rough_diameter:.2f}" in told
    assert "edges at 45°" in told
    for text, box in _boxes(page):
        assert box[2] <= page.width, text


def test_what_keeps_together_is_measured_whole() -> None:
    from reportlab.platypus import CondPageBreak, Spacer

    bench = _bench(small())
    first, *rest = together(bench, CondPageBreak(500), Spacer(1, 40), Spacer(1, 60))
    assert isinstance(first, CondPageBreak)
    assert 100 < first.height < 120
    assert len(rest) == 2
    assert together(bench, Spacer(1, 10_000))[0].height == bench.room_of_column[1]


def test_amounts_and_sources_are_written_plainly() -> None:
    assert money("$", 3) == "$3.00"
    assert money("CAD", 1234.5) == "CAD 1,234.50"
    assert sourced(Caution("Wait.", "29 CFR 1910.213(a); 1910.211")) == "Wait. (29 CFR 1910.213(a); 1910.211)"
    assert sourced(Caution("Wait.", "checklists (trade)")) == "Wait. (checklists, trade)"
