/** One variant in its part of the picture, with its own light, cut, lines and labels. */

import { type Camera, type Plane, type Raycaster, Scene, type Vector3 } from "three";
import type { Variant } from "../document";
import type { Bodies } from "./bodies";
import type { Finishes } from "./finishes";
import { type Frame, Labels } from "./labels";
import { Light } from "./light";
import { JointLines } from "./lines";
import { Section } from "./section";
import { type Met, Shown } from "./shown";

/** mm: a surface this near behind the cut is the cut's own edge. */
const AT_CUT = 0.5;
/** What stands before a label's place by more than this, mm, and by this share of the distance, hides it. */
const BEFORE = 4;
const BEFORE_SHARE = 0.004;

export class Pane {
  readonly scene = new Scene();
  readonly light = new Light();
  readonly lines: JointLines;
  readonly section: Section;
  readonly labels: Labels;
  frame: Frame = { left: 0, top: 0, width: 1, height: 1 };
  shown: Shown;

  private readonly layer = document.createElement("div");

  /** plane: cuts everything that is shown. plainCap: cuts in one color, to be measured. */
  constructor(host: HTMLElement, variant: Variant, bodies: Bodies, finishes: Finishes, plane: Plane, plainCap: boolean) {
    this.layer.className = "stage-labels";
    this.layer.setAttribute("aria-hidden", "true");
    host.append(this.layer);
    this.lines = new JointLines(plane);
    this.section = new Section(plainCap);
    this.labels = new Labels(this.layer);
    this.shown = new Shown(variant, bodies, finishes);
    this.scene.add(this.light.group, this.lines.group, this.section.group, this.shown.group);
  }

  /** Show another variant in this pane; what was shown is let go. */
  replace(variant: Variant, bodies: Bodies, finishes: Finishes): void {
    this.shown.dispose();
    this.shown = new Shown(variant, bodies, finishes);
    this.scene.add(this.shown.group);
  }

  /** A place of the host as one of the pane, -1 to 1 right and up; null outside. */
  inside(x: number, y: number): { x: number; y: number } | null {
    const { left, top, width, height } = this.frame;
    const at = { x: (2 * (x - left)) / width - 1, y: 1 - (2 * (y - top)) / height };
    return Math.abs(at.x) <= 1 && Math.abs(at.y) <= 1 ? at : null;
  }

  /** What a ray meets first, of what is left standing: the filled cut, or a surface. */
  met(ray: Raycaster, keeps: (point: Vector3) => boolean): Met | null {
    const cut = this.section.met(ray);
    const surface = this.shown.met(ray, keeps);
    return cut && (!surface || cut.distance < surface.distance + AT_CUT) ? cut : surface;
  }

  /** ray: through a place of the pane, to ask what hides a label; null while that is not asked. */
  placeLabels(
    camera: Camera,
    marked: ReadonlySet<number>,
    keeps: (point: Vector3) => boolean,
    ray: ((at: { x: number; y: number }) => Raycaster) | null,
  ): void {
    const cut = new Set(this.section.cuts.map(({ piece }) => piece));
    const hidden = (point: Vector3): boolean => {
      const along = ray!(point.clone().project(camera));
      const distance = point.clone().sub(along.ray.origin).dot(along.ray.direction);
      const met = this.met(along, keeps);
      return met !== null && met.distance < distance - Math.max(BEFORE, BEFORE_SHARE * distance);
    };
    this.labels.place(this.shown, camera, this.frame, marked, keeps, cut, ray && hidden);
  }

  /** Where a point falls on the host, CSS px. */
  project(point: Vector3, camera: Camera): { x: number; y: number } {
    const { left, top, width, height } = this.frame;
    const at = point.clone().project(camera);
    return { x: left + ((at.x + 1) / 2) * width, y: top + ((1 - at.y) / 2) * height };
  }

  dispose(): void {
    this.shown.dispose();
    this.section.dispose();
    this.lines.dispose();
    this.light.dispose();
    this.labels.dispose();
    this.layer.remove();
  }
}
