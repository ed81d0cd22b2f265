/** The section through a run, the pieces moved apart, and what stands on and around the picture. */

import type { Cut } from "../stage/api";
import { button, checkbox, h, radios, refill, section, select, slider } from "./dom";
import type { Panel } from "./store";
import { nearestPlace, unit } from "./words";

export function cutting(panel: Panel): HTMLElement {
  const { store, say } = panel;
  const where = h("div");
  const along = h("div");
  let tell = (): void => {};

  const open = (value: string): void => {
    const [kind, text] = value.split(" ");
    const number = Number(text);
    const { joints, paths } = store.variant;
    const joint = joints[number];
    if (kind === "joint" && joint) store.set({ cut: { path: joint.path, station: joint.station } });
    else if (kind === "run" && paths[number]) store.set({ cut: { path: number, station: paths[number].length / 2 } });
    else store.set({ cut: null });
    say(store.now.cut ? `Cut open at ${where.querySelector("select")?.selectedOptions[0]?.text}` : "The cut is closed");
  };
  const drawWhere = (): void => {
    const { joints, paths } = store.variant;
    const places: [string, string][] = [["", "nowhere"]];
    paths.forEach((path, number) => places.push([`run ${number}`, `${path.run}: halfway along`]));
    joints.forEach((joint, number) => joint.path >= 0 && places.push([`joint ${number}`, joint.name]));
    refill(where, select("cut-at", "Cut it open at", places, "", open));
  };
  const drawAlong = (): void => {
    const { cut, document } = store.now;
    const path = cut && store.variant.paths[cut.path];
    if (!cut || !path) {
      const list = where.querySelector("select");
      if (list) list.value = "";
      refill(along);
      return;
    }
    const change = (part: Partial<Cut>): void => store.set({ cut: { ...store.now.cut!, ...part } });
    const { places, length, step } = path;
    const words = (number: number): string => places[unit(document, store.now.dimensions)][number] ?? "";
    const range = { low: 0, high: places.in.length - 1, step: 1, value: nearestPlace(path, cut.station) };
    const made = slider("cut-along", `Along ${path.run}`, range, words, (number) =>
      change({ station: Math.min(number * step, length) }),
    );
    ({ tell } = made);
    made.input.addEventListener("change", () => say(`Cut at ${words(made.input.valueAsNumber)} along ${path.run}`));
    refill(
      along,
      made.element,
      h(
        "div",
        { class: "chips" },
        button("cut-turn", "From the other side", () => change({ turned: !store.now.cut?.turned })),
        button("cut-close", "Close the cut", () => {
          store.set({ cut: null });
          where.querySelector("select")?.focus();
          say("The cut is closed");
        }),
      ),
    );
  };
  store.on((now, before) => {
    const anew = now.document !== before.document || now.variant !== before.variant;
    if (anew) drawWhere();
    if (anew || now.cut?.path !== before.cut?.path) drawAlong();
    else if (now.cut && now.cut.station !== before.cut?.station) {
      const input = along.querySelector<HTMLInputElement>("#cut-along");
      const path = store.variant.paths[now.cut.path];
      if (input && path && document.activeElement !== input) input.value = String(nearestPlace(path, now.cut.station));
    }
    tell();
  });
  drawWhere();
  drawAlong();
  return section("cutting", "Look inside", where, along);
}

export function picturing(panel: Panel): HTMLElement {
  const { store } = panel;
  const share = (value: number): string => (value ? `${Math.round(value * 100)} %` : "together");
  const apart = slider("apart", "Move the pieces apart", { low: 0, high: 1, step: 0.01, value: 0 }, share, (value) =>
    store.set({ apart: value }),
  );
  const sizes = [
    { value: "off", text: "None" },
    { value: "in", text: "Inches" },
    { value: "mm", text: "Millimeters" },
  ];
  return section(
    "picturing",
    "On the picture",
    apart.element,
    checkbox("names", "Names of the pieces", store.now.names, (names) => store.set({ names })),
    radios(
      "dimensions",
      "Dimensions",
      sizes,
      store.now.dimensions,
      (value) => store.set({ dimensions: value as "off" | "in" | "mm" }),
      "row",
    ),
    checkbox("around", "What stands around the molding", store.now.around, (around) => store.set({ around })),
  );
}
