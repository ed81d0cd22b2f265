/** Ready views of the whole, the corners, the plan and the ends. */

import { button, h, refill, section, select } from "./dom";
import { toView } from "./drive";
import type { Panel } from "./store";

/** As many buttons as can still be taken in; more corners go into a list. */
const BUTTONS = 9;

export function views(panel: Panel): HTMLElement {
  const { store } = panel;
  const row = h("div", { class: "chips", role: "group", "aria-labelledby": "views-title" });
  const rest = h("div");
  const draw = (): void => {
    const all = store.variant.views.map((view, number) => ({ view, number }));
    const listed = all.length > BUTTONS ? all.filter(({ view }) => view.kind === "corner") : [];
    const buttons = all.filter((each) => !listed.includes(each));
    refill(row, ...buttons.map(({ view, number }) => button(`view-${number}`, view.name, () => toView(panel, number))));
    const options: [string, string][] = listed.map(({ view, number }) => [String(number), view.name]);
    const pick = select("view-corner", "Corner", [["", "pick a corner"], ...options], "", (value) => {
      if (value) toView(panel, Number(value));
    });
    refill(rest, ...(listed.length ? [pick] : []));
    mark();
  };
  const mark = (): void => {
    const { view } = store.now;
    for (const each of row.children) each.setAttribute("aria-pressed", String(each.id === `view-${view}`));
    const list = rest.querySelector("select");
    if (list) list.value = [...list.options].some(({ value }) => value === String(view)) ? String(view) : "";
  };
  store.on((now, before) => {
    if (now.document !== before.document || now.variant !== before.variant) draw();
    else if (now.view !== before.view) mark();
  });
  draw();
  return section("views", "Views", row, rest);
}
