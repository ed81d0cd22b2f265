"""What a job of 100, 1,000 and 10,000 pieces takes, and whether a piece takes more where there are more of them:

    python tests/benchmarks/growth.py                   # on a machine that does nothing else; about a minute
    python tests/benchmarks/growth.py --counts 100 400

Each of these runs in a fresh process on a house of galleries, fifty pieces along each, straights, mitered corners and
curves in turn, no two galleries equal:

    check     `molding check`: built, and every check made
    glb       the scene built and its GLB written, nothing checked
    export    `molding export --format glb`: the same, checked, read back by another library, and reported

Told are the time on the clock, that of the
processors, the memory that all its processes hold at once at the most (shared pages counted in each), the size of the
file, and the time for each piece, on the clock and of the processors, also without the start, which is what a house of
one piece takes. That the whole work was done is read from what was printed or written.

It ends with 1 where a piece among the most takes more than GROWTH times the processors' time of one among the fewest.
Times on the clock, and what stands beside a table as its aim, are told and not judged: they depend on the machine.
Memory is read from /proc: Linux.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import resource
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

PROFILE = Path(__file__).parents[2] / "profiles" / "ogee-base.toml"
MOLDING = "from preview.cli import main; main()"
GLB = """
import sys
from pathlib import Path
from preview.build import build
from preview.exports.glb import built_glb
from preview.scene import load_scene
Path(sys.argv[2]).write_bytes(built_glb(build(load_scene(Path(sys.argv[1])))))
"""
COUNTS = [100, 1000, 10_000]
ALONG = 50
"""Pieces along one gallery."""
WALL = (
    "{ straight = 400 }", "{ left = 90 }, { straight = 250 }", "{ right = 90 }, { straight = 400 }",
    "{ curve_left = 45, radius = 150 }", "{ straight = 300 }", "{ curve_right = 45, radius = 150 }",
)  # fmt: skip
"""One bay of a gallery's wall: six pieces, after which it goes on in the direction it had."""
GROWTH = 1.3
AIMS = {"check": "30 s and 2,000 MB at 10,000", "glb": "10 s at 10,000", "export": "none"}


@dataclass(frozen=True)
class Taken:
    """s on the clock and of the processors, bytes held at once by all processes, bytes of the file (0: none)."""

    wall: float
    cpu: float
    held: int
    size: int


Measure = Callable[[Path, int], Taken]


def house(count: int) -> str:
    """A scene of `count` pieces."""
    heading = f"""title = "Galleries"
units = "mm"
[finish.oak]
color = "#a08050"
kind = "clear"
[profile.base]
file = {json.dumps(PROFILE.as_posix())}
[member.base]
profile = "base"
finish = "oak"
"""
    return heading + "".join(gallery(first // ALONG, min(ALONG, count - first)) for first in range(0, count, ALONG))


def gallery(number: int, count: int) -> str:
    """One run of `count` pieces, clear of all others: four stand side by side, 1.5 m behind the four before."""
    name = f"gallery {number + 1}"
    start = [15_000 * (number % 4), 1500 * (number // 4)]
    steps = [f"{{ straight = {500 + number} }}", *(WALL[at % len(WALL)] for at in range(1, count))]
    heading = f'[[run]]\nname = "{name}"\nmembers = ["base"]\nroom = "left"\nstart = {start}\n'
    return f"{heading}steps = [{', '.join(steps)}]\n"


def held_by(process: int) -> int:
    """Bytes that a process and all below it hold in memory."""
    below: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text()
            except OSError:  # it has ended
                continue
            below.setdefault(int(stat[stat.rindex(")") + 2 :].split()[1]), []).append(int(entry.name))
    held, left = 0, [process]
    while left:
        number = left.pop()
        left += below.get(number, [])
        try:
            held += int(Path(f"/proc/{number}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
        except OSError:
            continue
    return held


def run(program: str, arguments: list[str], printed: Path) -> tuple[float, float, int]:
    """Run a Python program: the time on the clock, that of the processors, and the most memory held."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    with (
        printed.open("w") as file,
        subprocess.Popen([sys.executable, "-c", program, *arguments], stdout=file) as process,
    ):
        held = 0
        while process.poll() is None:
            held = max(held, held_by(process.pid))
            time.sleep(0.05)
        wall = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if process.returncode:
        raise SystemExit(f"{arguments} ended with {process.returncode}:\n{printed.read_text('utf-8')[-2000:]}")
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, held


def check(scene: Path, count: int) -> Taken:
    """`molding check`."""
    printed = scene.with_suffix(".txt")
    taken = run(MOLDING, ["check", str(scene)], printed)
    judged = re.search(r"^the file holds every piece.*?  (\d+)  ", printed.read_text("utf-8"), re.M)
    if not judged or int(judged[1]) != count:
        raise SystemExit(f"not {count} pieces were checked:\n{printed.read_text('utf-8')[-2000:]}")
    return Taken(*taken, 0)


def glb(scene: Path, count: int) -> Taken:
    """A GLB by itself."""
    made = scene.with_suffix(".glb")
    return Taken(*run(GLB, [str(scene), str(made)], scene.with_suffix(".txt")), size_of(made, count))


def export(scene: Path, count: int) -> Taken:
    """`molding export --format glb`."""
    out = scene.with_suffix("")
    taken = run(MOLDING, ["export", str(scene), "--format", "glb", "--out", str(out)], scene.with_suffix(".txt"))
    (made,) = out.rglob("*.glb")
    return Taken(*taken, size_of(made, count))


def size_of(made: Path, count: int) -> int:
    """The bytes of a GLB, once it is sure that it has `count` pieces with a mesh of their own."""
    with made.open("rb") as file:
        (length,) = struct.unpack("<12xI4x", file.read(20))
        document = json.loads(file.read(length))
    pieces = sum("mesh" in node for node in document["nodes"])
    if pieces != count or len(document["meshes"]) != count:
        raise SystemExit(f"{pieces} pieces and {len(document['meshes'])} meshes were written, not {count}")
    return made.stat().st_size


def best(measure: Measure, count: int) -> Taken:
    """The quickest of a few: once where there are many pieces, else three times."""
    found = []
    for _ in range(3 if count < 5000 else 1):
        with tempfile.TemporaryDirectory() as folder:
            scene = Path(folder) / "house.toml"
            scene.write_text(house(count), "utf-8")
            found.append(measure(scene, count))
    return min(found, key=lambda taken: taken.wall)


def told(measure: Measure, counts: list[int]) -> bool:
    """Print the table of one of them; whether a piece takes no more where there are more."""
    start = best(measure, 1)
    name = measure.__name__
    print(f"\n{name}: start {start.wall:.2f} s, of the processors {start.cpu:.2f} s; aim {AIMS[name]}")
    print(f"{'':43}{'ms for each piece':>20}{'of the processors':>20}")
    print(f"{'pieces':>10}{'s':>8}{'cpu s':>8}{'MB':>8}{'file MB':>9}" + 2 * f"{'all':>10}{'less start':>12}")
    each = []
    for count in counts:
        taken = best(measure, count)
        times = (taken.wall, taken.wall - start.wall, taken.cpu, taken.cpu - start.cpu)
        each.append([1000 * one / count for one in times])
        size = f"{taken.size / 1e6:.1f}" if taken.size else "-"
        print(f"{count:10,}{taken.wall:8.1f}{taken.cpu:8.1f}{taken.held / 1e6:8.0f}{size:>9}{columns(each[-1])}")
    whole = each[-1][2] / each[0][2]
    print(f"{counts[-1]:,} against {counts[0]:,}: {whole:.2f} of the processors' time; at most {GROWTH}")
    # What is less than a tenth of the start is lost in its scatter.
    at = next((at for at, of in enumerate(each) if of[3] > 0.1 * (of[2] - of[3])), len(each) - 1)
    alone = each[-1][3] / each[at][3]
    print(f"{counts[-1]:,} against {counts[at]:,}, less start: {alone:.2f}; at most {GROWTH}")
    return max(whole, alone) <= GROWTH


def columns(figures: list[float]) -> str:
    """Four figures below their headings."""
    return "".join(f"{figure:{width}.2f}" for figure, width in zip(figures, (10, 12, 10, 12), strict=True))


MEASURED: tuple[Measure, ...] = (check, glb, export)


def main() -> int:
    """What it says in the heading."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--counts", type=int, nargs="+", default=COUNTS)
    parser.add_argument("--only", choices=[measure.__name__ for measure in MEASURED], nargs="+")
    options = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before")
    wanted = [measure for measure in MEASURED if not options.only or measure.__name__ in options.only]
    held = [told(measure, sorted(options.counts)) for measure in wanted]
    return 0 if all(held) else 1


if __name__ == "__main__":
    raise SystemExit(main())
