/** The page comes alive: the picture first, then what drives it. Where there can be no picture, it says so and stays as it is. */

import { takenApart, type Model, type ModelDocument } from "./document";
import { answering } from "./panel/answer";
import { choices } from "./panel/choices";
import { at, button, h, refill } from "./panel/dom";
import { drive } from "./panel/drive";
import { Editing } from "./panel/editing";
import { finishes } from "./panel/finishes";
import { keyboard } from "./panel/keyboard";
import { checked, joints, pieces } from "./panel/lists";
import { follow } from "./panel/live";
import { cutting, picturing } from "./panel/looking";
import { halves, link, say } from "./panel/overlay";
import { printing } from "./panel/print";
import { Server } from "./panel/server";
import { atFirst, Store, type Panel } from "./panel/store";
import { unit } from "./panel/words";
import { views } from "./panel/views";
import { Stage, optionsFromHash } from "./stage";
import { NoPicture, type StageApi, type Surround } from "./stage/api";

interface Preview {
  ready: Promise<void>;
  stage: StageApi | null;
  frames: () => number;
  document: ModelDocument | null;
}
declare global {
  interface Window {
    __preview: Preview;
  }
}

const root = document.documentElement;

/** The container in the page: gzipped, and base64 so that it can stand in the file. */
async function ownModel(): Promise<Model> {
  const packed = Uint8Array.from(atob(at("model").textContent!.trim()), (letter) => letter.charCodeAt(0));
  const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return takenApart(await new Response(plain).arrayBuffer());
}

function surround(): Surround {
  return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
}

/** Light or dark, on the page and in the picture; and a way to the printer and to the answer. */
function tools({ store, stage }: Panel): void {
  const dark = button("dark", "Dark", () => store.set({ surround: store.now.surround === "dark" ? "light" : "dark" }));
  const draw = (): void => {
    root.dataset.surround = store.now.surround;
    dark.setAttribute("aria-pressed", String(store.now.surround === "dark"));
  };
  store.on(draw);
  draw();
  const all = stage ? [dark, button("print", "Print", () => print())] : [dark];
  refill(at("tools"), ...all, h("a", { href: "#answering", id: "to-answer", class: "button" }, "Your answer"));
  at("tools").hidden = false;
}

/** Everything under or beside the picture, for a model. */
function furnish(stage: StageApi | null, model: Model, live: boolean, before: () => HTMLElement[]): Panel {
  const store = new Store(atFirst(model.document, surround()));
  const panel: Panel = { store, stage, live, say };
  document.title = model.document.title;
  at("head").querySelector("h1")!.textContent = model.document.title;
  const looking = stage ? [views(panel)] : [];
  const closer = stage ? [finishes(panel), cutting(panel), picturing(panel)] : [];
  const lists = stage ? [joints(panel), pieces(panel)] : [];
  refill(at("panel"), ...before(), ...looking, choices(panel), ...closer, ...lists, checked(panel), answering(panel));
  tools(panel);
  at("panel").hidden = false;
  return panel;
}

/** Tie the picture to the panel. */
function connect(panel: Panel, stage: StageApi, picture: HTMLElement): void {
  const { store } = panel;
  drive(store, stage);
  halves(store);
  keyboard(panel, stage, picture);
  printing(stage, picture);
  stage.surround(store.now.surround);
  stage.on("moved", () => store.now.view !== null && store.set({ view: null }));
  stage.on("lost", (lost) => link(lost ? "The picture was lost; waiting for the graphics to come back." : ""));
  stage.on("pick", (number) => {
    const piece = number === null ? undefined : store.variant.pieces[number];
    store.set({ marked: piece ? [number!] : [], joint: null });
    say(piece ? `${piece.name}, ${piece.short[unit(store.now.document, store.now.dimensions)]}` : "");
  });
}

/** The picture takes the poster's place. */
function unveil(stage: StageApi, title: string): void {
  const picture = at("picture");
  picture.setAttribute("role", "application");
  picture.setAttribute("aria-label", `Picture of ${title}`);
  picture.setAttribute("aria-describedby", "keys");
  picture.tabIndex = 0;
  at("keys").hidden = false;
  refill(at("how"), "Drag to turn, pinch or scroll to come nearer, tap a piece for its name.");
  void stage.ready.then(() => {
    at("poster").hidden = true;
    root.classList.add("alive");
  });
}

function alone(why: string): void {
  refill(at("how"), why);
  at("picture").hidden = true;
  root.classList.remove("scripted");
}

async function start(token: string | undefined): Promise<void> {
  const preview = window.__preview;
  root.classList.add("scripted");
  at("picture").hidden = false;
  let stage: StageApi | null = null;
  try {
    stage = preview.stage = new Stage(at("picture"), optionsFromHash(location.hash));
  } catch (fault) {
    if (!(fault instanceof NoPicture)) throw fault;
    alone(
      "This browser cannot draw the model in 3D (it lacks WebGL 2), so a still picture stands here. " +
        "To turn the model, open this file in another browser or on another device.",
    );
  }
  if (token !== undefined) {
    if (stage) shop(new Server(token), stage);
  } else {
    const model = await ownModel();
    preview.document = model.document;
    stage?.show(model, false);
    if (stage) unveil(stage, model.document.title);
    const panel = furnish(stage, model, false, () => []);
    if (stage) connect(panel, stage, at("picture"));
    at<HTMLDetailsElement>("facts-fold").open = !stage;
  }
  await stage?.ready;
}

/** As the maker sees it: the model and the fields come from the server. */
function shop(server: Server, stage: StageApi): void {
  let editing: Editing | null = null;
  at("facts").hidden = true;
  at("skip").replaceChildren("Skip to the controls");
  at("skip").setAttribute("href", "#panel");
  refill(at("how"), "Waiting for the model.");
  follow(server, stage, {
    first: (model) => {
      stage.show(model, false);
      unveil(stage, model.document.title);
      const panel = furnish(stage, model, true, () => [(editing = new Editing(server)).element]);
      connect(panel, stage, at("picture"));
      panel.store.on(({ document }) => (window.__preview.document = document));
      window.__preview.document = model.document;
      return panel;
    },
    fields: () => void editing?.refresh(),
  });
}

window.__preview = {
  ready: Promise.resolve(),
  stage: null,
  frames: () => window.__preview.stage?.statistics().frames ?? 0,
  document: null,
};
window.__preview.ready = start(document.body.dataset.live);
window.__preview.ready.catch((fault: unknown) => {
  alone("The model in this file could not be read; the still picture and the figures below are complete.");
  throw fault;
});
