"""STEP files: read back by the kernel, read as text by the rules of ISO 10303-21, and written the same every time."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from part21 import decoded
from preview.errors import PreviewError
from preview.joinery import MemberRun, join
from preview.models.solid import Solids, make_solids, read_step
from preview.models.solid import step as step_module
from preview.models.solid.measures import volume_of
from preview.runs import Corner, Curve, Step, Straight, lay_out
from solid_pieces import QUARTER, kernel, laid, solids

ROOT = Path(__file__).parents[2]
STEPS: list[Step] = [
    Straight(300), Corner(0.5), Curve(1.2, 60), Straight(200), Corner(-QUARTER), Straight(250), Curve(-1.0, 45),
]  # fmt: skip
SAGE, OAK = (0.5, 0.25, 0.75), (0.6, 0.42, 0.1)
NASTY = "Länge 'A' \\X2\\ \"q\" 日本 " + "und noch viel mehr " * 6 + "\U0001f600; end"


def colors(count: int) -> list[tuple[float, float, float]]:
    return [(SAGE, OAK)[i % 3 == 0] for i in range(count)]


def written(made: Solids, path: Path, title: str = "Window seat") -> str:
    made.write_step(path, title, colors(len(made.pieces)))
    return path.read_text("ascii")


def strings(text: str) -> list[str]:
    """Every string in a Part 21 file, as its reader understands it."""
    return [decoded(raw) for raw in re.findall(r"'((?:[^']|'')*)'", text)]


def test_read_back_it_holds_every_piece_by_name_and_volume(tmp_path: Path) -> None:
    made = solids(laid(STEPS).pieces)
    written(made, tmp_path / "seat.step")
    found = read_step(tmp_path / "seat.step")
    assert [name for name, _ in found] == [piece.name for piece in made.pieces]
    for (_, volume), shape in zip(found, made.shapes, strict=True):
        assert volume == pytest.approx(volume_of(shape), rel=1e-9)


def test_as_text_it_holds_solids_products_and_millimeters(tmp_path: Path) -> None:
    made = solids(laid(STEPS).pieces)
    text = written(made, tmp_path / "seat.step")
    count = len(made.pieces)
    entities = Counter(re.findall(r"^#\d+ = ([A-Z0-9_]+)", text, re.MULTILINE))
    assert entities["MANIFOLD_SOLID_BREP"] == entities["CLOSED_SHELL"] == entities["STYLED_ITEM"] == count
    assert entities["PRODUCT"] == count + 3  # the pieces, their member, its run and the scene
    assert entities["NEXT_ASSEMBLY_USAGE_OCCURRENCE"] == count + 2
    assert entities["COLOUR_RGB"] == 2
    products = re.findall(r"= PRODUCT\('((?:[^']|'')*)'", text)
    assert products == ["Window seat", "wall", "wall / base", *(piece.name for piece in made.pieces)]
    units = set(re.findall(r"LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\((.*?)\)", text))
    assert units == {".MILLI.,.METRE."}


def test_every_reference_leads_somewhere(tmp_path: Path) -> None:
    text = written(solids(laid(STEPS).pieces), tmp_path / "seat.step")
    body = re.sub(r"'(?:[^']|'')*'", "''", text)
    numbers = [int(n) for n in re.findall(r"^#(\d+) = ", body, re.MULTILINE)]
    assert len(numbers) == len(set(numbers))
    assert {int(n) for n in re.findall(r"#(\d+)", body)} == set(numbers)
    assert text.startswith("ISO-10303-21;\nHEADER;\n")
    assert text.endswith("ENDSEC;\nEND-ISO-10303-21;\n")


def test_the_header_says_nothing_of_the_machine_or_the_hour(tmp_path: Path) -> None:
    text = written(solids(laid(STEPS).pieces), tmp_path / "seat.step")
    header = text[: text.index("DATA;")]
    assert strings(header)[2:9] == [
        "seat.step",
        "1970-01-01T00:00:00",
        "",
        "",
        "molding-preview",
        "molding-preview",
        "",
    ]
    assert not re.search(r"open.?cascade|OCCT|translator|20[0-9]{2}-", text, re.IGNORECASE)


def test_one_scene_gives_the_same_bytes(tmp_path: Path) -> None:
    """Written twice here, and once by another process, where all things lie elsewhere in memory."""
    made = solids(laid(STEPS).pieces)
    digests = {hashlib.sha256(written(made, tmp_path / "seat.step").encode()).hexdigest() for _ in range(2)}
    code = (
        "import sys; sys.path.insert(0, 'tests/solid')\n"
        "from pathlib import Path\n"
        "from test_step import STEPS, laid, solids, written\n"
        "ballast = [bytearray(997 * i) for i in range(500)]\n"
        f"written(solids(laid(STEPS).pieces), Path({str(tmp_path / 'seat.step')!r}))"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, timeout=120)
    digests.add(hashlib.sha256((tmp_path / "seat.step").read_bytes()).hexdigest())
    assert len(digests) == 1


def test_what_other_code_has_set_in_the_kernel_changes_nothing(tmp_path: Path) -> None:
    """The kernel keeps its settings for the whole process: here somebody else writes a box in centimeters."""
    cadquery = kernel()
    made = solids(laid(STEPS).pieces)
    before = written(made, tmp_path / "seat.step")
    assembly = cadquery.Assembly(name="room")
    assembly.add(cadquery.Workplane().box(1, 1, 1), name="box")
    assembly.export(str(tmp_path / "box.step"), exportType="STEP", unit="CM")
    assert "SI_UNIT(.CENTI.,.METRE.)" in (tmp_path / "box.step").read_text("ascii")
    assert written(made, tmp_path / "seat.step") == before


def nasty() -> MemberRun:
    run = lay_out(NASTY, [Straight(100), Corner(1.0), Straight(100)])
    return join(run, "bâse", laid([Straight(10)]).profile)


def test_names_come_through_whatever_they_hold(tmp_path: Path) -> None:
    """Accents, quotes, the standard's own escapes, other scripts, and more than the 72 characters of a line."""
    made = solids(nasty().pieces)
    text = written(made, tmp_path / "nasty.step", title=NASTY)
    names = [piece.name for piece in made.pieces]
    assert [name for name, _ in read_step(tmp_path / "nasty.step")] == names
    assert {NASTY, *names} <= set(strings(text))
    assert "L\\X2\\00E4\\X0\\nge ''A'' \\\\X2\\\\" in text
    assert "\\X4\\0001F600\\X0\\; end" in text


def test_characters_that_no_line_can_hold_become_blanks(tmp_path: Path) -> None:
    made = solids(laid([Straight(100)]).pieces)
    text = written(made, tmp_path / "seat.step", title="two\nlines\tand a bell\a")
    assert "two lines and a bell " in strings(text)


def test_colors_are_read_back_as_srgb(tmp_path: Path) -> None:
    """By the kernel's reader, which knows nothing of how they were written."""
    from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TDF import TDF_LabelSequence
    from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

    made = solids(laid(STEPS).pieces)
    written(made, tmp_path / "seat.step")
    document = step_module._document()
    reader = STEPCAFControl_Reader()
    reader.SetColorMode(True)
    reader.ReadFile(str(tmp_path / "seat.step"))
    reader.Transfer(document)
    shapes: Any = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    tool: Any = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    labels = TDF_LabelSequence()
    shapes.GetShapes(labels)
    found = []
    for label in (labels.Value(i) for i in range(1, labels.Length() + 1)):
        if shapes.IsSimpleShape_s(label):
            color = Quantity_Color()
            assert tool.GetColor(shapes.GetShape_s(label), XCAFDoc_ColorSurf, color)
            found.append(tuple(round(value, 4) for value in color.Values(Quantity_TOC_sRGB)))
    assert found == colors(len(made.pieces))


def test_nothing_is_said_aloud(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The kernel likes to print; stdout is for data."""
    made = solids(laid(STEPS).pieces)
    written(made, tmp_path / "seat.step")
    read_step(tmp_path / "seat.step")
    assert capfd.readouterr() == ("", "")


def test_a_failure_leaves_the_file_that_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = solids(laid([Straight(100)]).pieces)
    path = tmp_path / "seat.step"
    path.write_text("an earlier file")

    def fail(*_: object) -> str:
        raise RuntimeError("no luck")

    monkeypatch.setattr(step_module, "_colored", fail)
    with pytest.raises(PreviewError, match="failed while writing the STEP file: no luck"):
        written(made, path)
    assert path.read_text() == "an earlier file"
    assert list(tmp_path.iterdir()) == [path]


def test_only_the_file_is_left(tmp_path: Path) -> None:
    written(solids(laid([Straight(100)]).pieces), tmp_path / "seat.step")
    assert [path.name for path in tmp_path.iterdir()] == ["seat.step"]


def test_a_color_for_each_solid_is_asked_for(tmp_path: Path) -> None:
    made = solids(laid(STEPS).pieces)
    with pytest.raises(PreviewError, match="shorter"):
        made.write_step(tmp_path / "seat.step", "Window seat", colors(1))
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_not_there_is_the_systems_error(tmp_path: Path) -> None:
    made = solids(laid([Straight(100)]).pieces)
    with pytest.raises(FileNotFoundError):
        written(made, tmp_path / "no" / "seat.step")


@pytest.mark.parametrize("content", [None, b"", b"not a STEP file at all\n", b"ISO-10303-21;\nHEADER;\n"])
def test_what_is_no_step_file_is_refused(
    content: bytes | None, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    kernel()
    path = tmp_path / "odd.step"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(PreviewError, match="no STEP file that the CAD kernel can read") as caught:
        read_step(path)
    assert caught.value.problems[0].file == str(path)
    assert capfd.readouterr().out == ""


def test_a_solid_that_was_changed_on_disk_is_noticed(tmp_path: Path) -> None:
    """A planted fault: one height in the file, 71 mm, made 72 everywhere it is written."""
    made = solids(laid([Straight(100)]).pieces)
    text = written(made, tmp_path / "seat.step")
    top = f"{71.0:.0f}.)"
    assert top in text
    (tmp_path / "seat.step").write_text(text.replace(f",{top}", ",72.)"))
    ((_, volume),) = read_step(tmp_path / "seat.step")
    assert abs(volume / volume_of(made.shapes[0]) - 1) > 1e-4


def test_no_pieces_make_an_empty_assembly(tmp_path: Path) -> None:
    kernel()
    assert make_solids([]).shapes == ()
    written(make_solids([]), tmp_path / "empty.step")
    assert read_step(tmp_path / "empty.step") == []
