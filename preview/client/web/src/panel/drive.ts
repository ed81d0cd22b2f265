/** The picture does as the store says. */

import type { Model } from "../document";
import type { StageApi } from "../stage/api";
import type { Panel, Shown, Store } from "./store";

export function drive(store: Store, stage: StageApi): void {
  store.on((now, before) => {
    if (now.document !== before.document) return;
    if (now.variant !== before.variant) stage.variant(now.variant);
    if (now.other !== before.other) stage.compare(now.other);
    if (now.cut !== before.cut) stage.cut(now.cut);
    if (now.apart !== before.apart) stage.apart(now.apart);
    if (now.names !== before.names || now.dimensions !== before.dimensions) stage.labels(now);
    if (now.finishes !== before.finishes) finish(stage, now, before);
    if (now.marked !== before.marked) stage.mark([...now.marked]);
    if (now.joint === null && before.joint !== null) stage.joint(null);
    if (now.around !== before.around) stage.around(now.around);
    if (now.surround !== before.surround) stage.surround(now.surround);
  });
}

function finish(stage: StageApi, now: Shown, before: Shown): void {
  for (const member of new Set([...now.finishes.keys(), ...before.finishes.keys()])) {
    const wanted = now.finishes.get(member);
    const number = now.document.finishes.findIndex(({ name }) => name === wanted);
    if (wanted !== before.finishes.get(member)) stage.finish(member, number < 0 ? null : number);
  }
}

/** Put a new model in the place of the old one; what was being looked at stays, as far as it is still there. */
export function swap(stage: StageApi, model: Model, patch: Partial<Shown>, store: Store): void {
  const before = store.now;
  stage.show(model, true);
  store.set(patch);
  const { now } = store;
  stage.variant(now.variant);
  if (now.other !== null || before.other !== null) stage.compare(now.other);
  if (before.cut && !now.cut) stage.cut(null);
  for (const member of new Set([...before.finishes.keys(), ...now.finishes.keys()])) {
    const number = now.document.finishes.findIndex(({ name }) => name === now.finishes.get(member));
    stage.finish(member, number < 0 ? null : number);
  }
  stage.mark([...now.marked]);
  if (before.joint !== null && now.joint === null) stage.joint(null);
}

export function toView({ store, stage, say }: Panel, number: number): void {
  const view = store.variant.views[number];
  if (!view || !stage) return;
  const { cut } = store.now;
  // A cut that came with a view goes with it; one that the reader made stays.
  const lent = cut !== null && store.variant.views.some((each) => each.cut === cut);
  store.set({ joint: null, view: number, cut: view.cut ?? (lent ? null : cut) });
  if (view.kind === "whole") stage.home();
  else stage.view(view);
  say(`View: ${view.name}`);
}

export function toWhole(panel: Panel): void {
  const number = panel.store.variant.views.findIndex(({ kind }) => kind === "whole");
  if (number >= 0) toView(panel, number);
  else panel.stage?.home();
}

export function toJoint({ store, stage, say }: Panel, number: number): void {
  const joint = store.variant.joints[number];
  if (!joint || !stage) return;
  store.set({ joint: number, view: null, marked: [] });
  stage.joint(number);
  say(`Joint: ${joint.name}`);
}
