/** The scene's alternatives, what each changes, and a second one beside the first. */

import { h, radios, refill, section, select } from "./dom";
import { picking, type Panel } from "./store";
import { unlike, variantWith } from "./words";

export function choices(panel: Panel): HTMLElement {
  const { store, stage, say } = panel;
  const groups = h("div");
  const changes = h("div", { class: "changes", "aria-live": "polite" });
  const beside = h("div", { class: "beside" });
  const made = section("choices", "Your choice", groups, changes, beside);

  const pick = (choice: number, alternative: number): void => {
    const number = variantWith(store.now.document, store.variant, choice, alternative);
    if (number < 0) return;
    store.set(picking(store.now, number));
    say(`Shown: ${store.now.document.choices[choice]!.alternatives[alternative]!.name}`);
  };
  const drawGroups = (): void => {
    const { document } = store.now;
    made.hidden = !document.choices.length;
    const all = document.choices.map(({ name, alternatives }, choice) =>
      radios(
        `choice-${choice}`,
        document.choices.length === 1 && name === "option" ? "Pick one" : name,
        alternatives.map((each, number) => ({
          value: String(number),
          text: each.name,
          more: [each.says, ...alone(choice, number)].filter(Boolean),
        })),
        String(store.variant.picks[choice]),
        (value) => pick(choice, Number(value)),
      ),
    );
    refill(groups, ...all);
  };
  /** What an alternative changes by itself, the rest as drawn: the first sentence of it, where it says nothing else. */
  const alone = (choice: number, number: number): string[] => {
    const { document } = store.now;
    if (!number || document.choices[choice]?.alternatives[number]?.says) return [];
    const found = document.variants[variantWith(document, document.variants[0]!, choice, number)];
    return found?.changes.slice(0, 1) ?? [];
  };
  const drawChanges = (): void => {
    const sentences = store.variant.changes;
    refill(
      changes,
      ...(sentences.length
        ? [h("h3", {}, "What this changes"), h("ul", {}, ...sentences.map((text) => h("li", {}, text)))]
        : [h("p", { class: "quiet" }, "This is the molding as drawn.")]),
    );
  };
  const drawBeside = (): void => {
    const { document, variant, other } = store.now;
    const shown = store.variant;
    const others = document.variants.map((each, number): [string, string] => [String(number), unlike(document, each, shown)]);
    const list = select(
      "beside",
      "Compare: beside it, show",
      [["", "nothing"], ...others.filter((_, number) => number !== variant)],
      other === null ? "" : String(other),
      (value) => {
        store.set({ other: value ? Number(value) : null });
        const second = value ? document.variants[Number(value)] : undefined;
        say(second ? `Side by side: ${unlike(document, shown, second)}; ${unlike(document, second, shown)}` : "One picture again");
      },
    );
    refill(beside, ...(stage && others.length > 1 ? [list] : []));
  };
  store.on((now, before) => {
    if (now.document !== before.document) drawGroups();
    if (now.document !== before.document || now.variant !== before.variant) {
      for (const [choice, number] of store.variant.picks.entries()) {
        const input = made.querySelector<HTMLInputElement>(`#choice-${choice}-${number}`);
        if (input) input.checked = true;
      }
      drawChanges();
    }
    if (now.document !== before.document || now.variant !== before.variant || now.other !== before.other) drawBeside();
  });
  drawGroups();
  drawChanges();
  drawBeside();
  return made;
}
