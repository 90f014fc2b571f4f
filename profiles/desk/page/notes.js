// Notes in plain words: assumptions with their overrides, repairs, warnings with "Show me".
import { app, choose } from "/page/app.js";
import { h } from "/page/dom.js";
import { settingField } from "/page/fields.js";
import { pageWords } from "/page/labels.js";
import { length } from "/page/units.js";

const TITLES = { warning: "Warning", assumption: "Assumed", repair: "Repaired", fact: "Note" };

/** Hazards of the hot wire, and of knife and sandpaper. */
export const WIRE = ["wire", "supply", "reach", "fumes", "foam", "sheets"];
export const KNIVES = ["knives", "dust"];

export function noteLine(note) {
  const block = note.block ?? blockAt(note.x);
  const fields = (note.fields ?? []).map((entry) => settingField(entry.part, entry.key, { compact: true }));
  return h("li", { class: `note ${note.kind}`, "data-note": note.kind },
    h("p", {}, h("strong", {}, `${TITLES[note.kind] ?? "Note"}: `), pageWords(note.text)),
    fields.length ? h("div", { class: "overrides" }, fields) : null,
    block && app.body ? h("button", { type: "button", class: "small", onclick: () => showBlock(block) }, "Show me", h("span", { class: "unseen" }, ` block ${block}`)) : null,
    !block && note.x !== null && note.x !== undefined ? h("p", { class: "soft" }, `At x = ${length(note.x)}.`) : null);
}

export const noteList = (notes, label) => (notes.length ? h("ul", { class: "notes", "aria-label": label }, notes.map(noteLine)) : null);

function blockAt(x) {
  if (x === null || x === undefined) return null;
  return app.body?.blocks.find((block) => block.x_fore <= x && x <= block.x_aft)?.number ?? null;
}

/** Choose a block and bring its templates into view. */
export function showBlock(number) {
  app.wanted = number;
  choose(number);
}

/** The cautions about these hazards, in the words of the job book. */
export function cautions(hazards, title, open = true) {
  const fits = app.start.cautions.filter((caution) => hazards.includes(caution.key));
  if (!fits.length) return null;
  return h("details", { class: "caution", open }, h("summary", {}, title),
    h("ul", {}, fits.map((caution) => h("li", {}, h("strong", {}, `${caution.heading}. `), caution.lines.join(" ")))));
}
