"""What was approved of a scene, and whether that still stands: for every verb, and for the report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from preview.approval import KeptFile, Record, harmless, records, records_path, restored
from preview.build import Built, build
from preview.changes import changed
from preview.errors import PreviewError
from preview.scene import Scene, Variant, every_variant, load_scene

Picks = tuple[tuple[str, str], ...]
"""For each choice its name, and that of the alternative picked."""


def approval_lines(scene: Scene, builts: Sequence[Built] = ()) -> list[str]:
    """What a check says of the records beside a scene: who approved what, and what changed since; requests since then.

    builts: what was built of the scene and its options already. Raises PreviewError where the record file is damaged.
    """
    lines: list[str] = []
    for record in _standing(scene):
        answer, client = record.answer, harmless(record.answer.client)
        picks = f": {picks_text(record.picks)}" if record.picks else ""
        if not record.approves:
            wishes = [f"{harmless(member)} in {harmless(finish)}" for member, finish in answer.finishes]
            wishes += [harmless(answer.remarks)] if answer.remarks else []
            asked = f" ({'; '.join(wishes)})" if wishes else ""
            lines.append(f"{answer.answered}: {client} asked for changes{picks}{asked}")
            continue
        unchanged, changes = _since(scene, builts, record)
        text = f"approved {answer.answered} by {client}{picks} (code {answer.code})"
        lines.append(f"{text}; {'unchanged since' if unchanged else 'changed since:'}")
        lines += [f"  {sentence}" for sentence in changes]
    return lines


def approval_values(scene: Scene, builts: Sequence[Built] = ()) -> list[dict[str, object]]:
    """The same for report.json: the last approval, and the requests recorded after it, the oldest first.

    Each `approved`, `answered`, `recorded` (ISO 8601 dates), `client`, `digest`, `code`, `picks`, `remarks`, `finishes`
    (member to finish asked for), `unchanged` (null for a request) and `changes` (sentences).
    """
    return [_value(scene, builts, record) for record in _standing(scene)]


def _standing(scene: Scene) -> tuple[Record, ...]:
    """The last approval and what was asked for after it."""
    every = records(scene.path)
    return every[max((k for k, record in enumerate(every) if record.approves), default=0) :]


def _since(scene: Scene, builts: Sequence[Built], record: Record) -> tuple[bool, tuple[str, ...]]:
    """Whether the scene still makes the model of a record, and if not, what changed."""
    now = now_of(scene, record, builts)
    if now.digest == record.answer.digest:
        return True, ()
    try:
        return False, changed(rebuilt(record), now)
    except PreviewError as error:
        return False, (f"what changed cannot be told: {error.problems[0].problem}",)


def _value(scene: Scene, builts: Sequence[Built], record: Record) -> dict[str, object]:
    answer = record.answer
    unchanged, changes = _since(scene, builts, record) if record.approves else (None, ())
    return {
        "approved": record.approves,
        "answered": answer.answered,
        "recorded": record.recorded,
        "client": harmless(answer.client),
        "digest": answer.digest,
        "code": answer.code,
        "picks": dict(record.picks),
        "remarks": answer.remarks,
        "finishes": dict(answer.finishes),
        "unchanged": unchanged,
        "changes": list(changes),
    }


def picks_of(scene: Scene, variant: Variant) -> Picks:
    """The names of what a variant picks, for each choice of the scene."""
    return tuple(
        (choice.name, choice.alternatives[pick].name) for choice, pick in zip(scene.choices, variant.picks, strict=True)
    )


def built_of(files: Sequence[KeptFile], picks: Picks) -> Built:
    """The model that kept files make with these picks. Raises PreviewError as `load_scene` and `build` do."""
    with restored(files) as path:
        scene = load_scene(path)
        variants = every_variant(scene)
        found = next((each for each in variants if picks_of(scene, each) == picks), variants[0])
        return build(found.scene)


def rebuilt(record: Record) -> Built:
    """The model of a record, built again from its own copy of the scene.

    Raises PreviewError where it comes out otherwise.
    """
    built = built_of(record.files, record.picks)
    if built.digest != record.answer.digest:
        problem = (
            f"the approved version was made by molding-preview {record.version}, and built again from its own files it "
            "comes out otherwise: the program, its library or a file outside the scene's folders has changed since"
        )
        raise PreviewError("", None, problem, "install that version to see the approved model again")
    return built


def last_approval(path: Path) -> Record:
    """The last approval beside a scene. Raises PreviewError where there is none."""
    found = [record for record in records(path) if record.approves]
    if not found:
        raise PreviewError(
            "--approved",
            None,
            "no version of this scene has been approved",
            f"record one with molding approve {path.name} ANSWER",
            str(records_path(path)),
        )
    return found[-1]


def now_of(scene: Scene, record: Record, builts: Sequence[Built] = ()) -> Built:
    """The variant of today's scene to hold against a record: the same model, or else the one of the same picks."""
    for each in builts:
        if each.digest == record.answer.digest:
            return each
    variants = every_variant(scene)
    named = set(record.picks)
    found = max(variants, key=lambda each: len(named & set(picks_of(scene, each))))
    ready = next((each for each in builts if each.scene is found.scene), None)
    now = ready or build(found.scene)
    if now.digest == record.answer.digest:
        return now
    # An option may have got another name: look for the model itself.
    for variant in variants:
        other = next((each for each in builts if each.scene is variant.scene), None) or build(variant.scene)
        if other.digest == record.answer.digest:
            return other
    return now


def picks_text(picks: Picks) -> str:
    """Picks in a row, as a person reads them."""
    return ", ".join(
        harmless(pick) if choice == "option" else f"{harmless(choice)}: {harmless(pick)}" for choice, pick in picks
    )
