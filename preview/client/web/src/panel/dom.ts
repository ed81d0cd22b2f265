/** Elements without markup: every text goes in as text. */

type Attributes = Record<string, string | number | boolean | null>;

/** An element. Attributes: true sets an empty one, false and null leave it out. Handlers and styles are not taken. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "style" || name.startsWith("on")) throw new Error(`no ${name} here`);
    if (value !== false && value !== null) element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children);
  return element;
}

/** The element of the page's own that has this id. */
export function at<T extends HTMLElement = HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found as T;
}

/** Fill an element anew; what had the focus in it gets it back, if it is there again. */
export function refill(element: HTMLElement, ...children: (Node | string)[]): void {
  const focused = element.contains(document.activeElement) ? document.activeElement?.id : "";
  element.replaceChildren(...children);
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

export function button(id: string, text: string, press: () => void, attributes: Attributes = {}): HTMLButtonElement {
  const made = h("button", { type: "button", id, ...attributes }, text);
  made.addEventListener("click", press);
  return made;
}

/** A part of the panel under a heading of its own. */
export function section(id: string, title: string, ...children: (Node | string)[]): HTMLElement {
  const heading = h("h2", { id: `${id}-title` }, title);
  return h("section", { id, "aria-labelledby": heading.id }, heading, ...children);
}

/** A part of the panel that is folded away until it is wanted; `fill` is asked for its content each time it opens. */
export function fold(id: string, title: string, fill: () => void, ...children: (Node | string)[]): HTMLDetailsElement {
  const made = h("details", { id, class: "fold" }, h("summary", {}, h("h2", { id: `${id}-title` }, title)), ...children);
  made.addEventListener("toggle", () => made.open && fill());
  return made;
}

/** A select; `change` is told the value picked. */
export function select(
  id: string,
  label: string,
  options: [value: string, text: string][],
  value: string,
  change: (value: string) => void,
): HTMLElement {
  const made = h("select", { id });
  made.append(...options.map(([key, text]) => h("option", { value: key }, text)));
  made.value = value;
  made.addEventListener("change", () => change(made.value));
  return h("div", { class: "field" }, h("label", { for: id }, label), made);
}

export function checkbox(id: string, label: string, checked: boolean, change: (on: boolean) => void): HTMLElement {
  const made = h("input", { type: "checkbox", id, checked });
  made.addEventListener("change", () => change(made.checked));
  return h("label", { class: "tick", for: id }, made, h("span", {}, label));
}

/** Radio buttons that exclude each other; each may say a sentence more. */
export function radios(
  name: string,
  legend: string,
  options: { value: string; text: string; more?: string[] }[],
  value: string,
  change: (value: string) => void,
  look = "cards",
): HTMLFieldSetElement {
  const rows = options.map((option, number) => {
    const id = `${name}-${number}`;
    const input = h("input", { type: "radio", name, id, value: option.value, checked: option.value === value });
    input.addEventListener("change", () => input.checked && change(option.value));
    const more = (option.more ?? []).map((text) => h("span", { class: "more" }, text));
    return h("label", { class: "pick", for: id }, input, h("span", {}, h("span", { class: "name" }, option.text), ...more));
  });
  return h("fieldset", { class: look }, h("legend", {}, legend), ...rows);
}

/** A slider with its value in words beside it. */
export function slider(
  id: string,
  label: string,
  range: { low: number; high: number; step: number | "any"; value: number },
  words: (value: number) => string,
  change: (value: number) => void,
): { element: HTMLElement; input: HTMLInputElement; tell: () => void } {
  const { low, high, step, value } = range;
  const input = h("input", { type: "range", id, min: low, max: high, step, value });
  const said = h("output", { for: id });
  const tell = (): void => {
    const text = words(input.valueAsNumber);
    said.textContent = text;
    input.setAttribute("aria-valuetext", text);
  };
  input.addEventListener("input", () => {
    tell();
    change(input.valueAsNumber);
  });
  tell();
  return { element: h("div", { class: "field slide" }, h("label", { for: id }, label), said, input), input, tell };
}
