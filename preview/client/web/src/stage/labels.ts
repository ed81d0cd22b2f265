/** Names and sizes beside the pieces: plain elements over the picture, none over another, none of what is hidden. */

import { type Camera, Vector3 } from "three";
import type { Labels as Wanted } from "./api";
import type { Shown } from "./shown";

export interface Frame {
  left: number;
  top: number;
  width: number;
  height: number;
}

interface Label {
  piece: number;
  element: HTMLElement;
  /** The size is left out: it would not be true of what is shown. */
  size: HTMLElement;
  wide: number;
  high: number;
  behind: boolean;
}

const GAP = 4;
const RISE = 10;
/** With more labels than this on the picture, the rest is not asked for. */
const MOST = 120;

export class Labels {
  private labels: Label[] = [];

  constructor(private readonly layer: HTMLElement) {}

  /** Write the labels of what is shown. */
  set(shown: Shown, wanted: Wanted): void {
    this.layer.replaceChildren();
    this.labels = [];
    const { names, dimensions } = wanted;
    if (!names && dimensions === "off") return;
    const members = new Set(shown.pieces.map((piece) => piece.member)).size;
    shown.pieces.forEach((piece, i) => {
      const element = document.createElement("div");
      element.className = "stage-label";
      const name = document.createElement("span");
      name.className = "stage-label-name";
      if (names) name.textContent = shortName(piece.name, members > 1 ? piece.member : "");
      const size = document.createElement("span");
      size.className = "stage-label-size";
      if (dimensions !== "off") size.textContent = piece.short[dimensions];
      element.append(...[name, size].filter((part) => part.textContent));
      element.hidden = true;
      this.labels.push({ piece: i, element, size, wide: 0, high: 0, behind: false });
    });
    this.layer.append(...this.labels.map(({ element }) => element));
    this.measure();
  }

  get any(): boolean {
    return this.labels.length > 0;
  }

  /**
   * Put the labels where their pieces are seen; first those of marked pieces, then the nearest.
   *
   * cut: pieces whose size would not be true of what is left of them. hidden: whether something nearer hides a place;
   * while that is not asked (in motion) what was found last holds.
   */
  place(
    shown: Shown,
    camera: Camera,
    frame: Frame,
    marked: ReadonlySet<number>,
    kept: (point: Vector3) => boolean,
    cut: ReadonlySet<number>,
    hidden: ((point: Vector3) => boolean) | null,
  ): void {
    const taken: Frame[] = [];
    const open = this.labels.map((label) => {
      const place = anchor(shown, label.piece);
      return { label, place, at: place.clone().project(camera) };
    });
    open.sort((a, b) => Number(marked.has(b.label.piece)) - Number(marked.has(a.label.piece)) || a.at.z - b.at.z);
    for (const { label, place, at } of open) {
      label.element.hidden = true;
      if (taken.length >= MOST || !kept(place)) continue;
      if (Math.abs(at.x) > 1 || Math.abs(at.y) > 1 || Math.abs(at.z) > 1) continue;
      label.size.hidden = cut.has(label.piece);
      if (label.size.hidden && label.element.childElementCount === 1 && label.element.firstChild === label.size) continue;
      const x = frame.left + ((at.x + 1) / 2) * frame.width;
      const y = frame.top + ((1 - at.y) / 2) * frame.height;
      // A label near the edge stands beside its place and not half off the picture.
      const left = Math.min(Math.max(x - label.wide / 2, frame.left + GAP), frame.left + frame.width - label.wide - GAP);
      const top = Math.max(y - RISE - label.high, frame.top + GAP);
      const box = { left, top, width: label.wide, height: label.high + RISE };
      if (taken.some((other) => overlap(other, box))) continue;
      if (hidden) label.behind = hidden(place);
      if (label.behind) continue;
      taken.push(box);
      label.element.hidden = false;
      label.element.classList.toggle("stage-label-marked", marked.has(label.piece));
      label.element.style.transform = `translate(${Math.round(left)}px, ${Math.round(top)}px)`;
      label.element.style.setProperty("--stage-pin", `${Math.round(x - left)}px`);
    }
  }

  dispose(): void {
    this.layer.replaceChildren();
    this.labels = [];
  }

  /** All sizes in one go, before any is hidden again. */
  private measure(): void {
    for (const { element } of this.labels) element.hidden = false;
    for (const label of this.labels) {
      label.wide = label.element.offsetWidth;
      label.high = label.element.offsetHeight;
    }
    for (const { element } of this.labels) element.hidden = true;
  }
}

function anchor(shown: Shown, piece: number): Vector3 {
  const { label, apart } = shown.piece(piece);
  return new Vector3(...label).addScaledVector(new Vector3(...apart), shown.share);
}

/** The last part of a piece's name, with its member where there are several. */
function shortName(name: string, member: string): string {
  const last = name.split(" / ").pop() ?? name;
  return member && last !== member ? `${member} ${last}` : last;
}

function overlap(a: Frame, b: Frame): boolean {
  return (
    a.left < b.left + b.width + GAP && b.left < a.left + a.width + GAP && a.top < b.top + b.height && b.top < a.top + a.height
  );
}
