/** What the panel may ask of the picture. The stage knows nothing of buttons; the panel knows nothing of triangles. */

import type { Model, View } from "../document";

export type Surround = "light" | "dark";
export type Dimensions = "off" | "in" | "mm";

/** Where a run is cut open: by a plane square to its path. */
export interface Cut {
  path: number;
  /** mm along the path. */
  station: number;
  /** Look at the cut from the other side. */
  turned?: boolean;
}

export interface Labels {
  names: boolean;
  dimensions: Dimensions;
}

export interface Statistics {
  frames: number;
  calls: number;
  triangles: number;
  milliseconds: number;
  renderer: string;
}

/** Thrown by the stage's constructor where the browser has no WebGL 2. */
export class NoPicture extends Error {}

export interface StageEvents {
  /** A piece was tapped, by its number in the shown variant; null for none. */
  pick: (piece: number | null) => void;
  /** The camera was moved by hand. */
  moved: () => void;
  /** The graphics were lost (true) or came back (false). */
  lost: (lost: boolean) => void;
}

export interface StageApi {
  /** Resolves when the first picture of a model has been drawn. */
  readonly ready: Promise<void>;
  on<K extends keyof StageEvents>(name: K, what: StageEvents[K]): void;
  /** Show a model. keep: the camera, cut, finishes and the rest stay as they are, as far as they still make sense. */
  show(model: Model, keep: boolean): void;
  variant(index: number): void;
  /** Two variants side by side, their cameras locked together; null ends it. */
  compare(other: number | null): void;
  /** Go to a view; at once where animated is false or the reader asked for less motion. */
  view(view: View, animated?: boolean): void;
  /** Back to the whole. */
  home(animated?: boolean): void;
  /** Fly to a joint of the shown variant, and mark it. */
  joint(index: number | null): void;
  cut(cut: Cut | null): void;
  /** 0 together, 1 wholly apart. */
  apart(share: number): void;
  labels(labels: Labels): void;
  /** Show a member in another finish of the document; null: its own. */
  finish(member: string, finish: number | null): void;
  /** Mark pieces (by number) as the ones spoken of. */
  mark(pieces: number[]): void;
  around(shown: boolean): void;
  surround(surround: Surround): void;
  /** Turn (radians right and down), move (shares of the picture), come nearer (factor): for keys. */
  turn(right: number, down: number): void;
  move(right: number, down: number): void;
  nearer(factor: number): void;
  /** The picture as it stands, for printing: a PNG. */
  snapshot(): Promise<Blob>;
  statistics(): Statistics;
  dispose(): void;
}
