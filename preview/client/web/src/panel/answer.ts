/** The client's answer: a form, and the file it becomes. Nothing is sent from here. */

import { button, h, radios, refill, section } from "./dom";
import type { Panel } from "./store";
import { picks, stem, today } from "./words";

const NAME = 120;
const REMARKS = 4000;
const FORCE = "This answer has no legal force of its own, and the shop confirms every measurement on site before it cuts.";

export interface Given {
  answer: "yes" | "changes";
  client: string;
  remarks: string;
}

/** The answer file's text, as `molding approve` reads it. */
export function answerText({ store }: Panel, given: Given, answered = today()): string {
  const { document, finishes } = store.now;
  const { variant } = store;
  const members = new Set(variant.pieces.map(({ member }) => member));
  const answer = {
    schema: 1,
    kind: "molding answer",
    title: document.title,
    file: document.file,
    digest: variant.digest,
    code: variant.code,
    picks: Object.fromEntries(picks(document, variant)),
    answer: given.answer,
    client: given.client,
    remarks: given.remarks,
    finishes: Object.fromEntries([...finishes].filter(([member]) => members.has(member))),
    answered,
  };
  return `${JSON.stringify(answer, null, 2)}\n`;
}

function save(name: string, text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const link = h("a", { href: address, download: name, hidden: true });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

export function answering(panel: Panel): HTMLElement {
  const { store } = panel;
  const summary = h("dl");
  const says = radios(
    "answer",
    "What do you say?",
    [
      { value: "yes", text: "Yes, make it like this" },
      { value: "changes", text: "Please change something" },
    ],
    "",
    () => wrong("answer", ""),
  );
  const client = h("input", { id: "client", maxlength: NAME, autocomplete: "name", "aria-describedby": "client-wrong" });
  const remarks = h("textarea", { id: "remarks", maxlength: REMARKS, rows: 4, "aria-describedby": "remarks-wrong" });
  const note = (id: string): HTMLElement => h("p", { id: `${id}-wrong`, class: "wrong", hidden: true });
  says.setAttribute("aria-describedby", "answer-wrong");
  const saved = h("div", { id: "saved" });
  const asked = h("p", { class: "note", id: "asked", hidden: true });
  const told = h("p", { id: "saved-status", role: "status" });
  const form = h(
    "form",
    { novalidate: true, "aria-labelledby": "answering-title" },
    summary,
    says,
    note("answer"),
    h("div", { class: "field" }, h("label", { for: "client" }, "Your name"), client, note("client")),
    h("div", { class: "field" }, h("label", { for: "remarks" }, "Remarks"), remarks, note("remarks")),
    asked,
    h("p", { class: "note" }, FORCE),
    h("button", { type: "submit", id: "save", class: "main" }, "Save the answer"),
    told,
    saved,
  );

  /** Say under a field what is missing in it; nothing where it is well. */
  const wrong = (id: string, text: string): boolean => {
    const place = form.querySelector<HTMLElement>(`#${id}-wrong`)!;
    place.textContent = text;
    place.hidden = !text;
    if (id !== "answer") form.querySelector(`#${id}`)!.setAttribute("aria-invalid", String(!!text));
    return !!text;
  };
  const given = (): Given | null => {
    const picked = form.querySelector<HTMLInputElement>("input[name=answer]:checked")?.value;
    const answer = picked === "yes" || picked === "changes" ? picked : null;
    const faults = [
      wrong("answer", answer ? "" : "Pick one of the two.") && "answer-0",
      wrong("client", client.value.trim() ? "" : "Write your name.") && "client",
      wrong("remarks", answer === "changes" && !remarks.value.trim() ? "Write what should be changed." : "") && "remarks",
    ];
    const first = faults.find(Boolean);
    if (first) form.querySelector<HTMLElement>(`#${first}`)?.focus();
    return answer && !first ? { answer, client: client.value.trim(), remarks: remarks.value.trim() } : null;
  };
  const submit = (): void => {
    const answer = given();
    if (!answer) return;
    const name = `${stem(store.now.document.file)}-answer.json`;
    const text = answerText(panel, answer);
    save(name, text);
    told.textContent = `Saved as ${name}, where your browser puts downloads. Send this file to the shop; nothing has been sent from here.`;
    showText(saved, text);
  };
  const outdated = (): void => {
    if (!saved.firstChild) return;
    refill(saved);
    told.textContent = "Something has changed since the answer was saved: save it again.";
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    submit();
  });
  form.addEventListener("input", ({ target }) => {
    outdated();
    if (target === client) wrong("client", "");
    if (target === remarks) wrong("remarks", "");
  });

  const draw = (): void => {
    const { document, finishes } = store.now;
    const chosen = picks(document, store.variant);
    const members = new Set(store.variant.pieces.map(({ member }) => member));
    const wishes = [...finishes].filter(([member]) => members.has(member));
    const wish = wishes.length ? [["Finish asked for", wishes.map((each) => each.join(" in ")).join(", ")]] : [];
    asked.hidden = !wishes.length;
    asked.textContent = wishes.length
      ? `You asked for ${wishes.map((each) => each.join(" in ")).join(", ")}: the shop has to draw that first, so a yes is taken as a wish for now.`
      : "";
    const code = store.variant.code ? [["Code, to read over the phone", store.variant.code]] : [];
    const rows = [...chosen, ...wish, ...code];
    refill(summary, ...rows.map(([name, value]) => h("div", {}, h("dt", {}, name!), h("dd", {}, value!))));
  };
  store.on((now, before) => {
    if (now.document === before.document && now.variant === before.variant && now.finishes === before.finishes) return;
    draw();
    outdated();
  });
  draw();
  return section("answering", "Your answer", form);
}

/** Where no file appears, its text can still be copied or handed on. */
function showText(place: HTMLElement, text: string): void {
  const area = h("textarea", { id: "answer-text", readonly: true, rows: 6 });
  area.value = text;
  const done = h("span", { role: "status" });
  const copy = async (): Promise<void> => {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      area.focus();
      area.select();
      document.execCommand("copy");
    }
    done.textContent = "Copied";
  };
  const buttons = [button("copy", "Copy the text", () => void copy())];
  if ("share" in navigator) {
    buttons.push(button("share", "Hand it on", () => void navigator.share({ text }).catch(() => undefined)));
  }
  refill(
    place,
    h("div", { class: "field" }, h("label", { for: "answer-text" }, "No file to be found? Send this text instead:"), area),
    h("p", { class: "chips" }, ...buttons, done),
  );
}
