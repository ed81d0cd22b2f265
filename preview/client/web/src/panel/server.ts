/** The maker's own server: the model, what becomes of it, and the fields of its file. */

import type { Variant } from "../document";

export interface Field {
  id: string;
  group: string;
  label: string;
  kind: "length" | "angle" | "choice" | "number" | "color";
  /** As it is written in the file. */
  value: string;
  number: number | null;
  low: number | null;
  high: number | null;
  step: number | null;
  choices: string[];
}

export interface Fields {
  version: string;
  /** How many changes can be undone. */
  undo: number;
  fields: Field[];
}

export interface Figures {
  version: string;
  variants: Partial<Variant>[];
}

export interface Told {
  model: { version: string };
  figures: Figures;
  wrong: { text: string };
  fields: object;
}

/** What came of a change: the file's new version, or why not. */
export type Outcome = { kind: "done"; version: string } | { kind: "conflict" | "refused" | "unheard"; text: string };

export class Server {
  constructor(private readonly token: string) {}

  private ask(path: string, body?: object): Promise<Response> {
    const headers = { "X-Molding-Token": this.token, ...(body && { "Content-Type": "application/json" }) };
    return fetch(path, { headers, cache: "no-store", ...(body && { method: "POST", body: JSON.stringify(body) }) });
  }

  async model(version: string): Promise<ArrayBuffer | null> {
    const answer = await this.ask(`/model/${encodeURIComponent(version)}`);
    return answer.ok ? answer.arrayBuffer() : null;
  }

  async fields(): Promise<Fields | null> {
    const answer = await this.ask("/fields").catch(() => null);
    return answer?.ok ? ((await answer.json()) as Fields) : null;
  }

  /** A text is what was typed; a number is a slider's, and the server writes it in the file's own style. */
  edit(version: string, id: string, value: string | number): Promise<Outcome> {
    return this.change("/edit", { version, id, value });
  }

  undo(version: string): Promise<Outcome> {
    return this.change("/undo", { version });
  }

  private async change(path: string, body: object): Promise<Outcome> {
    try {
      const answer = await this.ask(path, body);
      const plain = await answer.text();
      if (answer.status !== 200 && answer.status !== 409 && answer.status !== 422) return { kind: "refused", text: plain };
      const said = JSON.parse(plain) as { version?: string; text?: string };
      if (answer.ok) return { kind: "done", version: String(said.version) };
      return { kind: answer.status === 409 ? "conflict" : "refused", text: String(said.text) };
    } catch {
      return { kind: "unheard", text: "The server could not be reached; nothing was written. Try again." };
    }
  }

  /** Follow what happens; `line` is told when it breaks, when it is back, and when the server wants this page no more. */
  follow(hear: { [K in keyof Told]: (data: Told[K]) => void }, line: (is: "well" | "broken" | "ended") => void): void {
    const source = new EventSource(`/events?token=${encodeURIComponent(this.token)}`);
    const listen = <K extends keyof Told>(name: K): void =>
      source.addEventListener(name, (event) => hear[name](JSON.parse((event as MessageEvent<string>).data) as Told[K]));
    listen("model");
    listen("figures");
    listen("wrong");
    listen("fields");
    source.addEventListener("open", () => line("well"));
    // A browser comes back by itself, unless it was told not to.
    source.addEventListener("error", () => line(source.readyState === EventSource.CLOSED ? "ended" : "broken"));
  }
}
