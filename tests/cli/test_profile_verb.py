"""`molding profile`: what it prints and writes, and how it refuses."""

from __future__ import annotations

import re
from pathlib import Path

import ezdxf
import pypdfium2
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner, Result

from preview.cli.profile import profile_command
from preview.errors import PreviewError

ROOT = Path(__file__).parents[2]
BASE = ROOT / "profiles" / "cove-and-bead-base.toml"
LIBRARY = sorted(path.stem for path in (ROOT / "profiles").glob("*.toml"))

app = typer.Typer()
app.command()(profile_command)


def told(*arguments: object) -> str:
    """What the verb prints."""
    result = run(*arguments)
    assert result.exit_code == 0, result.exception
    return result.stdout


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def refused(*arguments: object) -> str:
    """What the verb says when it refuses; the command prints it and ends with 2."""
    result = run(*arguments)
    assert isinstance(result.exception, PreviewError), result.output
    assert result.stdout == ""
    return str(result.exception)


def row(text: str, start: str) -> list[str]:
    """The cells of the line of a table that begins with `start`."""
    (line,) = [line for line in text.splitlines() if line.strip().startswith(start)]
    return re.split(r" {2,}", line.strip())


def test_it_prints_the_properties_in_both_units() -> None:
    text = told(BASE)
    assert text.startswith("Cove and bead base\n")
    assert row(text, "height") == ["height", '4"', "101.60 mm"]
    assert row(text, "projection") == ["projection", '1 1/4"', "31.75 mm"]


def test_the_area_of_a_profile_without_curves() -> None:
    """The plinth, by hand: 5 x 1 1/16, a trapezoid 3/8 high, and 1/8 x 11/16: 5.7265625 sq in."""
    assert row(told("beveled-plinth"), "area") == ["area", "5.7266 sq in", "3,694.5 mm²"]


def test_area_and_centroid_are_the_handbook_s() -> None:
    """The shoe: 1/4 x 1/2 under a quarter circle of radius 1/2 (Machinery's Handbook: area πr²/4, centroid 4r/3π)."""
    text = told("quarter-round-shoe")
    quarter = 3.14159265358979 * 0.25 / 4
    area = 0.125 + quarter
    out = (0.125 * 0.25 + quarter * 4 * 0.5 / (3 * 3.14159265358979)) / area
    assert row(text, "area")[1] == f"{area:.4f} sq in"
    assert row(text, "area")[2] == f"{area * 645.16:.1f} mm²"
    assert row(text, "centroid, out")[2] == f"{out * 25.4:.2f} mm"
    assert row(text, "perimeter")[2] == f"{(0.5 + 0.25 + 3.14159265358979 / 4 + 0.75) * 25.4:.2f} mm"


def test_it_lists_the_edges_from_the_foot_up() -> None:
    text = told(BASE)
    assert row(text, "1  foot") == ["1", "foot", 'out 1 1/4"', '1 1/4"']
    assert row(text, "2  fillet") == ["2", "fillet", '2 7/16"', '2 7/16"']
    assert row(text, "3  ledge") == ["3", "ledge", 'in 1/4"', '1/4"']
    assert row(text, "5  bead")[:5] == ["5", "bead", '3/8"', '3/16"', "180°"]
    assert row(text, "8  cove")[:6] == ["8", "cove", '9/16"', 'in 3/8"', '9/16"', "73.87°"]  # 2 asin(c / 2r)
    assert row(text, "12  back") == ["12", "back", 'down 4"', '4"']


def test_off_the_grid_it_shows_what_is_left_out() -> None:
    """The chair rail's reverse ogee: radius (h² + p²) / 4p of 3/4 by 7/16, which is 10.9424 mm; 7/16 is 11.1125."""
    assert '7/16" -0.17 mm' in told("torus-chair-rail")
    assert "10.94 mm" in told("torus-chair-rail", "--unit", "mm")


def test_in_millimeters_they_come_first() -> None:
    text = told(BASE, "--unit", "mm")
    assert row(text, "height") == ["height", "101.60 mm", '4"']
    assert row(text, "2  fillet") == ["2", "fillet", "61.91 mm", "61.91 mm"]


def test_it_writes_nothing_unless_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert "wrote" not in told(BASE)
    assert list(tmp_path.iterdir()) == []


def test_it_writes_every_drawing(tmp_path: Path) -> None:
    out = tmp_path / "new" / "drawings"
    text = told(BASE, "--out", out, "--paper", "a4")
    names = {path.name for path in out.iterdir()}
    assert names == {
        "cove-and-bead-base-drawing.svg",
        "cove-and-bead-base-drawing.png",
        "cove-and-bead-base-full-size.svg",
        "cove-and-bead-base-full-size.dxf",
        "cove-and-bead-base-template.pdf",
    }
    assert all(str(out / name) in text for name in names)
    assert Image.open(out / "cove-and-bead-base-drawing.png").width > 1000
    assert len(ezdxf.readfile(out / "cove-and-bead-base-full-size.dxf").modelspace()) == 1
    document = pypdfium2.PdfDocument(out / "cove-and-bead-base-template.pdf")
    assert document[0].get_width() == pytest.approx(210 / 25.4 * 72, abs=0.01)
    document.close()


def test_it_writes_what_was_asked(tmp_path: Path) -> None:
    told("ogee-casing", "-f", "dxf", "-f", "pdf", "-f", "dxf", "-o", tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"ogee-casing-full-size.dxf", "ogee-casing-template.pdf"}


def test_all_lists_the_library_and_draws_it(tmp_path: Path) -> None:
    text = told("--all", "--out", tmp_path)
    for name in LIBRARY:
        assert row(text, f"{name} ")
    assert row(text, "cove-and-bead-base ")[1:3] == ['4"', '1 1/4"']
    assert f"{len(LIBRARY)} profiles" in text
    assert {path.name for path in tmp_path.iterdir()} == {"profiles.svg", "profiles.png"}


def test_all_without_a_folder_only_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    told("--all", "--unit", "mm")
    assert list(tmp_path.iterdir()) == []


def test_printed_to_a_pipe_it_is_plain_text() -> None:
    assert "\x1b" not in told(BASE)
    assert max(len(line) for line in told(BASE).splitlines()) < 120


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "no profile is named"),
        (["cove-and-bead-bas"], 'did you mean "cove-and-bead-base"?'),
        (["missing.toml"], "there is no such profile file"),
        (["some/where"], "there is no such profile file"),
        ([BASE, "--all"], "the whole library"),
        ([BASE, "--format", "pdf"], "no folder to write to"),
        (["--all", "--format", "dxf", "--out", "out"], "drawn as svg and png"),
        ([BASE, "--out", "taken"], "is a file, not a folder"),
        (["--all", "--out", "taken"], "is a file, not a folder"),
    ],
    ids=lambda value: " ".join(map(str, value))[-40:] if isinstance(value, list) else "",
)
def test_it_refuses_and_writes_nothing(
    arguments: list[object], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_text("a file")
    assert message in refused(*arguments)
    assert {path.name for path in tmp_path.iterdir()} == {"taken"}
    assert (tmp_path / "taken").read_text() == "a file"


def test_a_mistake_in_the_file_is_told_with_its_place(tmp_path: Path) -> None:
    wrong = tmp_path / "mine.toml"
    wrong.write_text(BASE.read_text("utf-8").replace("bead =", "baed ="), "utf-8")
    message = refused(wrong, "--out", tmp_path / "out")
    assert "mine.toml" in message
    assert "baed" in message
    assert not (tmp_path / "out").exists()


def test_what_cannot_be_drawn_leaves_nothing(tmp_path: Path) -> None:
    """A slab of 5 by 3 m has a drawing, but no template: then none of its files is written."""
    slab = tmp_path / "slab.toml"
    slab.write_text('name = "Slab"\nunits = "m"\nfoot = 3\nface = [{ fillet = 5 }]\n', "utf-8")
    assert "sheets of paper" in refused(slab, "--out", tmp_path / "out")
    assert not (tmp_path / "out").exists()
    told(slab, "--out", tmp_path / "out", "-f", "png", "-f", "dxf", "-f", "svg")
    assert len(list((tmp_path / "out").iterdir())) == 4


CUT_BOARD = """name = "Fluted board"
units = "in"
blank = { width = "4", thickness = "1 1/4" }
cuts = [
  { roundover = "1/4", at = "face top", step = "1/16" },
  { core_box = "3/8", on = "face", up = "1 1/2", depth = "1/4", diameter = 2 },
]
"""


def test_a_cut_profile_tells_what_each_cut_needs(tmp_path: Path) -> None:
    """The core box cuts 1/4 in deep, to d = 1 in; on a 2 in circle the wall must then stand off 1 in + 1 in."""
    file = tmp_path / "board.toml"
    file.write_text(CUT_BOARD, "utf-8")
    text = told(file)
    assert 'cut from a blank 4" wide, 1 1/4" thick' in text
    assert row(text, "2  core box") == ["2", "core box", "face", '1/4"', '1/4"', '2"', '1 1/4"']


def test_measured_points_are_drawn_over_the_profile_fitted_to_them(tmp_path: Path) -> None:
    """A bevel measured every 0.5 mm: the profile is exact, each point is a dot, and the distance is told."""
    points = [f"{20 - i / 8:.4f},{i / 2:.4f}" for i in range(81)]
    (tmp_path / "bevel.csv").write_text("d mm,h mm\n" + "\n".join(points) + "\n", "utf-8")
    file = tmp_path / "bevel.toml"
    file.write_text('name = "Bevel, measured"\nunits = "mm"\ndrawing = "bevel.csv"\n', "utf-8")
    text = told(file, "--out", tmp_path / "out", "--format", "svg")
    assert "largest distance from it: 0.0000 mm" in text
    svg = (tmp_path / "out" / "bevel-measured-full-size.svg").read_text("utf-8")
    assert svg.count("h0") == len(points)
    assert 'id="outline"' in svg
