/** One field of the scene file: as it is written, and a slider, a color or a list where that helps. */

import { button, h, refill } from "./dom";
import type { Field } from "./server";

/** A hand that moves a slider rests this long, ms, before the file is written. */
const PAUSE = 120;
const COLOR = /^#[0-9a-f]{6}$/i;

/** Typed text, or where a slider stands. */
export type Wanted = string | number;

function hasSlider({ kind, low, high }: Field): boolean {
  return low !== null && high !== null && (kind === "length" || kind === "angle" || kind === "number");
}

export class Row {
  readonly element = h("div", { class: "field edit" });
  private readonly input: HTMLInputElement | HTMLSelectElement;
  private readonly slide: HTMLInputElement | null = null;
  private readonly note: HTMLElement;
  /** What the file says, as far as is known. */
  private file: string;
  /** The last text that was sent off, so that leaving the field does not send it again. */
  private sent: string | null = null;
  private timer = 0;

  constructor(
    private readonly field: Field,
    private readonly change: (value: Wanted) => void,
    before?: Row,
  ) {
    // Names may hold spaces, ids that others refer to may not.
    const id = `field-${encodeURIComponent(field.id)}`;
    this.file = field.value;
    this.note = h("div", { id: `${id}-wrong`, class: "wrong", role: "alert", hidden: true });
    this.input = this.entry(field);
    this.input.id = id;
    this.input.setAttribute("aria-describedby", this.note.id);
    this.input.addEventListener("change", () => this.input.value !== this.sent && this.send());
    this.element.append(h("label", { for: id }, field.label), this.input);
    if (hasSlider(field)) {
      this.slide = h("input", { type: "range", id: `${id}-slide`, "aria-label": `${field.label}, slider` });
      this.slide.addEventListener("input", () => this.soon(this.slide!.valueAsNumber));
      this.element.append(this.slide);
      this.range(field);
    }
    this.element.append(this.note);
    if (before?.dirty) this.input.value = before.input.value;
  }

  private entry(field: Field): HTMLInputElement | HTMLSelectElement {
    if (field.kind === "choice") {
      const texts = new Set([...field.choices, field.value]);
      const list = h("select", {}, ...[...texts].map((text) => h("option", { value: text }, text)));
      list.value = field.value;
      return list;
    }
    if (COLOR.test(field.value)) {
      const color = h("input", { type: "color", value: field.value });
      color.addEventListener("input", () => this.soon(color.value));
      return color;
    }
    const text = h("input", { type: "text", value: field.value, autocomplete: "off", spellcheck: "false" });
    text.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.send();
      if (event.key === "Escape") this.forget();
    });
    return text;
  }

  /** Whether this row, as it is built, can show the field. */
  fits(field: Field): boolean {
    const own = this.field;
    return (
      field.label === own.label &&
      field.kind === own.kind &&
      field.choices.join("\0") === own.choices.join("\0") &&
      hasSlider(field) === hasSlider(own) &&
      (field.kind === "choice" || COLOR.test(field.value) === COLOR.test(own.value))
    );
  }

  private get dirty(): boolean {
    const { value, type } = this.input;
    return type === "color" ? value !== this.file.toLowerCase() : value !== this.file;
  }

  private soon(value: Wanted): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.timer = 0;
      this.change(value);
    }, PAUSE);
    this.wrong("");
  }

  private send(): void {
    clearTimeout(this.timer);
    this.timer = 0;
    if (!this.dirty && this.note.hidden) return;
    this.sent = this.input.value;
    this.change(this.sent);
  }

  private forget(): void {
    this.input.value = this.file;
    this.wrong("");
  }

  /** What the file says now. What is being typed, and what was refused, stays. */
  take(field: Field): void {
    const typed = this.dirty;
    const before = this.file;
    this.file = field.value;
    this.range(field);
    if (!typed) this.input.value = field.value;
    else if (field.value !== before && this.note.hidden && !this.timer) this.wrong(`The file now says ${field.value}.`);
  }

  /** A slider in a hand is left alone. */
  private range({ low, high, step, number, value }: Field): void {
    if (!this.slide) return;
    this.slide.setAttribute("aria-valuetext", value);
    if (this.slide === document.activeElement || this.timer) return;
    this.slide.min = String(low);
    this.slide.max = String(high);
    this.slide.step = String(step ?? "any");
    this.slide.value = String(number);
  }

  /** The file has it. */
  written(value: Wanted): void {
    this.sent = null;
    if (typeof value === "string") this.file = value;
    this.wrong("");
  }

  /** Told in the server's words; what was refused stays to be mended. */
  wrong(text: string): void {
    this.note.hidden = !text;
    this.input.setAttribute("aria-invalid", String(!!text));
    refill(this.note, ...(text ? [h("p", {}, text)] : []));
  }

  /** The file was changed elsewhere while this waited: both are shown, and nothing is decided. */
  conflict(text: string, wanted: Wanted): void {
    if (typeof wanted === "string") this.input.value = wanted;
    const wish = typeof wanted === "string" ? `You wanted ${wanted}.` : "You had moved the slider.";
    const again = button(`${this.input.id}-again`, "Write mine", () => {
      this.wrong("");
      this.change(wanted);
    });
    const leave = button(`${this.input.id}-leave`, "Leave the file as it is", () => this.forget());
    this.wrong(text);
    this.note.append(
      h("p", {}, `The file was changed elsewhere; here is what it says now: ${this.file}. ${wish}`),
      h("p", { class: "chips" }, again, leave),
    );
  }
}
