/** The fields of the scene file. Each waits for its own write; what is typed is never lost to a refresh. */

import { button, fold, h, refill } from "./dom";
import { Row, type Wanted } from "./field";
import type { Field, Fields, Outcome, Server } from "./server";

/** What a maker changes most comes first; the rest as it stands in the file. */
const FIRST = ["run", "member", "block", "option", "surrounding", "finish"];

function rank(group: string): number {
  const found = FIRST.indexOf(group.split(" ")[0]!);
  return found < 0 ? FIRST.length : found;
}

export class Editing {
  readonly element: HTMLElement;
  private readonly rows = new Map<string, Row>();
  private readonly groups = h("div");
  /** The folds by their headings: they stay as open as they were. */
  private readonly folds = new Map<string, HTMLDetailsElement>();
  private readonly told = h("p", { role: "status", class: "quiet" });
  private readonly undo: HTMLButtonElement;
  private version = "";
  private layout = "";
  /** Changes that wait, the latest of each field; one is written at a time. */
  private readonly waiting = new Map<string, Wanted>();
  private writing = false;
  private asking = 0;

  constructor(private readonly server: Server) {
    this.undo = button("undo", "Undo", () => void this.back(), { disabled: true });
    this.element = fold("editing", "Change the file", () => undefined, h("p", { class: "chips" }, this.undo), this.told, this.groups);
    void this.refresh();
  }

  /** Ask what the file says now. The answer to an older question is dropped. */
  async refresh(): Promise<void> {
    const asked = ++this.asking;
    const fields = await this.server.fields();
    if (fields && asked === this.asking && !this.writing && !this.waiting.size) this.take(fields);
  }

  private take({ version, undo, fields }: Fields): void {
    this.version = version;
    this.undo.disabled = !undo;
    this.undo.textContent = undo ? `Undo the last change (${undo})` : "Nothing to undo";
    const rows = fields.map((field) => [field, this.row(field)] as const);
    const layout = JSON.stringify(fields.map(({ id, group }) => [id, group]));
    if (layout !== this.layout || rows.some(([, row]) => !this.groups.contains(row.element))) this.arrange(rows);
    this.layout = layout;
    for (const [field, row] of rows) row.take(field);
  }

  /** The row that shows a field; a new one where the old cannot any more. */
  private row(field: Field): Row {
    const before = this.rows.get(field.id);
    if (before?.fits(field)) return before;
    const made = new Row(field, (value) => this.change(field.id, value), before);
    this.rows.set(field.id, made);
    return made;
  }

  /** The rows in the order of the file, under the headings they have there. */
  private arrange(rows: (readonly [Field, Row])[]): void {
    const groups = new Map<string, Node[]>();
    for (const [{ group }, { element }] of rows) groups.set(group, [...(groups.get(group) ?? []), element]);
    const folds = [...groups].sort(([one], [other]) => rank(one) - rank(other)).map(([name, all]) => {
      const made = this.folds.get(name) ?? this.fold(name);
      made.querySelector("div")!.replaceChildren(...all);
      return made;
    });
    refill(this.groups, ...folds);
    const ids = new Set(rows.map(([{ id }]) => id));
    for (const id of this.rows.keys()) if (!ids.has(id)) this.rows.delete(id);
  }

  private fold(name: string): HTMLDetailsElement {
    const summary = h("summary", {}, h("h3", {}, name));
    const made = h("details", { class: "fold fields", open: !this.folds.size }, summary, h("div", { role: "group", "aria-label": name }));
    this.folds.set(name, made);
    return made;
  }

  private change(id: string, value: Wanted): void {
    this.waiting.delete(id);
    this.waiting.set(id, value);
    if (!this.writing) void this.write();
  }

  private async write(): Promise<void> {
    this.writing = true;
    for (let next = this.next(); next; next = this.next()) {
      const [id, value] = next;
      const outcome = await this.server.edit(this.version, id, value);
      if (outcome.kind === "done") {
        this.version = outcome.version;
        this.rows.get(id)?.written(value);
      } else await this.missed(id, value, outcome);
    }
    this.writing = false;
    await this.refresh();
  }

  private next(): [string, Wanted] | null {
    for (const [id, value] of this.waiting) {
      this.waiting.delete(id);
      return [id, value];
    }
    return null;
  }

  private async missed(id: string, value: Wanted, outcome: Exclude<Outcome, { kind: "done" }>): Promise<void> {
    if (outcome.kind !== "conflict") {
      this.rows.get(id)?.wrong(outcome.text);
      return;
    }
    const missed = [[id, value] as const, ...this.waiting];
    this.waiting.clear();
    const fields = await this.server.fields();
    if (fields) this.take(fields);
    for (const [each, wanted] of missed) this.rows.get(each)?.conflict(outcome.text, wanted);
    this.told.textContent = "The file was changed elsewhere.";
  }

  private async back(): Promise<void> {
    const outcome = await this.server.undo(this.version);
    this.told.textContent = outcome.kind === "done" ? "The last change is undone." : outcome.text;
    await this.refresh();
  }
}
