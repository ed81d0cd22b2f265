/** What stands over the picture: what was just done, the names of two halves, a fault, a broken line. */

import { at, h, refill } from "./dom";
import type { Store } from "./store";
import { unlike } from "./words";

export function say(text: string): void {
  at("status").textContent = text;
}

export function banner(text: string, shown = false): void {
  const place = at("banner");
  place.hidden = !text;
  const last = shown ? " The picture is the last that could." : "";
  refill(place, ...(text ? [h("p", {}, `The file cannot be shown as it stands.${last}`), h("pre", { tabindex: 0 }, text)] : []));
}

export function link(text: string): void {
  at("link").hidden = !text;
  at("link").textContent = text;
}

export function halves(store: Store): void {
  const place = at("halves");
  const draw = (): void => {
    const { document, other } = store.now;
    const one = store.variant;
    const second = other === null ? undefined : document.variants[other];
    place.hidden = !second;
    const names = second ? [unlike(document, one, second), unlike(document, second, one)] : [];
    refill(place, ...names.map((name) => h("p", {}, h("span", {}, name))));
  };
  store.on((now, before) => {
    if (now.document !== before.document || now.variant !== before.variant || now.other !== before.other) draw();
  });
}
