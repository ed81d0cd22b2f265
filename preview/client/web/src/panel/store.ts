/** What is being shown: one value, changed in one place; whoever shows it listens. */

import type { ModelDocument, Variant } from "../document";
import type { Cut, Dimensions, StageApi, Surround } from "../stage/api";

export interface Shown {
  readonly document: ModelDocument;
  readonly variant: number;
  /** The variant beside it, null for none. */
  readonly other: number | null;
  /** Numbers in the shown variant's own lists, null or empty for none. */
  readonly view: number | null;
  readonly joint: number | null;
  readonly marked: readonly number[];
  readonly cut: Cut | null;
  readonly apart: number;
  readonly names: boolean;
  readonly dimensions: Dimensions;
  /** Finishes asked for instead of a member's own, by name. */
  readonly finishes: ReadonlyMap<string, string>;
  readonly around: boolean;
  readonly surround: Surround;
}

export type Listener = (now: Shown, before: Shown) => void;

export class Store {
  private readonly listeners: Listener[] = [];

  constructor(private shown: Shown) {}

  get now(): Shown {
    return this.shown;
  }

  get variant(): Variant {
    return this.shown.document.variants[this.shown.variant]!;
  }

  on(listener: Listener): void {
    this.listeners.push(listener);
  }

  set(patch: Partial<Shown>): void {
    const before = this.shown;
    this.shown = { ...before, ...patch };
    for (const listener of this.listeners) listener(this.shown, before);
  }
}

/** What the parts of the panel share. */
export interface Panel {
  readonly store: Store;
  /** null where there is no picture to drive. */
  readonly stage: StageApi | null;
  /** Whether the model comes from a server that follows the scene file. */
  readonly live: boolean;
  /** Say what has just been done, to be read aloud and seen under the picture. */
  readonly say: (text: string) => void;
}

export function atFirst(document: ModelDocument, surround: Surround): Shown {
  return {
    document,
    variant: 0,
    other: null,
    view: document.variants[0]!.views.findIndex((view) => view.kind === "whole"),
    joint: null,
    marked: [],
    cut: null,
    apart: 0,
    names: false,
    dimensions: "off",
    finishes: new Map(),
    around: true,
    surround,
  };
}

/** The same place of a cut in another variant, if its run is there too. */
function carried(cut: Cut | null, from: Variant, to: Variant): Cut | null {
  if (!cut) return null;
  const path = to.paths.findIndex((each) => each.run === from.paths[cut.path]?.run);
  return path < 0 ? null : { ...cut, path, station: Math.min(cut.station, to.paths[path]!.length) };
}

/** What changes when another variant is picked: numbers of pieces and joints mean nothing in it. */
export function picking(now: Shown, variant: number): Partial<Shown> {
  const { variants } = now.document;
  return {
    variant,
    other: now.other === variant ? null : now.other,
    view: null,
    joint: null,
    marked: [],
    cut: carried(now.cut, variants[now.variant]!, variants[variant]!),
  };
}

/** The same picks in a document that has come in the place of this one, as far as they are still there. */
export function moved(now: Shown, document: ModelDocument): Partial<Shown> {
  const before = now.document.variants[now.variant]!;
  const find = (number: number): number => {
    const names = chosenNames(now.document, now.document.variants[number]!);
    return document.variants.findIndex((each) => same(chosenNames(document, each), names));
  };
  const variant = Math.max(0, find(now.variant));
  const other = now.other === null ? -1 : find(now.other);
  const after = document.variants[variant]!;
  const alike = same(before.pieces.map(({ name }) => name), after.pieces.map(({ name }) => name));
  const kept = [...now.finishes].filter(
    ([member, finish]) =>
      after.pieces.some((piece) => piece.member === member) && document.finishes.some(({ name }) => name === finish),
  );
  return {
    document,
    variant,
    other: other < 0 || other === variant ? null : other,
    view: null,
    joint: alike ? now.joint : null,
    marked: alike ? now.marked : [],
    cut: carried(now.cut, before, after),
    finishes: new Map(kept),
  };
}

function chosenNames(document: ModelDocument, variant: Variant): string[] {
  return variant.picks.map((pick, choice) => `${document.choices[choice]?.name}\0${document.choices[choice]?.alternatives[pick]?.name}`);
}

function same(one: string[], other: string[]): boolean {
  return one.length === other.length && one.every((each, number) => each === other[number]);
}
