"""Long titles, long words, many pieces, options and members, and fields left out: nothing overflows, on any paper."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from preview.client import Shown
from preview.paper import pdf_type
from preview.review import every_shown
from preview.scene import NEUTRAL, Alternative, Choice, PaperName
from preview.sheet import SheetJob, sheet_pdf
from sheets import (
    MM,
    PAPERS,
    brand,
    check_pages,
    margins_are_white,
    opened,
    overlapping,
    photo,
    scene_job,
    strays,
    untagged,
    with_details,
    words_of,
    zigzag,
)

WORD = "Antidisestablishmentarian" * 8
"""200 letters without a space."""
TITLE = " ".join(["Wainscot cap and base with returns, north stair hall"] * 10)[:500]


@pytest.fixture(autouse=True)
def _no_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Line drawings fit their room by tests of their own; here they would take most of the time."""
    monkeypatch.setattr("preview.sheet.compose._line_drawings", lambda *_: [])
    monkeypatch.setattr("preview.sheet.front.plan_drawing", _small_plan)


def _small_plan(*_: object) -> object:
    from preview.drafting import Drawing
    from preview.paper import Page, stroke

    return Drawing("plan", "Plan", Page(300.0, 90.0, (stroke((1.0, 1.0), (299.0, 89.0)),)), "1:1", "A line.")


def built_of(pieces: int, paper: PaperName, members: int = 1) -> SheetJob:
    """Built and not checked, which is all that pages ask for."""
    scene = zigzag(pieces, members)
    return SheetJob(scene, every_shown(scene), (), NEUTRAL, paper, "2026-11-29")


@pytest.mark.parametrize(("paper", "title"), [("letter", TITLE), ("a3", WORD)])
def test_long_titles_and_words(paper: PaperName, title: str) -> None:
    job = with_details(
        scene_job("door-casing", paper, photos=4),
        title=title,
        client=title[:200],
        place=WORD,
        number=WORD[:60],
        drawn_by=TITLE[:60],
        revision=WORD[:60],
        date=WORD[:60],
        species=TITLE[:200],
        includes=(TITLE, WORD, "short"),
        excludes=(WORD,) * 12,
        notes=(TITLE,) * 6,
    )
    shop = brand(name=WORD[:80], lines=(WORD[:120],) * 8, footer=TITLE[:200])
    data = sheet_pdf(replace(job, brand=shop))
    check_pages(data, paper)
    assert title.replace(" ", "") in words_of(data)


def test_a_hundred_and_twenty_pieces_run_over_pages() -> None:
    job = built_of(120, "letter")
    data = sheet_pdf(job)
    assert check_pages(data, "letter") >= 5
    assert "run/member1/120straight" in words_of(data)


def test_twenty_members_of_three_pieces() -> None:
    job = built_of(3, "a4", members=20)
    data = sheet_pdf(job)
    check_pages(data, "a4")
    whole = words_of(data)
    assert len(job.shown[0].built.pieces) == 60
    for piece in job.shown[0].built.pieces:
        assert piece.name.replace(" ", "") in whole


def test_many_options_with_long_names_and_changes() -> None:
    paper: PaperName = "letter"
    job = scene_job("door-casing", paper, photos=2)
    names = ("as drawn", *(f"{WORD[:40]} {i}" for i in range(1, 9)))
    choices = (Choice(TITLE[:120], tuple(Alternative(name, TITLE) for name in names)),)
    first = replace(job.shown[0], picks=(0,))
    shown = [first, *(Shown(first.built, (i,), (TITLE, WORD, *["short"] * 30), None, (), "CODE") for i in range(1, 9))]
    data = sheet_pdf(replace(job, scene=replace(job.scene, choices=choices), shown=shown))
    check_pages(data, paper)
    assert f"Option8:{WORD[:40]}8" in words_of(data)


@pytest.mark.parametrize(("count", "paper"), [(0, "a4"), (2, "letter"), (9, "tabloid")])
def test_any_number_of_pictures(count: int, paper: PaperName) -> None:
    job = scene_job("door-casing", paper)
    job = replace(job, photos=[replace(photo(i), name=f"Picture {i} {TITLE[:90]}") for i in range(count)])
    check_pages(sheet_pdf(job), paper)


@pytest.mark.parametrize(("size", "paper"), [((40, 400), "letter"), ((400, 40), "a3")])
def test_pictures_of_any_shape(size: tuple[int, int], paper: PaperName) -> None:
    job = replace(scene_job("door-casing", paper), photos=[photo(i, size) for i in range(6)])
    check_pages(sheet_pdf(job), paper)


def test_these_checks_can_fail() -> None:
    """Words past the margin, lines over each other, and letters that belong to nothing are found."""
    into = io.BytesIO()
    canvas = Canvas(into, pagesize=(279.4 * MM, 215.9 * MM))
    canvas.setFont(pdf_type(False), 9.0)
    canvas.drawString(100.0, 300.0, "One line")
    canvas.drawString(104.0, 304.0, "another over it")
    canvas.drawString(20.0, 100.0, "past the margin")
    canvas.line(100.0, 100.0, 790.0, 100.0)
    canvas.showPage()
    canvas.save()
    data = into.getvalue()
    assert not margins_are_white(data)
    with opened(data) as (page,):
        found = strays(page, "letter")
        assert found[0].startswith("char 'p'")
        assert found[-1].startswith("line")
        assert overlapping(page) == ["'Oneline' over 'anotheroverit'"]
        assert len(untagged(page)) == len("One line another over it past the margin") - 1
    with pytest.raises(AssertionError):
        check_pages(data, "letter")


WRITTEN = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Z", "M"]), max_size=220)
LIST = st.lists(WRITTEN, max_size=6).map(tuple)


@settings(max_examples=2, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    paper=st.sampled_from(PAPERS),
    pieces=st.integers(1, 25),
    pictures=st.integers(0, 5),
    title=WRITTEN,
    client=WRITTEN,
    place=WRITTEN,
    lists=st.tuples(LIST, LIST, LIST),
)
def test_whatever_is_written(
    paper: PaperName,
    pieces: int,
    pictures: int,
    title: str,
    client: str,
    place: str,
    lists: tuple[tuple[str, ...], ...],
) -> None:
    notes, includes, excludes = lists
    job = replace(built_of(pieces, paper), photos=[photo(i) for i in range(pictures)])
    job = with_details(job, title=title, client=client, place=place, notes=notes, includes=includes, excludes=excludes)
    check_pages(sheet_pdf(replace(job, brand=brand(name=title[:80], lines=notes[:8], footer=place[:200]))), paper)
