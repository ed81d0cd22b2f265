"""Which model a file says that it is, whether a scene makes that one, and whether the file still holds it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from preview.approval import short_code
from preview.checks import Finding, digest_in
from preview.cli.loading import load
from preview.jobs import held_against
from preview.review import build_every, picks_of
from preview.scene import every_variant

MOST_TOLD = 6


@dataclass(frozen=True)
class Made:
    """What a scene makes. file: its name. options: the alternatives that make the model asked for, () for the scene as
    drawn and None where none does. codes: of everything that it makes, the scene as drawn first. findings: on the file
    asked about, held against what the scene makes; none where its format is not read, as a drawing's."""

    file: str
    options: tuple[str, ...] | None
    codes: tuple[str, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def failures(self) -> list[Finding]:
        """What the file does not hold."""
        return [finding for finding in self.findings if not finding.holds]


@dataclass(frozen=True)
class Named:
    """What a file says that it is (digest "" where it says nothing), and what the scene asked about makes."""

    digest: str
    scene: Made | None = None

    @property
    def code(self) -> str:
        """The model's short code, "" where the file names no model."""
        return short_code(self.digest) if self.digest else ""

    @property
    def holds(self) -> bool:
        """Whether the scene asked about makes the model, and the file holds that; true where none was asked about."""
        return self.scene is None or (self.scene.options is not None and not self.scene.failures)

    def told(self) -> str:
        """The model in words."""
        return f"model code {self.code}, digest {self.digest}" if self.digest else ""

    def lines(self) -> list[str]:
        """All there is to say, a sentence a line."""
        said = [self.told()] if self.digest else []
        made = self.scene
        if made is None:
            return said
        if not self.digest:
            return [f"FAILED  {made.file}: the file names no model, so it cannot be told which scene makes it"]
        if made.options is not None:
            how = f"with {' and '.join(made.options)}" if made.options else "as drawn"
            if made.failures:
                lost = f"FAILED  {made.file} makes the model that the file names, {how}, but the file does not hold it:"
                told = [f"  {_failure(each)}" for each in made.failures[:MOST_TOLD]]
                left = len(made.failures) - MOST_TOLD
                return [*said, lost, *told, *([f"  and {left} more"] if left > 0 else [])]
            proof = "each piece in the file was compared with it" if made.findings else "by the file's word alone"
            return [*said, f"{made.file} makes this very model, {how} ({proof})"]
        more = f" and {len(made.codes) - MOST_TOLD} more" if len(made.codes) > MOST_TOLD else ""
        codes = ", ".join(made.codes[:MOST_TOLD]) + more
        return [*said, f"FAILED  {made.file}: neither the scene nor an option of it makes this model; it makes {codes}"]

    def values(self) -> dict[str, Any]:
        """The same, ready for JSON."""
        found: dict[str, Any] = {"digest": self.digest or None, "code": self.code or None}
        made = self.scene
        if made is not None:
            options = None if made.options is None else list(made.options)
            found["scene"] = {
                "file": made.file,
                "makes": made.options is not None,
                "options": options,
                "codes": list(made.codes),
                "compared": len(made.findings),
                "failures": [_failure(each) for each in made.failures],
            }
        return found


def named(path: Path, scene: Path | None) -> Named:
    """What a model file says that it is. scene: a scene file to ask whether it makes that model.

    Raises PreviewError for mistakes in the scene.
    """
    digest = digest_in(path)
    return Named(digest, None if scene is None else _made(digest, path, scene))


def _failure(finding: Finding) -> str:
    measured = f"{finding.figure:.3g} {finding.check.unit}, limit {finding.limit:.3g}"
    return f"{finding.subject}: {finding.check.question}: {finding.detail or measured}"


def _made(digest: str, file: Path, path: Path) -> Made:
    """Everything that a scene makes, held against a digest and what the file with it holds."""
    scene = load(path)
    every = build_every(scene)
    options: tuple[str, ...] | None = None
    findings: tuple[Finding, ...] = ()
    for number, (variant, built) in enumerate(zip(every_variant(scene), every, strict=True)):
        if built.digest == digest:
            picked = picks_of(scene, variant) if number else ()
            options = tuple(f'"{name}" for {choice}' for choice, name in picked)
            findings = tuple(held_against(built, file))
            break
    codes = tuple(dict.fromkeys(short_code(built.digest) for built in every))
    return Made(path.name, options, codes, findings)
