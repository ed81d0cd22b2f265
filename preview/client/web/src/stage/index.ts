/** The picture: a model on a stage. */

import { type Camera, type Texture, Vector3 } from "three";
import type { Model, Variant, Vec3, View } from "../document";
import type { Cut, Labels as Wanted, StageApi, StageEvents, Statistics, Surround } from "./api";
import { Bodies } from "./bodies";
import { CutAway, ridden } from "./cutting";
import { Director, wholeView } from "./director";
import { Finishes } from "./finishes";
import { Hand } from "./hand";
import { madeRoom } from "./light";
import { dress } from "./looks";
import { Loop } from "./loop";
import { Pane } from "./pane";
import { Pencil } from "./pencil";
import { Spoken } from "./spoken";

export { NoPicture } from "./api";
export type { StageApi } from "./api";

export interface StageOptions {
  /** The room that surfaces mirror: made where drawing is quick, always, or never. */
  environment?: "auto" | "room" | "hemi";
  /** Cuts in one color, without hatch, to be measured. */
  plainCap?: boolean;
}

/** What a page's address asks of the stage: #env=room, #env=hemi, #plain-cap. */
export function optionsFromHash(hash: string): StageOptions {
  const words = hash.replace(/^#/, "").split(/[&,]/);
  const environment = words.includes("env=room") ? "room" : words.includes("env=hemi") ? "hemi" : "auto";
  return { environment, plainCap: words.includes("plain-cap") };
}

const BACKGROUND: Record<Surround, number> = { light: 0xdedbd4, dark: 0x202326 };
/** ms: where a picture takes longer, surfaces mirror no room. */
const QUICK = 150;
/** ms after the first picture. */
const ROOM_AFTER = 60;
/** Two panes lie beside each other where the host is this many times as wide as high: runs are long and low. */
const BESIDE = 1.3;

interface Loaded {
  model: Model;
  bodies: Bodies;
  finishes: Finishes;
}

export class Stage implements StageApi {
  readonly ready: Promise<void>;
  /** When the first picture of a model had been drawn: ms since the page was asked for. */
  firstPicture = NaN;

  private readonly panes: Pane[] = [];
  private readonly pencil: Pencil;
  private readonly director = new Director(this.panes);
  private readonly cutAway = new CutAway();
  private readonly spoken = new Spoken();
  private readonly loop: Loop;
  private readonly hand: Hand;
  private readonly observer: ResizeObserver;
  private readonly heard: { [K in keyof StageEvents]: StageEvents[K][] } = { pick: [], moved: [], lost: [] };
  private loaded: Loaded | null = null;
  private index = 0;
  private other = 0;
  private share = 0;
  private wanted: Wanted = { names: false, dimensions: "off" };
  private surroundings = true;
  /** Let go after the next picture: its shaders serve the finishes that follow, and need not be made again. */
  private outgoing: Finishes | null = null;
  private room: Texture | null = null;
  private isLost = false;
  private resolveReady: () => void = () => undefined;

  /** host: filled by the picture. Throws NoPicture where the browser has no WebGL 2. */
  constructor(
    private readonly host: HTMLElement,
    private readonly options: StageOptions = {},
  ) {
    const canvas = document.createElement("canvas");
    canvas.className = "stage-picture";
    this.pencil = new Pencil(host, canvas);
    dress();
    if (getComputedStyle(host).position === "static") host.style.position = "relative";
    host.append(canvas);
    this.ready = new Promise((resolve) => (this.resolveReady = resolve));
    this.loop = new Loop({ draw: (time, moving) => this.draw(time, moving), settle: () => this.settle() });
    this.hand = new Hand(canvas, {
      grip: (x, y) => this.grip(x, y),
      turn: (right, down) => this.turn(this.director.angle(right), this.director.angle(down)),
      move: (right, down) => this.move(-right / this.panes[0]!.frame.width, -down / this.panes[0]!.frame.height),
      zoom: (factor, x, y) => this.byHand(() => this.director.eye.nearer(factor, this.under(x, y)?.at)),
      tap: (x, y) => this.tap(x, y),
      done: () => this.loop.rest(),
    });
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.isLost = true;
      this.tell("lost", true);
    });
    canvas.addEventListener("webglcontextrestored", () => this.restored());
    this.observer = new ResizeObserver(() => this.resized());
    this.observer.observe(host);
    this.surround("light");
  }

  on<K extends keyof StageEvents>(name: K, what: StageEvents[K]): void {
    this.heard[name].push(what);
  }

  // What is shown

  show(model: Model, keep: boolean): void {
    const before = this.loaded;
    const keeps = keep && before !== null;
    this.loaded = { model, bodies: new Bodies(model), finishes: new Finishes(model.document.finishes, this.cutAway.plane) };
    this.loaded.finishes.mirror(this.room !== null);
    const { variants, origin } = model.document;
    if (!keeps) this.forget();
    else this.keepPlace(before.model.document.origin, origin);
    if (!variants[this.index]) this.index = 0;
    if (this.panes.length > 1 && (!keeps || !variants[this.other])) this.panes.pop()!.dispose();
    if (!this.panes.length) this.panes.push(this.pane(this.index));
    else this.replace(0, this.index);
    if (this.panes.length > 1) this.replace(1, this.other);
    this.outgoing?.dispose();
    this.outgoing = before?.finishes ?? null;
    this.arrange();
    this.furnish();
    if (!keeps) this.home(false);
    this.loop.request();
  }

  variant(index: number): void {
    if (!this.loaded?.model.document.variants[index]) return;
    this.index = index;
    this.replace(0, index);
    this.furnish();
    this.loop.request();
  }

  compare(other: number | null): void {
    if (!this.loaded) return;
    if (other === null || !this.loaded.model.document.variants[other]) {
      if (this.panes.length > 1) this.panes.pop()!.dispose();
    } else {
      this.other = other;
      if (this.panes.length > 1) this.replace(1, other);
      else this.panes.push(this.pane(other));
    }
    this.arrange();
    this.furnish();
    this.director.reframe();
    this.loop.request();
  }

  cut(cut: Cut | null): void {
    if (!this.loaded) return;
    const before = this.cutAway.place;
    const { path, turned = false } = this.cutAway.wanted ?? { path: -1 };
    this.cutAway.set(cut, this.variantShown, this.loaded.bodies);
    this.drawCut();
    const { place } = this.cutAway;
    if (cut && place) {
      if (before && path === cut.path && turned === (cut.turned ?? false)) {
        this.director.carry((sight) => ridden(sight, before, place));
        this.loop.touch();
      } else this.frame(() => this.cutAway.facing(this.panes[0]!, this.director.eye.aspect) ?? this.director.eye.goal, true);
    }
    this.loop.request();
  }

  apart(share: number): void {
    this.share = Math.min(Math.max(share, 0), 1);
    for (const { shown } of this.panes) shown.moveApart(this.share);
    this.drawCut();
    this.drawLines();
    // What moves apart stays in the picture, as long as it was asked for as a whole.
    if (!this.cutAway.cutting && !this.director.eye.flying) this.director.reframe();
    this.loop.touch();
    this.loop.request();
  }

  labels(labels: Wanted): void {
    this.wanted = labels;
    for (const pane of this.panes) pane.labels.set(pane.shown, labels);
    this.loop.request();
  }

  finish(member: string, finish: number | null): void {
    if (!this.loaded) return;
    this.spoken.paint(member, finish === null ? null : this.loaded.finishes.at(finish).name);
    this.paint();
    this.drawCut();
    this.loop.request();
  }

  mark(pieces: number[]): void {
    if (!this.loaded) return;
    this.spoken.markPieces(this.variantShown, pieces);
    this.drawLines();
    this.loop.request();
  }

  around(shown: boolean): void {
    this.surroundings = shown;
    for (const pane of this.panes) pane.shown.showSurroundings(shown);
    this.drawCut();
    this.director.confine();
    this.loop.request();
  }

  surround(surround: Surround): void {
    this.pencil.background(BACKGROUND[surround]);
    this.loop.request();
  }

  // Where one looks from

  view(view: View, animated = true): void {
    if (this.panes.length) this.frame(() => this.director.sightOf(view, this.labeled), animated);
  }

  home(animated = true): void {
    if (this.panes.length) this.view(wholeView(this.variantShown), animated);
  }

  joint(index: number | null): void {
    if (!this.loaded) return;
    this.spoken.markJoint(this.variantShown, index);
    this.drawLines();
    const joint = index === null ? undefined : this.variantShown.joints[index];
    if (joint) this.view({ name: joint.name, kind: "corner", eye: joint.eye, target: joint.target, flat: false, near: 0, cut: null });
    this.loop.request();
  }

  turn(right: number, down: number): void {
    this.byHand(() => this.director.eye.turn(right, down));
  }

  move(right: number, down: number): void {
    this.byHand(() => this.director.eye.move(right, down));
  }

  nearer(factor: number): void {
    this.byHand(() => this.director.eye.nearer(factor));
  }

  // What others may ask

  /** Drawn to the canvas in the task it is called in. */
  snapshot(): Promise<Blob> {
    this.pencil.settle();
    this.draw(performance.now(), false);
    const { canvas } = this.pencil;
    return new Promise((resolve, reject) =>
      canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("the picture could not be written"))), "image/png"),
    );
  }

  statistics(): Statistics {
    return this.pencil.statistics();
  }

  /** Where a point (mm, from the document's origin) falls on the host, CSS px; in the first of two panes. */
  project(point: Vec3): { x: number; y: number } {
    return this.panes[0]?.project(new Vector3(...point), this.director.camera()) ?? { x: NaN, y: NaN };
  }

  /** Where one looks from, as numbers. */
  sight(): { target: Vec3; azimuth: number; elevation: number; half: number; lens: number } {
    const { target, azimuth, elevation, half, lens } = this.director.eye.sight;
    return { target: target.toArray(), azimuth, elevation, half, lens };
  }

  /** Whether anything is still to be drawn. */
  get busy(): boolean {
    return this.loop.busy || this.director.eye.flying;
  }

  /** What the graphics hold. */
  memory(): { geometries: number; textures: number } {
    const { geometries, textures } = this.pencil.renderer.info.memory;
    return { geometries, textures };
  }

  /** Lose the graphics as a browser may at any time, or get them back: to be tested. */
  lose(lost: boolean): void {
    if (lost) this.pencil.renderer.forceContextLoss();
    else this.pencil.renderer.forceContextRestore();
  }

  /** Draw a number of pictures and wait for each: ms for one, to be measured. */
  timed(pictures: number): number {
    let sum = 0;
    for (let i = 0; i < pictures; i++) sum += this.pencil.timed(this.panes, this.director.camera());
    return sum / pictures;
  }

  dispose(): void {
    this.loop.stop();
    this.observer.disconnect();
    this.hand.dispose();
    for (const pane of this.panes) pane.dispose();
    this.panes.length = 0;
    this.outgoing?.dispose();
    this.loaded?.finishes.dispose();
    this.room?.dispose();
    this.pencil.dispose();
    this.pencil.canvas.remove();
    delete this.host.dataset.split;
  }

  private get variantShown(): Variant {
    return this.loaded!.model.document.variants[this.index]!;
  }

  private get labeled(): boolean {
    return this.wanted.names || this.wanted.dimensions !== "off";
  }

  private pane(variant: number): Pane {
    const { model, bodies, finishes } = this.loaded!;
    const plain = this.options.plainCap ?? false;
    const pane = new Pane(this.host, model.document.variants[variant]!, bodies, finishes, this.cutAway.plane, plain);
    pane.light.room(pane.scene, this.room);
    return pane;
  }

  private replace(pane: number, variant: number): void {
    const { model, bodies, finishes } = this.loaded!;
    this.panes[pane]!.replace(model.document.variants[variant]!, bodies, finishes);
  }

  private forget(): void {
    this.index = this.share = 0;
    this.spoken.forget();
    this.cutAway.wanted = null;
  }

  /** The camera stays where it is in the room, though the document measures from another point. */
  private keepPlace(before: Vec3, now: Vec3): void {
    const moved = new Vector3(...before).sub(new Vector3(...now));
    if (moved.lengthSq() > 0) this.director.carry((sight) => ({ ...sight, target: sight.target.clone().add(moved) }));
  }

  /** Everything that stands on what is shown is made again. */
  private furnish(): void {
    for (const pane of this.panes) {
      pane.shown.showSurroundings(this.surroundings);
      pane.shown.moveApart(this.share);
      pane.labels.set(pane.shown, this.wanted);
    }
    if (this.cutAway.wanted) this.cutAway.follow(this.variantShown, this.loaded!.bodies);
    else this.cutAway.set(null, this.variantShown, this.loaded!.bodies);
    this.paint();
    this.director.confine();
    this.drawCut();
    this.drawLines();
    this.director.followLight();
  }

  private paint(): void {
    const finishes = this.spoken.finishesIn(this.loaded!.finishes);
    for (const { shown } of this.panes) shown.paint(finishes);
  }

  private drawLines(): void {
    if (!this.loaded) return;
    for (const { shown, lines } of this.panes) {
      const marked = this.spoken.piecesIn(shown.variant);
      shown.mark(marked);
      lines.update(shown, this.loaded.bodies, marked, this.spoken.jointIn(shown.variant));
    }
  }

  private drawCut(): void {
    if (!this.loaded) return;
    const { bodies, finishes } = this.loaded;
    const painted = this.spoken.finishesIn(finishes);
    for (const { shown, section, light } of this.panes) {
      section.update(shown, bodies, finishes, painted, this.cutAway.cutting);
      light.stale();
    }
  }

  // Hands

  private frame(framing: Parameters<Director["frame"]>[0], animated: boolean): void {
    this.director.frame(framing, animated && !Number.isNaN(this.firstPicture));
    this.loop.request();
  }

  private byHand(change: () => void): void {
    if (!this.panes.length) return;
    this.director.byHand(change);
    this.loop.touch();
    this.tell("moved");
    this.loop.request();
  }

  private under(x: number, y: number): { pane: Pane; at: { x: number; y: number } } | null {
    for (const pane of this.panes) {
      const at = pane.inside(x, y);
      if (at) return { pane, at };
    }
    return null;
  }

  private grip(x: number, y: number): void {
    const under = this.under(x, y);
    const met = under && under.pane.met(this.director.ray(under.at), this.cutAway.keeps);
    if (met) this.director.eye.focus(met.point);
  }

  private tap(x: number, y: number): void {
    const under = this.under(x, y);
    if (!under || under.pane !== this.panes[0]) return;
    this.tell("pick", under.pane.met(this.director.ray(under.at), this.cutAway.keeps)?.piece ?? null);
  }

  private tell<K extends keyof StageEvents>(name: K, ...what: Parameters<StageEvents[K]>): void {
    for (const each of this.heard[name]) (each as (...given: Parameters<StageEvents[K]>) => void)(...what);
  }

  // Drawing

  private draw(time: number, moving: boolean): boolean {
    if (this.isLost || !this.panes.length) return false;
    const flying = this.director.eye.advance(time);
    const camera = this.director.camera();
    this.pencil.draw(this.panes, camera, moving || flying);
    this.outgoing?.dispose();
    this.outgoing = null;
    this.placeLabels(camera, false);
    if (Number.isNaN(this.firstPicture)) this.first();
    return flying;
  }

  /** Nothing moves any more: ask which labels are hidden; and whether to draw again, finely. */
  private settle(): boolean {
    if (this.isLost || !this.panes.length || this.director.eye.flying) return false;
    if (this.pencil.settle()) return true;
    if (this.labeled) this.placeLabels(this.director.camera(), true);
    return false;
  }

  private placeLabels(camera: Camera, asking: boolean): void {
    if (!this.labeled) return;
    const ray = (at: { x: number; y: number }) => this.director.ray(at);
    for (const pane of this.panes) pane.placeLabels(camera, this.spoken.piecesIn(pane.shown.variant), this.cutAway.keeps, asking ? ray : null);
  }

  private first(): void {
    this.firstPicture = performance.now();
    performance.mark("first picture");
    this.resolveReady();
    const { environment = "auto" } = this.options;
    if (environment === "hemi" || (environment === "auto" && this.pencil.software)) return;
    setTimeout(() => this.furnishRoom(environment === "room"), ROOM_AFTER);
  }

  /** Make the room that surfaces mirror; only where a picture is drawn quickly, unless it has to be. */
  private furnishRoom(always: boolean): void {
    if (this.isLost || !this.panes.length) return;
    if (!always && this.pencil.timed(this.panes, this.director.camera()) > QUICK) return;
    this.room = madeRoom(this.pencil.renderer);
    this.loaded?.finishes.mirror(true);
    for (const { light, scene } of this.panes) light.room(scene, this.room);
    this.loop.request();
  }

  /** The graphics are back: what only they held is made again. */
  private restored(): void {
    this.isLost = false;
    this.pencil.restored();
    const again = this.room !== null;
    this.room = null;
    this.loaded?.finishes.mirror(false);
    for (const { light, scene } of this.panes) {
      light.room(scene, null);
      light.stale();
    }
    this.tell("lost", false);
    this.loop.request();
    if (again) setTimeout(() => this.furnishRoom(true), ROOM_AFTER);
  }

  private resized(): void {
    if (!this.panes.length) return;
    this.arrange();
    this.director.reframe();
    // At once: a canvas that has changed its size is empty until it is drawn.
    this.loop.now();
  }

  /** Where the panes lie: beside each other, or one above the other where the host is tall. */
  private arrange(): void {
    const { width, height } = this.pencil.size();
    const beside = width >= BESIDE * height;
    const count = this.panes.length;
    const part = { width: beside ? Math.floor(width / count) : width, height: beside ? height : Math.floor(height / count) };
    this.panes.forEach((pane, i) => {
      pane.frame = { left: beside ? i * part.width : 0, top: beside ? 0 : i * part.height, ...part };
    });
    this.director.eye.aspect = part.width / part.height;
    if (count > 1) this.host.dataset.split = beside ? "columns" : "rows";
    else delete this.host.dataset.split;
  }
}
