"""The changes that a source file offers to `mutants.py`: one operator, number, name or condition each."""

from __future__ import annotations

import ast
import random
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

TOLERANCE = 1e-6
NUMBERS = {"float", "int", "Floats", "Vec2", "Point"}

OPERATORS = {ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"), ast.Pow: ("**", "*")}
OPERATORS |= {ast.FloorDiv: ("//", "*"), ast.Mod: ("%", "*")}
COMPARISONS = {ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">")}
COMPARISONS |= {ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.Is: ("is", "is not"), ast.In: ("in", "not in")}
PAIRS = [("sin", "cos"), ("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"), ("floor", "ceil")]
PAIRS += [("any", "all")]
NAMES = {**dict(PAIRS), **{b: a for a, b in PAIRS}}


@dataclass(frozen=True)
class Mutant:
    """One change of one file: the text from `start` to `end` (in the file's characters) becomes `new`."""

    file: str
    function: str
    start: int
    end: int
    new: str
    line: int
    what: str

    @property
    def name(self) -> str:
        """What tells it from every other, as long as its file stays as it is."""
        return f"{self.file} {self.start}-{self.end} {self.new!r}"

    @property
    def room(self) -> str:
        """The folder below preview/."""
        return self.file.removeprefix("preview/").rpartition("/")[0]

    @property
    def module(self) -> str:
        return self.file.removesuffix(".py").replace("/", ".").removesuffix(".__init__")

    def applied(self, text: str) -> str:
        return text[: self.start] + self.new + text[self.end :]


class Places(ast.NodeVisitor):
    """The changes that one file offers."""

    def __init__(self, file: str, text: str) -> None:
        self.file, self.text = file, text
        self.found: list[Mutant] = []
        self.scope: list[str] = []
        self.returns_number = False
        lines = text.splitlines(keepends=True)
        self.bytes_before = [line.encode() for line in lines]
        self.before = [0]
        for line in lines:
            self.before.append(self.before[-1] + len(line))

    def at(self, line: int, column: int) -> int:
        """The character at a line and a column in bytes, as ast counts."""
        return self.before[line - 1] + len(self.bytes_before[line - 1][:column].decode())

    def span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def offer(self, start: int, end: int, new: str, what: str) -> None:
        line = self.text.count("\n", 0, start) + 1
        scope = ".".join(self.scope).removesuffix(".<locals>")
        self.found.append(Mutant(self.file, scope, start, end, new, line, what))

    def between(self, left: ast.expr, right: ast.expr, old: str, new: str) -> None:
        start, end = self.span(left)[1], self.span(right)[0]
        word = rf"\b{old}\b" if old.isalpha() else re.escape(old)
        match = re.search(word, re.sub(r"#.*", lambda m: " " * len(m[0]), self.text[start:end]))
        if match:
            self.offer(start + match.start(), start + match.end(), new, f"{old} -> {new}")

    def instead(self, node: ast.expr, new: str, what: str) -> None:
        self.offer(*self.span(node), new, what)

    # What is left alone.

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None: ...

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        if not any(isinstance(target, ast.Name) and target.id == "__all__" for target in node.targets):
            self.generic_visit(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self.scope.append(node.name)
        for statement in node.body:
            self.visit(statement)
        self.scope.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in [*node.args.defaults, *(d for d in node.args.kw_defaults if d is not None)]:
            self.visit(default)
        outer = self.returns_number
        self.returns_number = isinstance(node.returns, ast.Name) and node.returns.id in NUMBERS
        self.scope += [node.name, "<locals>"]
        for statement in node.body:
            self.visit(statement)
        del self.scope[-2:]
        self.returns_number = outer

    # What is changed.

    def visit_BinOp(self, node: ast.BinOp) -> None:
        texts = any(isinstance(part, ast.JoinedStr | ast.List) or _is_text(part) for part in (node.left, node.right))
        if type(node.op) in OPERATORS and not texts:
            self.between(node.left, node.right, *OPERATORS[type(node.op)])
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        if type(node.op) in OPERATORS and not isinstance(node.value, ast.List | ast.JoinedStr | ast.ListComp):
            old, new = OPERATORS[type(node.op)]
            self.between(node.target, node.value, f"{old}=", f"{new}=")
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for left, op, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
            if type(op) in COMPARISONS:
                self.between(left, right, *COMPARISONS[type(op)])
            elif isinstance(op, ast.IsNot | ast.NotIn):
                start, end = self.span(left)[1], self.span(right)[0]
                new = "is" if isinstance(op, ast.IsNot) else "in"
                self.offer(start, end, f" {new} ", f"not {new} -> {new}")
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        for left, right in zip(node.values, node.values[1:], strict=False):
            self.between(left, right, old, new)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start, end = self.span(node)[0], self.span(node.operand)[0]
        if isinstance(node.op, ast.USub):
            self.offer(start, start + 1, "", "minus dropped")
        elif isinstance(node.op, ast.Not):
            self.offer(start, end, self.text[start + 4 : end], "not dropped")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        # The one length that numpy works out itself may be any negative number.
        free = isinstance(node.func, ast.Attribute) and node.func.attr == "reshape"
        self.visit(node.func)
        for argument in (*node.args, *(word.value for word in node.keywords)):
            if not (free and isinstance(argument, ast.UnaryOp)):
                self.visit(argument)

    def visit_Constant(self, node: ast.Constant) -> None:
        if type(node.value) is int:
            self.instead(node, str(node.value + 1), f"{node.value} -> {node.value + 1}")
        elif type(node.value) is float and (abs(node.value) > TOLERANCE or not node.value):
            new = repr(node.value * 1.001) if node.value else "0.001"
            self.instead(node, new, f"{node.value} -> {new}")

    def visit_Name(self, node: ast.Name) -> None:
        if node.id in NAMES:
            self.instead(node, NAMES[node.id], f"{node.id} -> {NAMES[node.id]}")

    def visit_Attribute(self, node: ast.Attribute) -> None:
        if node.attr in NAMES:
            end = self.span(node)[1]
            self.offer(end - len(node.attr), end, NAMES[node.attr], f"{node.attr} -> {NAMES[node.attr]}")
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and self.returns_number and not isinstance(node.value, ast.Tuple | ast.Constant):
            old = self.text[slice(*self.span(node.value))]
            self.instead(node.value, f"-({old})", "sign of what is returned")
        self.generic_visit(node)

    def condition(self, test: ast.expr) -> None:
        if isinstance(test, ast.Name) and test.id == "TYPE_CHECKING":
            return
        for new in ("True", "False"):
            self.instead(test, new, f"condition -> {new}")

    def visit_If(self, node: ast.If) -> None:
        self.condition(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.condition(node.test)
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self.condition(test)
        self.generic_visit(node)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        if isinstance(node.slice, ast.Slice) and node.slice.step is None:
            start, end = self.span(node.slice)
            colon = start if node.slice.lower is None else self.text.index(":", self.span(node.slice.lower)[1])
            if node.slice.lower is None:
                self.offer(start, start, "1", "slice starts one later")
            if node.slice.upper is None:
                self.offer(colon + 1, colon + 1, "-1", "slice ends one earlier")
            elif not isinstance(node.slice.upper, ast.Constant):
                self.offer(end, end, " - 1", "slice ends one earlier")
        self.generic_visit(node)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def mutants(copy: Path, rooms: list[str]) -> Iterator[Mutant]:
    """Every change there is in some rooms."""
    for room in rooms:
        for path in sorted((copy / "preview" / room).glob("*.py")):
            text = path.read_text(encoding="utf-8")
            places = Places(path.relative_to(copy).as_posix(), text)
            places.visit(ast.parse(text))
            yield from places.found


def sampled(all_of_them: list[Mutant], count: int, seed: int) -> list[Mutant]:
    """Some changes at random, no two at one place."""
    at: dict[tuple[str, int, int], list[Mutant]] = defaultdict(list)
    for mutant in all_of_them:
        at[mutant.file, mutant.start, mutant.end].append(mutant)
    chance = random.Random(seed)
    return [chance.choice(at[place]) for place in chance.sample(sorted(at), min(count, len(at)))]
