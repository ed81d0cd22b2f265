"""What a PDF reader finds on the sheet: words, fractions, embedded type, properties; and the same bytes every time."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pdfminer.pdftypes import resolve1

from preview.checks import Inspection
from preview.client import CAUTION
from preview.drafting import length_text
from preview.pages import Element, Styles, length, plan_of
from preview.paper import fraction
from preview.review import every_shown, review
from preview.scene import parse_scene
from preview.sheet import SheetJob, sheet_pdf
from preview.sheet.checked import second_look
from preview.sheet.making import Making
from sheets import SCENES, brand, check_pages, opened, photo, plain, scene_job, text_of, with_details, words_of


@pytest.fixture
def no_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the line drawings, which have tests of their own."""
    monkeypatch.setattr("preview.sheet.compose._line_drawings", lambda *_: [])


def test_a_whole_sheet() -> None:
    """With its drawings, on letter: everything that is to be on it can be read, and nothing stands wrongly."""
    job = scene_job("door-casing", photos=4)
    data = sheet_pdf(job)
    check_pages(data, "letter")
    text, whole = text_of(data), words_of(data)
    built = job.shown[0].built
    assert job.scene.title in text
    for piece in built.pieces:
        assert piece.name.replace(" ", "") in whole
    for heading in ("Drawings", "Profiles at full size", "Finish and sizes", "Pieces", "Checks", "Approval"):
        assert heading in text
    assert "Plan of base" in text
    assert job.shown[0].code in text
    assert built.digest in whole
    assert CAUTION.replace(" ", "") in whole
    assert "All 6 joints are tight: no gap is over 0.001 mm" in text
    for word in ("Signature", "Name", "Date", "Changes asked for"):
        assert word in text


@pytest.mark.usefixtures("no_drawings")
def test_the_title_block_says_what_the_job_says() -> None:
    job = with_details(
        scene_job("door-casing", photos=1),
        title='Casing & base <b>"upper"</b>',
        client="R. & M. Oduya",
        place="14 Quay Lane <rear>",
        number="1187",
        drawn_by="L. Brandt",
        revision="B",
        date="29 November 2026",
        species='3/4" poplar',
        includes=("Supply & fitting",),
        excludes=("Painting <on site>",),
        notes=("Mind the cat",),
    )
    shop = brand(name="Quill & Moor <Joinery>", lines=("3 Saltpan Row",), footer="A footer & more")
    data = sheet_pdf(replace(job, brand=shop, made="2026-11-30"))
    check_pages(data, "letter")
    text = text_of(data)
    for said in (
        "R. & M. Oduya",
        "14 Quay Lane <rear>",
        "1187",
        "L. Brandt",
        "29 November 2026",
        "2026-11-30",
        "Quill & Moor <Joinery>",
        "3 Saltpan Row",
        "A footer & more",
        "Supply & fitting",
        "Painting <on site>",
        "Mind the cat",
        "³⁄₄″ poplar",
        "Job 1187, revision B",
        "drawn by L. Brandt, dated 29 November 2026",
        "sheets made 2026-11-30",
    ):
        assert said in text, said
    assert 'Casing&base<b>"upper"</b>' in words_of(data)
    with opened(data) as pages:
        count = len(pages)
        for page in pages:
            assert f"Sheet {page.page_number} of {count}" in page.extract_text()


@pytest.mark.usefixtures("no_drawings")
def test_lengths_are_set_with_proper_fractions() -> None:
    """A member's sizes and the pieces' lengths: raised over lowered figures, found as such by a reader."""
    job = scene_job("window-seat", photos=1)
    text = text_of(plain("window-seat"))
    for piece in job.shown[0].built.pieces:
        length = piece.element.length
        assert fraction(length) in text
    assert "1¹⁄₄″" in text
    assert '1/4"' not in text


@pytest.mark.usefixtures("no_drawings")
def test_the_options_and_what_each_changes() -> None:
    job = scene_job("window-seat", photos=1)
    whole = words_of(plain("window-seat"))
    for shown in job.shown:
        assert shown.code in whole
    assert "base is finished in oak (was white)".replace(" ", "") in whole
    assert "Bothturnedcornersofseat(radius2″)arenowmitered" in whole
    assert "OnecurvedpiecefollowsthestoneroundeachpierMITERED".replace("MITERED", "") in whole
    assert "Approvewiththisoptioninstead" in whole
    assert "Thesamecheckshold" in whole
    assert "Approvewiththisoptioninstead" not in words_of(plain("door-casing"))


@pytest.mark.usefixtures("no_drawings")
def test_without_a_job_it_has_lines_to_fill_in() -> None:
    text = text_of(sheet_pdf(with_details(scene_job("door-casing", photos=1))))
    for label in ("Client", "Place", "Job number", "To be agreed", "Species, to be agreed"):
        assert label in text


@pytest.mark.usefixtures("no_drawings")
def test_failures_are_told_plainly() -> None:
    job = scene_job("door-casing", photos=1)
    first = job.shown[0]
    assert first.inspection is not None
    gaps = [each for each in first.inspection.findings if each.check.code == "gap"]
    bad = tuple(replace(each, figure=0.75) if each in gaps[::2] else each for each in first.inspection.findings)
    failed = replace(
        first,
        inspection=Inspection(bad, first.inspection.meetings, first.inspection.volumes),
        failures=("a gap: 0.75",),
    )
    text = text_of(sheet_pdf(replace(job, shown=[failed])))
    assert "Not every check holds" in text
    assert "a gap: 0.75" in text
    assert " of 6 are open: the widest gap is 0.750 mm (limit" in text
    assert "does not hold every check: see Checks before signing" in text
    assert "tight" not in text


@pytest.mark.usefixtures("no_drawings")
def test_a_model_that_nobody_measured_says_so() -> None:
    job = scene_job("door-casing", photos=1)
    text = text_of(sheet_pdf(replace(job, shown=[replace(job.shown[0], inspection=None, failures=())])))
    assert "has not been measured yet" in text
    assert "has not been checked" in text
    assert "tight" not in text


@pytest.mark.usefixtures("no_drawings")
def test_rough_pictures_are_told() -> None:
    job = scene_job("door-casing", photos=2)
    assert "made quickly and are rough" in text_of(sheet_pdf(replace(job, rough=True)))
    text = text_of(plain("door-casing"))
    assert "made quickly" not in text
    assert 'printed as "?"' not in text


SITED = """
title = "Sited"
units = "in"
[profile.base]
file = "{folder}/ogee-base.toml"
[member.base]
profile = "base"
[site]
saw = 0.2
wall = 0.5
grade = "custom"
[[run]]
name = "run"
members = ["base"]
start = [0, 0]
heading = 0
steps = [{{ straight = 40 }}, {{ left = 90 }}, {{ straight = 30 }}]
"""


@pytest.mark.usefixtures("no_drawings")
def test_what_is_forecast_on_site() -> None:
    folder = (SCENES.parent / "profiles").as_posix()
    scene = parse_scene(SITED.format(folder=folder), Path("sited.toml"))
    job = SheetJob(scene, review(scene), (), brand(), "letter", "2026-11-29")
    data = sheet_pdf(job)
    check_pages(data, "letter")
    text = text_of(data)
    (forecast,) = job.shown[0].built.forecasts
    assert "Forecast on site" in text
    assert f"{forecast.worst / 25.4:.3f}″" in text
    assert "A forecast is no promise" in text


@pytest.mark.usefixtures("no_drawings")
@pytest.mark.parametrize("title", ["書院の窓台 نافذة القراءة", "Sill 🪵🔨 cafe\u0301 \u200bא\n\t\x07ב"])
def test_letters_that_the_type_lacks_do_no_harm_and_are_told(title: str) -> None:
    job = with_details(scene_job("door-casing", photos=1), title=title, client=title, includes=(title,))
    data = sheet_pdf(replace(job, brand=brand(name=title, lines=(title,), footer=title)))
    check_pages(data, "letter")
    assert 'printed as "?"' in text_of(data)


@pytest.mark.usefixtures("no_drawings")
def test_all_type_is_embedded() -> None:
    data = plain("window-seat")
    fonts: dict[str, Any] = {}
    with opened(data) as pages:
        for page in pages:
            resources = resolve1(page.page_obj.attrs["Resources"])
            for font in resolve1(resources["Font"]).values():
                found = resolve1(font)
                fonts[str(found["BaseFont"])] = resolve1(found.get("FontDescriptor"))
        used = {char["fontname"] for page in pages for char in page.chars}
    assert fonts
    assert all(each is not None and "FontFile2" in each for each in fonts.values()), fonts.keys()
    assert {name.partition("+")[2] for name in used} == {"SourceSansPro-Regular", "SourceSansPro-Semibold"}
    assert b"Helvetica" not in data


@pytest.mark.usefixtures("no_drawings")
def test_its_properties() -> None:
    job = replace(scene_job("door-casing", photos=1), brand=brand(name="Quillmoor Joinery"))
    data = sheet_pdf(job)
    with opened(data) as pages:
        pdf = pages[0].pdf
        assert pdf.metadata["Title"] == job.scene.title
        assert pdf.metadata["Author"] == "Quillmoor Joinery"
        assert job.shown[0].code in pdf.metadata["Keywords"]
        assert job.shown[0].code in pdf.metadata["Subject"]
        catalog = pdf.doc.catalog
        preferences = resolve1(catalog["ViewerPreferences"])
        assert str(preferences["PrintScaling"]) == "/'None'"
        assert preferences["DisplayDocTitle"] is True
        assert resolve1(catalog["Lang"]) == b"en-US"
        assert not any(page.annots or page.hyperlinks for page in pages)


@pytest.mark.usefixtures("no_drawings")
def test_the_same_job_gives_the_same_bytes() -> None:
    assert sheet_pdf(scene_job("door-casing", photos=1)) == plain("door-casing")


def test_a_sheet_shows_something() -> None:
    job = scene_job("door-casing")
    with pytest.raises(ValueError, match="one model at least"):
        sheet_pdf(replace(job, shown=()))


@pytest.mark.usefixtures("no_drawings")
def test_options_side_by_side_are_named_with_their_codes_and_what_was_taken_is_said() -> None:
    job = scene_job("window-seat", photos=2)
    beside = replace(photo(9), name="Options", words="The options side by side.")
    data = sheet_pdf(replace(job, beside=beside, beside_numbers=(0, 2, 4), taken="round 3 in"))
    check_pages(data, "letter")
    text, whole = text_of(data), words_of(data)
    for number, name in ((0, "As drawn"), (2, "Option 2: mitered"), (4, "Option 4: ogee")):
        assert f"{name} (code {job.shown[number].code})".replace(" ", "") in whole
    assert "Options taken" in text
    assert "with the options round 3 in" in text


@pytest.mark.usefixtures("no_drawings")
def test_climbing_pieces_have_their_raked_profiles_and_lengths_on_the_slope() -> None:
    """The rail climbs 33.69 degrees: rise over run of 2 to 3, whose slope is longer than its level by sqrt(13)/3."""
    job = scene_job("stair-wall")
    data = sheet_pdf(job)
    check_pages(data, "letter")
    text = text_of(data)
    assert "raked at 33.69°" in text
    assert "For piece 5." in text
    piece = next(piece for piece in job.shown[0].built.pieces if piece.name == "rail / rail / 4 straight")
    slope = piece.element.length * math.sqrt(13) / 3
    assert f"{slope:.1f}" in text
    assert "on the slope" in text


FLOATING = """
title = "Floating cap"
units = "in"
[profile.base]
file = "{folder}/ogee-base.toml"
[profile.cap]
file = "{folder}/ogee-base-cap.toml"
[member.base]
profile = "base"
[member.cap]
profile = "cap"
up = "5 3/4"
[[run]]
name = "wall"
members = ["base", "cap"]
start = [0, 0]
heading = 0
steps = [{{ straight = 40 }}]
"""
"""The base is 5 1/4 in high: 1/2 in of wall shows under the cap."""


@pytest.mark.usefixtures("no_drawings")
@pytest.mark.parametrize("is_checked", [True, False])
def test_a_cap_that_floats_over_its_base_is_told(is_checked: bool) -> None:
    scene = parse_scene(FLOATING.format(folder=(SCENES.parent / "profiles").as_posix()), Path("floating.toml"))
    shown = review(scene) if is_checked else every_shown(scene)
    text = text_of(sheet_pdf(SheetJob(scene, shown, (photo(0),), brand(), "letter", "2026-11-29")))
    assert "Worth a second look" in text
    assert "wall: between base and cap the wall shows, ¹⁄₂″ wide" in text
    assert "Worth a second look" not in text_of(plain("door-casing"))


def test_a_builder_s_remark_is_told_with_the_option_it_is_of() -> None:
    job = scene_job("window-seat", photos=1)
    odd = replace(job.shown[2], built=replace(job.shown[2].built, remarks=("a member bears on nothing",)))
    shown = [*job.shown[:2], odd, *job.shown[3:]]
    making = Making(plan_of("letter"), Styles(job.brand), Element("x"), replace(job, shown=shown))
    assert second_look(making) == ["Option 2: mitered: a member bears on nothing"]


def test_tables_have_lengths_as_the_drawings_have_them() -> None:
    """10 19/32 in is 269.08 mm; 1/32 in more or less would be 0.8 mm off."""
    for unit in ("in", "ft", "mm"):
        assert length(269.08, unit).removesuffix(" mm") == length_text(269.08, unit)
    assert length(269.08, "in") == "10¹⁹⁄₃₂″"
