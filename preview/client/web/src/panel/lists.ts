/** Joints and pieces with their figures, and whether everything that was checked holds. */

import { button, fold, h, refill, section } from "./dom";
import { toJoint } from "./drive";
import type { Panel } from "./store";
import { count, unit } from "./words";

type Row = [name: string, value: string];

function figures(rows: Row[]): HTMLElement {
  return h("dl", {}, ...rows.map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value))));
}

/** A list that is only made when it is opened, and made again when what it shows has changed. */
function listing(panel: Panel, id: string, title: () => string, entries: () => HTMLElement[], marked: () => number[]): HTMLElement {
  const { store } = panel;
  const list = h("ol", { class: "entries" });
  let stale = true;
  const mark = (): void => {
    const numbers = new Set(marked().map((number) => `${id}-${number}`));
    for (const each of list.querySelectorAll("button")) each.setAttribute("aria-pressed", String(numbers.has(each.id)));
  };
  const fill = (): void => {
    if (stale) refill(list, ...entries().map((entry) => h("li", {}, entry)));
    stale = false;
    mark();
  };
  const made = fold(id, title(), fill, list);
  store.on((now, before) => {
    stale ||= now.document !== before.document || now.variant !== before.variant || now.dimensions !== before.dimensions;
    made.querySelector("h2")!.textContent = title();
    if (made.open) fill();
  });
  return made;
}

export function joints(panel: Panel): HTMLElement {
  const { store } = panel;
  const entries = (): HTMLElement[] =>
    store.variant.joints.map((joint, number) => {
      const about = [[joint.corner, joint.kind].filter(Boolean).join(" "), joint.turn].filter(Boolean).join(", ");
      const rows: Row[] = joint.figures?.map(({ name, value }) => [name, value]) ?? [];
      const holds = joint.holds === null ? [] : [h("p", { class: joint.holds ? "holds" : "fails" }, joint.holds ? "Holds" : "Does not hold")];
      return h(
        "div",
        {},
        button(`joints-${number}`, joint.name, () => toJoint(panel, number)),
        h("p", { class: "quiet" }, about),
        rows.length ? figures(rows) : h("p", { class: "quiet" }, panel.live ? "Being measured" : "Not measured"),
        ...holds,
      );
    });
  const title = (): string => count(store.variant.joints.length, "joint", "joints");
  return listing(panel, "joints", title, entries, () => (store.now.joint === null ? [] : [store.now.joint]));
}

export function pieces(panel: Panel): HTMLElement {
  const { store, say } = panel;
  const press = (number: number): void => {
    const on = !store.now.marked.includes(number);
    store.set({ marked: on ? [number] : [], joint: null });
    const { name, short } = store.variant.pieces[number]!;
    say(on ? `Marked: ${name}, ${short[unit(store.now.document, store.now.dimensions)]}` : "No piece is marked");
  };
  const entries = (): HTMLElement[] => {
    const by = unit(store.now.document, store.now.dimensions);
    return store.variant.pieces.map((piece, number) =>
      h(
        "div",
        {},
        button(`pieces-${number}`, piece.name, () => press(number)),
        h("p", { class: "quiet" }, piece.kind),
        figures(piece.dimensions.map(({ name, value }) => [name, value[by]])),
      ),
    );
  };
  const title = (): string => count(store.variant.pieces.length, "piece", "pieces");
  return listing(panel, "pieces", title, entries, () => [...store.now.marked]);
}

export function checked(panel: Panel): HTMLElement {
  const { store } = panel;
  const verdict = h("div");
  const draw = (): void => {
    const { holds, failures, checks, digest, code } = store.variant;
    const words =
      holds === null
        ? h("p", {}, panel.live ? "The checks are being made." : "This model has not been checked.")
        : holds
          ? h("p", { class: "holds" }, `All ${count(checks, "check", "checks")} of the model hold.`)
          : h("p", { class: "fails" }, `Of ${count(checks, "check", "checks")} of the model, not all hold:`);
    const failed = holds === false ? [h("ul", {}, ...failures.map((text) => h("li", {}, text)))] : [];
    const marks: Row[] = [["Code", code], ["Digest", digest.slice(0, 16)]];
    refill(verdict, words, ...failed, figures(marks.filter(([, value]) => value)));
  };
  store.on((now, before) => {
    if (now.document !== before.document || now.variant !== before.variant) draw();
  });
  draw();
  return section("checked", "Checked", verdict);
}
