"""Files that mean harm, or are only broken: each one clear error, in under 2 s and 500 MB, in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import ezdxf
import pytest

from drawing_files import EDGES, dxf_text, path_data, svg_text
from preview.drawings import Wanted, read_drawing

ROOT = Path(__file__).parents[2]
SECONDS, MEGABYTES = 20.0, 500
"""A reading that takes this much of the processor hangs; a busy machine does not count."""

SERVE = """
import json, os, resource, sys, time
from pathlib import Path
import ezdxf, svg.path
from preview.drawings import Wanted, read_drawing
from preview.errors import PreviewError
for line in sys.stdin:
    path, units = json.loads(line)
    if os.fork() == 0:
        started = time.process_time()
        try:
            read_drawing(Path(path), Wanted(units=units))
            said = "nothing is wrong"
        except PreviewError as error:
            said = str(error)
        spent = time.process_time() - started
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
        print(json.dumps([said, spent, most]), flush=True)
        os._exit(0)
    os.wait()
    print("done", flush=True)
"""


@pytest.fixture(scope="module")
def reader() -> Iterator[subprocess.Popen[str]]:
    """A process that reads each drawing in a process of its own, its libraries loaded before the clock starts."""
    pipe = subprocess.PIPE
    command = [sys.executable, "-c", SERVE]
    with subprocess.Popen(command, cwd=ROOT, stdin=pipe, stdout=pipe, stderr=subprocess.STDOUT, text=True) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()
        process.wait(timeout=60)


def zeros(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(100_000_000)  # a hole: it takes no room on disk


def some_zeros(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(19_000_000)


def text(content: str) -> Callable[[Path], None]:
    return lambda path: path.write_text(content, "utf-8") and None


def laughs(levels: int) -> str:
    declared = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, levels))
    return f'<!DOCTYPE svg [<!ENTITY a0 "ha">{declared}]>' + svg_text(f"<title>&a{levels - 1};</title>")


def uses(levels: int) -> str:
    groups = "".join(f'<g id="u{i}">{f"""<use href="#u{i - 1}"/>""" * 10}</g>' for i in range(1, levels))
    return svg_text(f'<defs><g id="u0"><path d="M0 0L1 1"/></g>{groups}</defs><use href="#u{levels - 1}"/>')


def blocks(path: Path) -> None:
    """Each block holds the one before ten times over, and the first holds nothing."""
    document = ezdxf.new("R2000", units=4)
    document.blocks.new("B0")
    for i in range(1, 13):
        block = document.blocks.new(f"B{i}")
        for _ in range(10):
            block.add_blockref(f"B{i - 1}", (0, 0))
    document.modelspace().add_blockref("B12", (0, 0))
    document.saveas(path)


def rows_of_blocks(path: Path) -> None:
    document = ezdxf.new("R2000", units=4)
    document.blocks.new("B").add_line((0, 0), (1, 1))
    document.modelspace().add_blockref(
        "B", (0, 0), dxfattribs={"row_count": 30_000, "row_spacing": 2, "column_count": 30_000}
    )
    document.saveas(path)


def block_in_itself(path: Path) -> None:
    document = ezdxf.new("R2000", units=4)
    document.blocks.new("B").add_blockref("B", (0, 0))
    document.modelspace().add_blockref("B", (0, 0))
    document.saveas(path)


def cut_binary(path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    for i in range(200):
        document.modelspace().add_line((i, 0), (i + 1, 0))
    document.saveas(path, fmt="bin")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 3 // 5])


def many_lines(path: Path) -> None:
    line = "0\nLINE\n8\n0\n10\n0.25\n20\n0.5\n30\n0\n11\n1.25\n21\n3.5\n31\n0\n"
    path.write_text("0\nSECTION\n2\nENTITIES\n" + line * 300_000 + "0\nENDSEC\n0\nEOF\n", "utf-8")


def one_long_polyline(path: Path) -> None:
    corners = "".join(f"10\n{i}\n20\n{i % 7}\n" for i in range(900_000))
    path.write_text(
        f"0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\n0\n90\n900000\n70\n1\n{corners}0\nENDSEC\n0\nEOF\n", "utf-8"
    )


EDGES_TEXT = dxf_text(EDGES)
NOWHERE = dxf_text([type(e)(e.start, e.start) for e in EDGES[:1]] * 5)  # type: ignore[call-arg]

HOSTILE: dict[str, tuple[str, Callable[[Path], None], str]] = {
    "entity expansion": ("a.svg", text(laughs(12)), "declares entities"),
    "one large entity": (
        "a.svg",
        text(f'<!DOCTYPE svg [<!ENTITY a "{"a" * 100_000}">]>' + svg_text(f"<title>{'&a;' * 100_000}</title>")),
        "declares entities",
    ),
    "external entity": (
        "a.svg",
        text('<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>' + svg_text("<title>&x;</title>")),
        "declares entities",
    ),
    "external parameters": (
        "a.svg",
        text('<!DOCTYPE svg [<!ENTITY % x SYSTEM "x.dtd"> %x;]>' + svg_text("")),
        "declares entities",
    ),
    "attributes by default": (
        "a.svg",
        text('<!DOCTYPE svg [<!ATTLIST g id CDATA "a">]>' + svg_text("<g/>")),
        "declares entities",
    ),
    "uses of uses": ("a.svg", text(uses(16)), "more than 2,000 elements used again"),
    "deep": ("a.svg", text(svg_text("<g>" * 5000 + "</g>" * 5000)), "nested more than 200 deep"),
    "many elements": ("a.svg", text(svg_text('<path d="M0 0h1"/>' * 400_000)), "more than"),
    "long path": ("a.svg", text(svg_text(f'<path d="M0 0{"L1 2 3 4" * 1_000_000}"/>')), "more than 20,000 edges"),
    "long transform": (
        "a.svg",
        text(svg_text(f'<g transform="{"scale(1)" * 100_000}x"><path d="M0 0h1"/></g>')),
        "has a transform",
    ),
    "huge coordinates": ("a.svg", text(svg_text('<path d="M0 0L1e300 0L1 1z"/>')), "and 10 m is the most"),
    "infinite coordinates": ("a.svg", text(svg_text('<path d="M0 0L1e999 0L1 1z"/>')), "that is not a number"),
    "not a number": ("a.svg", text(svg_text('<path d="M0 0LNaN 0L1 1z"/>')), "cannot be read"),
    "zeros as SVG": ("a.svg", zeros, "the file has 100 MB, and 20 MB is the most"),
    "some zeros as SVG": ("a.svg", some_zeros, "no sound XML from line 1 on"),
    "open SVG": ("a.svg", text(svg_text('<path d="M0 0h20v40h-19"/>')), "the outline is open"),
    "no length": ("a.svg", text(svg_text('<path d="M0 0h0v0z"/><line x1="2" x2="2"/>')), "none has a length"),
    "zeros as DXF": ("a.dxf", zeros, "the file has 100 MB, and 20 MB is the most"),
    "some zeros as DXF": ("a.dxf", some_zeros, "the file is no DXF drawing"),
    "truncated binary": ("a.dxf", cut_binary, "damaged or breaks off"),
    "truncated text": ("a.dxf", text(EDGES_TEXT[: len(EDGES_TEXT) // 2]), "damaged or breaks off"),
    "DXF of NaN": ("a.dxf", text(EDGES_TEXT.replace("20.0", "nan")), "that is not a number"),
    "DXF of infinity": ("a.dxf", text(EDGES_TEXT.replace("20.0", "1e999")), "that is not a number"),
    "DXF of words": ("a.dxf", text(EDGES_TEXT.replace("20.0", "twenty")), "damaged or breaks off, near line"),
    "DXF far away": ("a.dxf", text(EDGES_TEXT.replace("20.0", "1e200")), "and 10 m is the most"),
    "open DXF": ("a.dxf", text(dxf_text(EDGES[:-1])), "the outline is open"),
    "edges of no length": ("a.dxf", text(NOWHERE), "has 5 edges, and none has a length"),
    "blocks of blocks": ("a.dxf", blocks, "more than 20,000 block references"),
    "rows of blocks": ("a.dxf", rows_of_blocks, "more than 20,000 block references"),
    "block in itself": ("a.dxf", block_in_itself, "or in itself"),
    "many lines": ("a.dxf", many_lines, "more than 20,000 edges"),
    "one long polyline": ("a.dxf", one_long_polyline, "more than 20,000 edges"),
    "zeros as points": ("a.csv", zeros, "the file has 100 MB, and 20 MB is the most"),
    "some zeros as points": ("a.csv", some_zeros, "the file is not text"),
    "many points": ("a.csv", text("1.25,3.5\n" * 2_000_000), "more than 50,000 points"),
    "one long line of points": ("a.csv", text("1," * 9_000_000), "characters, which is no point"),
}  # fmt: skip


@pytest.mark.parametrize("kind", HOSTILE)
def test_one_clear_error_in_time_and_memory(kind: str, tmp_path: Path, reader: subprocess.Popen[str]) -> None:
    name, write, said = HOSTILE[kind]
    write(tmp_path / name)
    assert reader.stdin is not None
    assert reader.stdout is not None
    reader.stdin.write(json.dumps([str(tmp_path / name), None if name.endswith("svg") else "mm"]) + "\n")
    reader.stdin.flush()
    lines = [line.strip() for line in iter(reader.stdout.readline, "done\n") if line]
    assert len(lines) == 1, lines  # nothing else is printed, and nothing goes wrong
    told, spent, most = json.loads(lines[0])
    first, *rest = told.splitlines()
    assert first.startswith(str(tmp_path / name))
    assert said in told
    assert rest[-1].startswith("  fix: ")
    assert len(told) < 1000
    assert "hostname" not in told
    assert spent < SECONDS
    assert most / 1e6 < MEGABYTES


def test_the_harmless_doctype_is_let_through_and_never_fetched(tmp_path: Path) -> None:
    """The network guard of the tests would stop a fetch; a local file would be missing."""
    head = '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "svg11.dtd">'
    (tmp_path / "a.svg").write_text(head + svg_text(f'<path d="{path_data(EDGES)}"/>'), "utf-8")
    assert len(read_drawing(tmp_path / "a.svg", Wanted()).profile.edges) == 7
