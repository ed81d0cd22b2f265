/** A finish for each member: shown at once, and a wish in the client's answer. */

import { h, refill, section, select } from "./dom";
import type { Panel } from "./store";

export function finishes(panel: Panel): HTMLElement {
  const { store, say } = panel;
  const rows = h("div", { class: "finish" });
  const note = h("p", { class: "note", hidden: true });
  note.textContent = "Another finish than the one drawn is a wish: it goes into your answer, and the shop confirms it.";
  const made = section("finishes", "Finish of each member", rows, note);

  const pick = (member: string, finish: string): void => {
    const wanted = new Map(store.now.finishes);
    if (finish) wanted.set(member, finish);
    else wanted.delete(member);
    store.set({ finishes: wanted });
    say(finish ? `${member} in ${finish}` : `${member} in its own finish`);
  };
  const draw = (): void => {
    const { document, finishes: wanted } = store.now;
    const offered = document.finishes.filter(({ molding }) => molding);
    const whose = document.choices.length ? "as in this option" : "as drawn";
    const own = new Map(store.variant.pieces.map((piece) => [piece.member, document.finishes[piece.finish]!.name]));
    made.hidden = !offered.some(({ name }) => [...own.values()].some((each) => each !== name));
    const lists = [...own].map(([member, drawn], number) => {
      const others = offered.filter(({ name }) => name !== drawn).map(({ name }): [string, string] => [name, name]);
      const value = wanted.get(member) ?? "";
      return select(`finish-${number}`, member, [["", `${drawn}, ${whose}`], ...others], value, (name) => pick(member, name));
    });
    refill(rows, ...lists);
    note.hidden = !wanted.size;
  };
  store.on((now, before) => {
    if (now.document !== before.document || now.variant !== before.variant) draw();
    note.hidden = !now.finishes.size;
  });
  draw();
  return made;
}
