/** Where one looks from: views, the whole, hands and keys; and the light that goes with it. */

import { Box3, type Camera, type Raycaster, Vector3 } from "three";
import type { Variant, Vec3, View } from "../document";
import { Eye } from "./eye";
import type { Pane } from "./pane";
import { type Sight, axesOf, clearOf, directionOf, fitted, sightOf } from "./sight";

/** Free edge of a fitted picture, px, and what labels need on top of it. */
const EDGE = 26;
const LABEL_EDGE = 30;
/** A drag over the shorter side of the picture turns by so many radians. */
const DRAG = 2.6;
/** How far past the molding the target may be moved, and how wide one may look: shares of its size. */
const PAST = 0.15;
const WIDEST = 2.5;
const NEAREST = 3;
/** Three rooms wide, where there is nothing to measure by. */
const EMPTY = 1000;

export class Director {
  readonly eye = new Eye();
  /** What the camera was last asked to show; null once it was moved by hand. */
  private framing: (() => Sight) | null = null;

  constructor(private readonly panes: readonly Pane[]) {}

  /** Go where `framing` says, and again when the picture's shape changes. */
  frame(framing: () => Sight, animated: boolean): void {
    this.framing = framing;
    if (animated) this.eye.fly(framing());
    else this.eye.put(framing());
    this.settleLight();
  }

  /** Show again what was asked for last: the picture's shape, or what is in it, has changed. */
  reframe(): void {
    if (!this.framing) return;
    this.eye.put(this.framing());
    this.settleLight();
  }

  /** Carry the camera, and where it is going, along. */
  carry(change: (sight: Sight) => Sight): void {
    this.eye.carry(change);
    const goal = this.eye.goal;
    if (this.framing) this.framing = () => goal;
    this.followLight();
  }

  byHand(change: (eye: Eye) => void): void {
    change(this.eye);
    this.framing = null;
    this.followLight();
  }

  /** px of a drag as radians. */
  angle(pixels: number): number {
    const { width, height } = this.panes[0]!.frame;
    return (pixels / Math.min(width, height)) * DRAG;
  }

  /** A view of the document, fitted to the picture where it is one of the whole. */
  sightOf(view: View, labeled: boolean): Sight {
    const { aspect } = this.eye;
    if (view.kind === "corner" || view.kind === "end") return sightOf(view, aspect);
    const way = directionOf(new Vector3(...view.eye).sub(new Vector3(...view.target)));
    const { width, height } = this.panes[0]!.frame;
    const free = 2 * (EDGE + (labeled ? LABEL_EDGE : 0));
    const margin = { across: Math.min(0.04 + free / width, 0.5), upward: Math.min(0.04 + free / height, 0.5) };
    const boxes = this.panes.flatMap(({ shown }) => shown.pieces.map((_, i) => shown.box(i)));
    return clearOf(view, fitted(boxes, { ...way, lens: view.flat ? 0 : 1 }, aspect, margin));
  }

  /** How far one may go in what is shown. */
  confine(): void {
    const box = new Box3();
    let floor: number | null = null;
    for (const { shown } of this.panes) {
      box.union(shown.together).union(shown.apart);
      if (shown.floor !== null) floor = floor === null ? shown.floor : Math.min(floor, shown.floor);
    }
    if (box.isEmpty()) box.setFromCenterAndSize(new Vector3(), new Vector3(EMPTY, EMPTY, EMPTY));
    const size = box.getSize(new Vector3()).length();
    this.eye.bounds = { box: box.expandByScalar(PAST * size), floor, least: NEAREST, most: WIDEST * size };
  }

  camera(): Camera {
    return this.eye.camera(this.whole());
  }

  ray(at: { x: number; y: number }): Raycaster {
    return this.eye.ray(at, this.whole());
  }

  /** Let the light follow the camera no further than it has to. */
  followLight(): void {
    for (const { light, shown } of this.panes) light.follow(this.eye.sight, shown.whole);
  }

  /** The light's own place for where the camera is going; the same in all panes, so that what differs is the molding. */
  private settleLight(): void {
    const goal = this.eye.goal;
    const eye = axesOf(goal).back;
    const shows = (from: Vector3) => this.panes[0]!.shown.lit(from, eye);
    for (const { light, shown } of this.panes) light.settle(goal, shown.whole, shows);
  }

  private whole(): Box3 {
    return this.panes.reduce((box, { shown }) => box.union(shown.whole), new Box3());
  }
}

/** The document's view of the whole, or one like it where it has none. */
export function wholeView({ views, low, high }: Variant): View {
  const middle = low.map((part, i) => (part + high[i]!) / 2) as Vec3;
  const eye: Vec3 = [middle[0] - 300, middle[1] - 1000, middle[2] + 400];
  return (
    views.find(({ kind }) => kind === "whole") ?? { name: "", kind: "whole", target: middle, eye, flat: false, near: 0, cut: null }
  );
}
