"""What a person reads: progress while it works, and the report afterwards.

Progress and remarks go to the error stream, the report to the output stream; piped, it is plain text.
"""

from __future__ import annotations

import math
import signal
import sys
import threading
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from rich import progress as bars
from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from preview.checks import Finding
from preview.cli import show_options, show_shop, stopping
from preview.cli.stopping import StoppedError
from preview.cli.visible import visible
from preview.client import CAUTION
from preview.exports import Report, by_check, report_json, worst
from preview.jobs import PUBLISHING, Outcome
from preview.joinery import piece_lengths
from preview.profiles import measure
from preview.units import counted
from preview.units import show as length

MOST_ROWS = 40
MOST_FAILURES = 20
MOST_FILES = 30
WIDTH = 100


class Progress:
    """A bar on the error stream where that is a terminal, nothing where it is not; and how Ctrl-C stops the work.

    gently: stop between steps, not in the middle of one; a second Ctrl-C stops at once. So do the system's other
    signals to end. A signal that is ignored when the work begins stays ignored.
    """

    def __init__(self, gently: bool = True) -> None:
        self._gently = gently
        self._console = Console(stderr=True)
        self._bars = bars.Progress(
            bars.TextColumn("{task.description}"),
            bars.BarColumn(),
            bars.MofNCompleteColumn(),
            bars.TimeElapsedColumn(),
            bars.TimeRemainingColumn(compact=True),
            console=self._console,
            transient=True,
            disable=not self._console.is_terminal,
        )
        self._tasks: dict[str, bars.TaskID] = {}
        self._stopped = 0
        self._final = False
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Progress:
        if threading.current_thread() is threading.main_thread():
            for number in filter(stopping.ends, stopping.SIGNALS):
                self._before[number] = signal.signal(number, self._stop)
        self._bars.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._bars.stop()
        for number, before in self._before.items():
            signal.signal(number, before)
        if self._stopped or isinstance(error, KeyboardInterrupt):
            # A library that was loading or reading may have taken the interruption for a fault of its own.
            raise StoppedError(self._stopped or signal.SIGINT, nothing=self._gently) from error

    def _stop(self, number: int, _frame: object) -> None:
        """Note that the work is to stop; raise at once only where that is safe, or when Ctrl-C comes again.

        A kernel written in another language can crash when it is torn out of its loading.
        """
        again = self._stopped and number == signal.SIGINT
        if self._final:
            return
        self._stopped = self._stopped or number
        if again or not self._gently:
            raise StoppedError(number)

    def step(self, stage: str, done: int, total: int) -> None:
        """Say how far a stage has come; stop here if that was asked for and did not come through."""
        if self._stopped:
            raise StoppedError(self._stopped)
        self._final = stage == PUBLISHING
        if stage not in self._tasks:
            self._tasks[stage] = self._bars.add_task(stage, total=total)
        self._bars.update(self._tasks[stage], completed=done, total=total)


class Safe(Console):
    """Prints what is in the text of files as something to be seen, never as something for the terminal to do."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """The segments of text, those for the terminal itself as they are."""
        for each in super().render(renderable, options):
            yield each if each.control else Segment(visible(each.text), each.style)


def output() -> Console:
    """Where figures are printed: plain and unbroken where the output is piped."""
    if hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)  # `| head` ends it quietly, as it ends other programs
    console = Safe(highlight=False)
    return console if console.is_terminal else Safe(highlight=False, width=10_000, no_color=True)


def report(outcome: Outcome, as_json: bool = False, saw: bool = False) -> None:
    """Print a report to the output stream, as tables or as JSON; saw: with every end's saw settings in words."""
    if as_json:
        sys.stdout.write(report_json(outcome.report))
        return
    console = output()
    told = outcome.report
    built = told.built
    scene = built.scene
    console.print(Text(scene.title, style="bold"))
    console.print(
        f"{counted(len(scene.runs), 'run')}, {counted(len(built.pieces), 'piece')}, "
        f"{counted(sum(m is not None for m in told.inspection.meetings), 'joint')}; "
        f"chord {scene.chord:g} mm; model {built.digest[:12]}, code {told.code}"
    )
    console.print()
    _pieces(console, told)
    _joints(console, told)
    show_shop.surveys(console, told)
    show_shop.forecasts(console, told)
    if saw:
        show_shop.saw_in_words(console, told)
    else:
        show_shop.compound_settings(console, told)
    checks(console, told.findings)
    _failures(console, told)
    show_options.options(console, told)
    show_options.approvals(console, outcome.approvals)
    for remark in built.remarks:
        console.print(Text(f"note: {remark}"))
    show_shop.raked(console, told)
    for item in told.left_out:
        console.print(Text(f"left out: {item.what}: {item.why}"))
    if outcome.written:
        console.print()
        console.print("wrote")
        for line in _written(outcome.written):
            console.print(Text(f"  {line}"))
        if outcome.removed:
            console.print(f"removed {outcome.removed} files of an earlier build of this scene")
        if outcome.other:
            console.print(Text(f"note: {replaced(outcome.other)}"))
        console.print()
        console.print(CAUTION)
    console.print()
    if told.holds:
        made = len(told.findings) + sum(len(option.inspection.findings) for option in told.options)
        console.print(Text(f"All {made} checks hold.", style="bold green"))
    elif told.failures:
        console.print(Text(f"{len(told.failures)} of {len(told.findings)} checks FAILED.", style="bold red"))
    else:
        failed = sum(not option.holds for option in told.options)
        console.print(Text(f"Checks FAILED on {failed} of {counted(len(told.options), 'option')}.", style="bold red"))
    if any(approval.get("unchanged") is False for approval in told.approvals):
        console.print(Text("The scene is not what was approved: see above.", style="bold"))


def replaced(title: str) -> str:
    """What is said of a build of another title in whose place this one stands."""
    return f'the folder held "{title}", built of a scene file of the same name; this stands in its place'


def _written(paths: Sequence[Path]) -> list[str]:
    """The files that were written, by their folders; those of a folder with many told by their number."""
    folders: dict[Path, list[Path]] = {}
    for path in sorted(paths):
        folders.setdefault(path.parent, []).append(path)
    lines: list[str] = []
    for folder, files in sorted(folders.items()):
        if len(files) > MOST_FILES:
            lines.append(f"{folder}: {len(files)} files")
            continue
        if len(files) == 1:
            lines.append(str(files[0]))
            continue
        lines.append(f"{folder}:")
        line = f"  {files[0].name}"
        for path in files[1:]:
            fits = len(line) + len(path.name) < WIDTH
            lines += [] if fits else [f"{line},"]
            line = f"{line}, {path.name}" if fits else f"  {path.name}"
        lines.append(line)
    return lines


def _table(console: Console, *columns: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold" if console.is_terminal else "")
    for name in columns:
        left = name in ("piece", "begins with", "ends with", "joint", "kind", "corner", "check", "unit", "holds")
        table.add_column(name, justify="left" if left else "right", overflow="fold")
    return table


def _pieces(console: Console, told: Report) -> None:
    """The pieces with their lengths as a rule reads them; a curve's are arcs."""
    unit = told.built.scene.units
    table = _table(console, "piece", "begins with", "ends with", "wall line", "shortest", "longest", "overall")
    for piece in told.built.pieces[:MOST_ROWS]:
        if piece.role == "block":
            size = measure(piece.profile)
            sides = (size.d_max - size.d_min, size.h_max - size.h_min, piece.element.length)
            table.add_row(Text(piece.name), "", "", "", "", "", " by ".join(length(v, unit) for v in sorted(sides)))
            continue
        lengths = piece_lengths(piece)
        table.add_row(Text(piece.name), piece.begin.kind, piece.end.kind, *(length(v, unit) for v in lengths.values()))
    console.print(table)
    if len(told.built.pieces) > MOST_ROWS:
        console.print(f"and {len(told.built.pieces) - MOST_ROWS} pieces more; --json or report.json has them all")
    console.print()


def _joints(console: Console, told: Report) -> None:
    table = _table(console, "joint", "kind", "corner", "turn", "gap mm", "step mm", "angle °")
    rows = [
        (pair.joint, measured)
        for pair, measured in zip(told.built.joints, told.inspection.meetings, strict=True)
        if measured is not None
    ]
    for joint, measured in rows[:MOST_ROWS]:
        side = "inside" if joint.turn > 0 else "outside" if joint.turn < 0 else ""
        turn = f"{math.degrees(abs(joint.turn)):.2f}°" if joint.turn else ""
        name = joint.name if joint.kind == "block" else joint.name.removesuffix(" " + joint.kind)
        table.add_row(
            Text(name),
            joint.kind,
            side,
            turn,
            figure(measured.gap),
            figure(measured.step),
            figure(measured.angle),
        )
    if rows:
        console.print(table)
        if len(rows) > MOST_ROWS:
            console.print(f"and {len(rows) - MOST_ROWS} joints more; --json or report.json has them all")
        console.print()


def checks(console: Console, findings: Sequence[Finding]) -> None:
    """One row for each kind of check: how often it was made, its hardest figure, and whether all hold."""
    table = _table(console, "check", "made", "worst", "limit", "unit", "holds")
    for check, mine in by_check(findings):
        failed = sum(not f.holds for f in mine)
        hardest = worst(mine)
        verdict = Text("yes", style="green") if not failed else Text(f"{failed} FAILED", style="bold red")
        table.add_row(
            check.question,
            str(len(mine)),
            figure(hardest.figure),
            figure(hardest.limit),
            check.unit,
            verdict,
        )
    console.print(table)


def _failures(console: Console, told: Report) -> None:
    failures = told.failures
    if not failures:
        return
    unit = told.built.scene.units
    console.print()
    told_missing: set[tuple[str, str]] = set()
    for finding in failures[:MOST_FAILURES]:
        if math.isinf(finding.figure) and finding.detail:  # told once, not for each thing that cannot be measured
            if (finding.subject, finding.detail) not in told_missing:
                console.print(Text(f"FAILED  {finding.subject}: {finding.detail}"))
            told_missing.add((finding.subject, finding.detail))
            continue
        where = ""
        if finding.where:
            out, up = (length(value, unit) for value in finding.where)
            where = f", worst {out} out from the wall and {up} up"
        detail = f" ({finding.detail})" if finding.detail else ""
        console.print(
            Text(
                f"FAILED  {finding.subject}: {finding.check.question}: {figure(finding.figure)} {finding.check.unit}, "
                f"limit {figure(finding.limit)}{where}{detail}"
            )
        )
    if len(failures) > MOST_FAILURES:
        console.print(f"and {len(failures) - MOST_FAILURES} more; --json or report.json has them all")


def figure(value: float | None) -> str:
    """A figure to read: three decimals where that says something, else two significant digits; nothing for None."""
    if value is None:
        return ""
    if value == 0:
        return "0" if isinstance(value, int) else "0.000"
    if math.isinf(value) or math.isnan(value):
        return "none found"
    if isinstance(value, int) or float(value).is_integer():
        return f"{int(value)}"
    if abs(value) >= 0.001:
        return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
    return f"{value:.1e}"
