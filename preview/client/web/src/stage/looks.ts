/** The stage's own style sheet. Every rule weighs nothing, so that any rule of the page comes before it. */

const RULES = `
:where(.stage-picture) { position: absolute; inset: 0; width: 100%; height: 100%; display: block; outline-offset: -3px; cursor: grab; }
:where(.stage-picture:active) { cursor: grabbing; }
:where(.stage-labels) { position: absolute; inset: 0; overflow: hidden; pointer-events: none; }
:where(.stage-label) {
  position: absolute; left: 0; top: 0; display: flex; gap: 0.5em; align-items: baseline; white-space: nowrap;
  padding: 0.15em 0.5em; border-radius: 0.3em; font: 500 12px/1.35 system-ui, sans-serif; font-variant-numeric: tabular-nums;
  color: #26211b; background: rgb(255 254 250 / 0.92); box-shadow: 0 0 0 1px rgb(60 50 40 / 0.28);
}
:where(.stage-label[hidden], .stage-label-size[hidden]) { display: none; }
:where(.stage-label)::after {
  content: ""; position: absolute; left: var(--stage-pin, 50%); top: 100%; width: 1px; height: 10px; background: rgb(60 50 40 / 0.6);
}
:where(.stage-label-name) { font-weight: 500; }
:where(.stage-label-size) { font-weight: 650; }
:where(.stage-label-marked) { box-shadow: 0 0 0 2px #c2571a; }
`;

/** Bring the style sheet to the page, once. */
export function dress(): void {
  if (document.adoptedStyleSheets.some((sheet) => (sheet as { stage?: boolean }).stage)) return;
  const sheet = Object.assign(new CSSStyleSheet(), { stage: true });
  sheet.replaceSync(RULES);
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
}
