/** The picture follows the scene file. */

import { takenApart, type Model, type ModelDocument } from "../document";
import type { StageApi } from "../stage/api";
import { swap } from "./drive";
import { banner, link } from "./overlay";
import { Server, type Figures } from "./server";
import { moved, type Panel, type Store } from "./store";

const LINE = {
  well: "",
  broken: "The line to the server is broken; trying again.",
  ended: "This page no longer follows the file. Reload it, or open the address that the command printed.",
};

export interface Following {
  /** The first model has come: make the panel for it. */
  first: (model: Model) => Panel;
  /** The fields of the file may have changed. */
  fields: () => void;
}

/** Follow the server. Models are fetched one at a time, the latest only. */
export function follow(server: Server, stage: StageApi, following: Following): void {
  let store: Store | null = null;
  let wanted = "";
  let shown = "";
  let fetching = false;
  let waiting: Figures | null = null;

  const fetchModel = async (): Promise<void> => {
    if (fetching) return;
    fetching = true;
    while (wanted !== shown) {
      const version = wanted;
      const container = await server.model(version).catch(() => null);
      if (container) take(version, takenApart(container));
      else if (wanted === version) break;
    }
    fetching = false;
  };
  const take = (version: string, model: Model): void => {
    shown = version;
    if (store) swap(stage, model, moved(store.now, model.document), store);
    else store = following.first(model).store;
    if (waiting) figures(waiting);
  };
  const figures = (found: Figures): void => {
    waiting = found;
    if (!store || found.version !== shown) return;
    waiting = null;
    store.set({ document: patched(store.now.document, found) });
  };

  server.follow(
    {
      model: ({ version }) => {
        wanted = version;
        banner("");
        void fetchModel();
      },
      figures,
      wrong: ({ text }) => banner(text, !!store),
      fields: following.fields,
    },
    (line) => {
      if (line === "well") following.fields();
      link(LINE[line]);
    },
  );
}

/** The document with what the checks found. Joints and pieces are matched by their numbers. */
export function patched(document: ModelDocument, { variants }: Figures): ModelDocument {
  const merged = <T extends object>(old: T[], found: Partial<T>[] | undefined): T[] =>
    found ? old.map((each, number) => ({ ...each, ...found[number] })) : old;
  return {
    ...document,
    variants: document.variants.map((variant, number) => {
      const found = variants[number];
      if (!found) return variant;
      return { ...variant, ...found, joints: merged(variant.joints, found.joints), pieces: merged(variant.pieces, found.pieces) };
    }),
  };
}
