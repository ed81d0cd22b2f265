"""The linear programme over ways to fill a stick, and the one in whole numbers. All of it runs in HiGHS."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from preview.sticks.cutting import Cutting, Pattern

Shares = tuple[tuple[Pattern, float], ...]
"""Patterns, and how many sticks are filled by each."""


class Programme:
    """The cheapest numbers of sticks filled by each pattern that give at least the wanted count of every size.

    Patterns are added as they come. At first a part may also stand in for the next smaller size, which is true of wood
    and brings the prices near to what they become with far fewer patterns; `alone` ends that. Costs are in parts of
    the most expensive stick's.
    """

    def __init__(self, cutting: Cutting, patterns: Iterable[Pattern]) -> None:
        import highspy
        from highspy._core import _Highs

        self.cutting = cutting
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()
        self._top = max(cutting.costs) or 1
        self._limits = [(kind, have) for kind, have in enumerate(cutting.have) if have is not None]
        self._solver = _Highs()  # Highs itself prints a line when it is made
        quiet: dict[str, bool | int | str] = {"output_flag": False, "parallel": "off", "threads": 1, "random_seed": 0}
        for option, value in quiet.items():
            self._solver.setOptionValue(option, value)
        nothing = (0, np.array([], np.int32), np.array([], np.float64))
        for count in cutting.counts:
            self._solver.addRow(float(count), highspy.kHighsInf, *nothing)
        for _, have in self._limits:
            self._solver.addRow(-highspy.kHighsInf, float(have), *nothing)
        self._first = len(cutting.sizes) - 1
        for row in range(self._first):
            ends = np.array([row, row + 1], np.int32), np.array([-1.0, 1.0], np.float64)
            self._solver.addCol(0.0, 0.0, highspy.kHighsInf, 2, *ends)
        self.add(patterns)

    def alone(self) -> None:
        """From now on no part stands in for another."""
        for column in range(self._first):
            self._solver.changeColBounds(column, 0.0, 0.0)

    def add(self, patterns: Iterable[Pattern]) -> int:
        """How many of the patterns are new."""
        import highspy

        new = [pattern for pattern in dict.fromkeys(patterns) if pattern not in self._known]
        self._known.update(new)
        self.patterns += new
        limited = {kind: len(self.cutting.sizes) + i for i, (kind, _) in enumerate(self._limits)}
        for pattern in new:
            entries = {row: float(count) for row, count in enumerate(pattern.counts) if count}
            if pattern.kind in limited:
                entries[limited[pattern.kind]] = 1.0
            rows, numbers = np.array(list(entries), np.int32), np.array(list(entries.values()), np.float64)
            cost = self.cutting.costs[pattern.kind] / self._top
            self._solver.addCol(cost, 0.0, highspy.kHighsInf, len(rows), rows, numbers)
        return len(new)

    def want(self, counts: Sequence[int], have: Sequence[int | None]) -> None:
        """Other counts and numbers of sticks from now on."""
        import highspy

        for row, count in enumerate(counts):
            self._solver.changeRowBounds(row, float(count), highspy.kHighsInf)
        for i, (kind, _) in enumerate(self._limits):
            self._solver.changeRowBounds(len(counts) + i, -highspy.kHighsInf, float(have[kind] or 0))

    def solve(self) -> bool:
        """Whether the patterns can give the counts."""
        import highspy

        self._solver.run()
        return bool(self._solver.getModelStatus() == highspy.HighsModelStatus.kOptimal)

    @property
    def cost(self) -> float:
        """Of the last solution, in the units of the cutting."""
        return float(self._solver.getInfo().objective_function_value) * self._top

    def prices(self) -> tuple[list[float], list[float]]:
        """What one part of each size costs, and one more stick of each kind saves (as 0 or less), in that solution."""
        duals = self._solver.getSolution().row_dual
        sizes = len(self.cutting.sizes)
        more = [0.0] * len(self.cutting.rooms)
        for i, (kind, _) in enumerate(self._limits):
            more[kind] = min(0.0, duals[sizes + i])
        return [max(0.0, dual) for dual in duals[:sizes]], more

    def shares(self) -> Shares:
        """The patterns of that solution, the most used first."""
        values = self._solver.getSolution().col_value[self._first :]
        used = [(pattern, value) for pattern, value in zip(self.patterns, values, strict=True) if value > 1e-9]
        return tuple(sorted(used, key=lambda each: -each[1]))

    def whole(self, most_nodes: int, enough: int) -> tuple[dict[Pattern, int] | None, float]:
        """The cheapest whole numbers of the patterns that were found, and a bound for all such numbers.

        It ends after so many nodes, or at a cost that is `enough`. None where there are none, or none was found.
        """
        import highspy

        step = self.cutting.step / self._top
        self.alone()
        for column in range(len(self.patterns)):
            self._solver.changeColIntegrality(self._first + column, highspy.HighsVarType.kInteger)
        for option, value in {
            "mip_max_nodes": most_nodes,
            "mip_rel_gap": 0.0,
            "mip_abs_gap": step * 0.99,
            "objective_target": enough / self._top + step * 0.01,
        }.items():
            self._solver.setOptionValue(option, value)
        self._solver.run()
        if self._solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return None, float("inf")
        info = self._solver.getInfo()
        bound = max(0.0, info.mip_dual_bound) * self._top
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None, bound
        return {pattern: round(value) for pattern, value in self.shares() if round(value)}, bound
