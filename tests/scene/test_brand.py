"""The brand file: what is read, every way it can be wrong in whole messages, and colors that can be read."""

from __future__ import annotations

import io
import json
import subprocess
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

import gltf
from preview.errors import PreviewError
from preview.scene import NEUTRAL, Brand, Color, brand, contrast, load_brand
from test_any_scene import KEYS, VALUES, toml

SHOP = Path(__file__).parents[2] / "scenes" / "shop"
AXE = gltf.FOLDER / "node_modules" / "axe-core"
WHITE: Color = (1.0, 1.0, 1.0)
NAME = 'name = "Quillmoor Joinery"\n'


def picture(kind: str = "PNG", size: tuple[int, int] = (40, 30), mode: str = "RGB") -> bytes:
    out = io.BytesIO()
    Image.new(mode, size).save(out, kind)
    return out.getvalue()


def put(folder: Path, text: str, logo: bytes | None = None) -> Path:
    if logo is not None:
        (folder / "logo.png").write_bytes(logo)
    path = folder / "shop.toml"
    path.write_text(text, "utf-8")
    return path


def told(path: Path) -> str:
    with pytest.raises(PreviewError) as caught:
        load_brand(path)
    return str(caught.value)


def shade(written: str) -> Color:
    red, green, blue = (int(written[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return (red, green, blue)


def test_a_whole_brand(tmp_path: Path) -> None:
    text = NAME + 'lines = ["3 Saltpan Row", "555-0142"]\nlogo = "logo.png"\nfooter = "Thanks"\n'
    text += 'color = "#2d3e50"\ntint = "#EEF1EC"\n'
    assert all(f"{key} = " in text for key in brand.KEYS)
    assert load_brand(put(tmp_path, text, picture())) == Brand(
        "Quillmoor Joinery",
        ("3 Saltpan Row", "555-0142"),
        picture(),
        (0x2D / 255, 0x3E / 255, 0x50 / 255),
        (0xEE / 255, 0xF1 / 255, 0xEC / 255),
        "Thanks",
    )


def test_what_is_left_out_is_neutral(tmp_path: Path) -> None:
    made = load_brand(put(tmp_path, NAME))
    assert made == Brand("Quillmoor Joinery", color=NEUTRAL.color, tint=NEUTRAL.tint)
    assert (NEUTRAL.name, NEUTRAL.lines, NEUTRAL.logo, NEUTRAL.footer) == ("", (), None, "")
    dark = load_brand(put(tmp_path, NAME + 'color = "#5a1020"\n'))
    assert (dark.color, dark.tint) == (shade("#5a1020"), NEUTRAL.tint)
    # A color that reads on white and hardly on the neutral tint has no ground but the paper.
    assert load_brand(put(tmp_path, NAME + 'color = "#767676"\n')).tint is None


def test_the_brand_of_the_demo() -> None:
    made = load_brand(SHOP / "shop.toml")
    assert made.name == "Quillmoor Joinery"
    assert made.logo == (SHOP / "logo.png").read_bytes()
    assert made.tint is not None
    with Image.open(SHOP / "logo.png") as image:
        assert image.size == (480, 480)


# Colors.


@pytest.mark.parametrize(
    "pair",
    [
        ("#000000", "#ffffff"),
        ("#777777", "#ffffff"),
        ("#767676", "#ffffff"),
        ("#2f4a46", "#eef1ec"),
        ("#010203", "#0a0b0c"),
        ("#ff0000", "#00ff00"),
    ],
)
def test_contrast_is_that_of_another_library(pair: tuple[str, str]) -> None:
    """axe-core's own reckoning of the ratio that WCAG 2 defines; it shares no code with this one."""
    script = (
        "const {Color, getContrast} = require(process.argv[1]).commons.color;"
        "const of = h => new Color(...[1, 3, 5].map(i => parseInt(h.slice(i, i + 2), 16)), 1);"
        "console.log(getContrast(of(process.argv[2]), of(process.argv[3])))"
    )
    done = subprocess.run([gltf.node(), "-e", script, str(AXE), *pair], capture_output=True, check=True, timeout=60)
    one, other = map(shade, pair)
    assert contrast(one, other) == contrast(other, one) == pytest.approx(json.loads(done.stdout), rel=1e-9)


def test_contrast_goes_from_1_to_21() -> None:
    """The ends of the scale, as WCAG 2.2 gives them with the definition."""
    assert contrast((0.0, 0.0, 0.0), WHITE) == pytest.approx(21)
    assert contrast(WHITE, WHITE) == 1


def test_the_neutral_brand_can_be_read() -> None:
    assert NEUTRAL.tint is not None
    assert contrast(NEUTRAL.color, WHITE) >= 7  # WCAG 2.2, success criterion 1.4.6
    assert contrast(NEUTRAL.color, NEUTRAL.tint) >= 7


COLORS = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")


def of_colors(color: str, tint: str) -> Brand:
    return brand.parse_brand(f'{NAME}color = "{color}"\ntint = "{tint}"\n', Path("shop.toml"))


@given(COLORS, COLORS)
def test_colors_are_readable_or_the_ones_named_instead_are(color: str, tint: str) -> None:
    """Doing what the messages say is enough: once for the color, and once for the tint."""
    for _ in range(2):
        try:
            of_colors(color, tint)
        except PreviewError as error:
            better = {problem.place: problem.fix.split('"')[1] for problem in error.problems}
            color, tint = better.get("color", color), tint if "color" in better else better["tint"]
    made = of_colors(color, tint)
    assert made.tint is not None
    assert contrast(made.color, WHITE) >= 4.5  # WCAG 2.2, success criterion 1.4.3
    assert contrast(made.color, made.tint) >= 4.5
    assert contrast((0.0, 0.0, 0.0), made.tint) >= 10


# What is wrong, word for word.


WRONG = {
    "": """\
shop.toml
  the file is empty
  fix: start from a brand file that works: one that ships, or a copy of your own""",
    'lines = ["3 Saltpan Row"]\n': """\
shop.toml: name
  this key is missing
  fix: write what the shop is called: name = "Alder Street Joinery\"""",
    NAME + 'colour = "#223344"\n': """\
shop.toml: colour = "#223344"
  there is no key "colour" in a brand file
  fix: did you mean color?""",
    NAME + 'typeface = "serif"\n': """\
shop.toml: typeface = "serif"
  there is no key "typeface" in a brand file
  fix: the keys in a brand file are name, lines, logo, color, tint and footer""",
    'name = ""\nlines = "3 Saltpan Row"\nfooter = 5\n': """\
shop.toml: name = ""
  the text is empty
  fix: write something between the quotes

shop.toml: lines = "3 Saltpan Row"
  it must be a list, not text
  fix: write it between brackets: [..., ...]

shop.toml: footer = 5
  it must be text, not a number
  fix: put it in quotes: "5\"""",
    NAME + 'lines = ["a", 5]\n': """\
shop.toml: lines, entry 2 = 5
  it must be text, not a number
  fix: put it in quotes: "5\"""",
    NAME + 'lines = ["a", "b", "c", "d", "e", "f", "g", "h", "i"]\n': """\
shop.toml: lines = ["a", "b", "c", "d", "e", "f", "g", "h", "i"]
  it has 9 lines, and 8 is the most
  fix: put the street and the town on one line, say""",
    NAME + f'footer = "{"x" * 201}"\n': f"""\
shop.toml: footer = "{"x" * 67} ...
  it has 201 letters, and 200 is the most
  fix: write less""",
    NAME + 'color = "navy"\n': """\
shop.toml: color = "navy"
  a color is # and six digits 0-9 or a-f: two each for red, green and blue
  fix: write it like "#f4f1ea", a warm white""",
    NAME + 'color = "#8aa4b8"\n': """\
shop.toml: color = "#8aa4b8"
  headings are printed in it on white, with a contrast of 2.59 to 1; text needs 4.5 to 1
  fix: make it darker: "#667988" is near it and reads well""",
    NAME + 'color = "#777777"\n': """\
shop.toml: color = "#777777"
  headings are printed in it on white, with a contrast of 4.47 to 1; text needs 4.5 to 1
  fix: make it darker: "#767676" is near it and reads well""",
    NAME + 'tint = "#9aa5b1"\n': """\
shop.toml: tint = "#9aa5b1"
  black text on it has a contrast of 8.39 to 1; on a tint it needs 10 to 1
  fix: make it lighter: "#abb4be" is near it and reads well""",
    NAME + 'color = "#6b6b6b"\ntint = "#dddddd"\n': """\
shop.toml: tint = "#dddddd"
  text in the brand's color on it has a contrast of 3.92 to 1; on a tint it needs 4.5 to 1
  fix: make it lighter: "#ececec" is near it and reads well""",
    NAME + 'logo = "log.png"\n': """\
shop.toml: logo = "log.png"
  there is no such file
  fix: check the name; it is looked for from the brand file's folder""",
    NAME + 'logo = "."\n': """\
shop.toml: logo = "."
  this is a folder, not a picture
  fix: name the PNG or JPEG file in it""",
    NAME + 'logo = "shop.toml"\n': """\
shop.toml: logo = "shop.toml"
  what is in this file is not a PNG or a JPEG
  fix: save it again as a PNG or a JPEG""",
    "name = Quillmoor\n": """\
shop.toml: line 1
  it reads: name = Quillmoor
  Quillmoor is neither a number nor text in quotes
  fix: put text in quotes: "Quillmoor\"""",
}


@pytest.mark.parametrize("text", WRONG, ids=range(len(WRONG)))
def test_says_exactly_this(tmp_path: Path, text: str) -> None:
    assert told(put(tmp_path, text)) == WRONG[text]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    put(tmp_path, NAME)
    assert told(tmp_path / "shp.toml") == (
        f"{tmp_path / 'shp.toml'}\n  there is no such brand file\n  fix: did you mean shop.toml?"
    )
    assert "this is a folder, not a brand file" in told(tmp_path)


# The logo.


@pytest.mark.parametrize(
    ("kind", "mode"), [("PNG", "RGBA"), ("PNG", "P"), ("PNG", "1"), ("JPEG", "L"), ("JPEG", "CMYK")]
)
def test_a_logo_is_known_by_its_content(tmp_path: Path, kind: str, mode: str) -> None:
    """Also a JPEG that is called .png."""
    path = put(tmp_path, NAME + 'logo = "logo.png"\n', picture(kind, mode=mode))
    assert load_brand(path).logo == (tmp_path / "logo.png").read_bytes()


def test_a_jpeg_with_a_second_picture_in_it(tmp_path: Path) -> None:
    """As some cameras and telephones write them."""
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "MPO", save_all=True, append_images=[Image.new("RGB", (40, 30), "white")])
    assert out.getvalue()[:3] == b"\xff\xd8\xff"
    assert load_brand(put(tmp_path, NAME + 'logo = "logo.png"\n', out.getvalue())).logo is not None


def said_to_be(wide: int) -> bytes:
    """A small PNG whose header says that it is so many pixels wide and high (PNG, third edition, 11.2.1)."""
    whole = picture()
    header = b"IHDR" + wide.to_bytes(4, "big") * 2 + whole[24:29]
    return whole[:12] + header + zlib.crc32(header).to_bytes(4, "big") + whole[33:]


DAMAGED = "the picture in this file is damaged, or breaks off"
STRANGE = "what is in this file is not a PNG or a JPEG"
SAVE = "save it again as a PNG or a JPEG"
LOGOS = {
    "gif": (picture("GIF"), STRANGE, SAVE),
    "tiff": (picture("TIFF"), STRANGE, SAVE),
    "svg": (b'<svg xmlns="http://www.w3.org/2000/svg"/>', STRANGE, SAVE),
    "empty": (b"", STRANGE, SAVE),
    "png-that-breaks-off": (picture()[:-30], DAMAGED, SAVE),
    "jpeg-that-breaks-off": (picture("JPEG", (400, 300))[:-900], DAMAGED, SAVE),
    "png-with-a-wrong-byte": (picture().replace(b"IDAT", b"IDAT\xff", 1), DAMAGED, SAVE),
    "too-many-pixels": (
        picture(size=(8000, 5001), mode="1"),
        "the logo has 8,000 by 5,001 pixels, more than any paper shows",
        SAVE,
    ),
    "far-too-many-pixels": (
        said_to_be(60_000),
        "the logo has more than 40 million pixels, more than any paper shows",
        SAVE,
    ),
    "too-large": (
        picture() + bytes(5_000_000),
        "the logo has 5.0 MB, and 5 MB is the most",
        "save it smaller: 1,200 pixels across are enough for print",
    ),
}


@pytest.mark.parametrize("case", LOGOS)
def test_a_logo_that_cannot_be_printed(tmp_path: Path, case: str) -> None:
    logo, problem, fix = LOGOS[case]
    said = told(put(tmp_path, NAME + 'logo = "logo.png"\n', logo))
    assert said == f'shop.toml: logo = "logo.png"\n  {problem}\n  fix: {fix}'


def test_as_large_as_may_be(tmp_path: Path) -> None:
    whole = picture()
    path = put(tmp_path, NAME + 'logo = "logo.png"\n', whole + bytes(5_000_000 - len(whole)))
    assert load_brand(path).logo is not None


def test_a_logo_of_a_name_that_no_file_can_have(tmp_path: Path) -> None:
    said = told(put(tmp_path, NAME + f'logo = "{"x" * 400}"\n'))
    assert "the logo cannot be read" in said or "there is no such file" in said


# Whatever stands in the file.


def answer(text: str) -> None:
    """A brand or a whole PreviewError; anything else fails."""
    try:
        brand.parse_brand(text, Path("any.toml"))
    except PreviewError as error:
        for problem in error.problems:
            assert problem.file == "any.toml"
            assert problem.problem
            assert problem.fix
            assert len(problem.value or "") <= 80


@given(st.text())
def test_any_text(text: str) -> None:
    answer(text)


@given(st.dictionaries(st.sampled_from(brand.KEYS) | KEYS, VALUES, max_size=6))
def test_any_keys(keys: dict[str, object]) -> None:
    answer("".join(f"{toml(key)} = {toml(each)}\n" for key, each in keys.items()))


@given(st.binary(max_size=300), st.integers(0, 120))
def test_any_bytes_as_a_logo(data: bytes, at: int) -> None:
    """Whole pictures with some bytes exchanged: read, or refused in words."""
    for whole in (picture(), picture("JPEG")):
        said = brand.unprintable(whole[:at] + data + whole[at + len(data) :])
        assert said is None or said[0].islower()
