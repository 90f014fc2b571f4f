// Take away: the files, the job, and a printer that is measured and corrected.
import { app, changeMany, on } from "/page/app.js";
import { byId, h, set } from "/page/dom.js";
import { settingField } from "/page/fields.js";
import { cautions, KNIVES, WIRE } from "/page/notes.js";
import { bytes } from "/page/units.js";

const FIRST = ["templates.pdf", "job-book.pdf", "everything.zip"];
const WORDS = {
  "templates.pdf": ["Templates", "Print at 100 %, read page 1 first."], "job-book.pdf": ["Job book", "For the bench."], "everything.zip": ["Everything", "All files in one, as the command writes them."],
  "cards.svg": ["Cards, SVG", "All pieces nested on card."], "cards.dxf": ["Cards, DXF", "For card cutters and lasers."], "built.stl": ["Body as cut, STL", "Before sanding, mm."],
  "built.glb": ["Body as cut, GLB", "With a colour for each block."], "blocks.csv": ["Block list, CSV", "Sizes, layers, volumes."], "report.json": ["Figures, JSON", "For other programs."], "job.toml": ["Job file, TOML", "The same files from the command line."],
};

export function mountTake() {
  set(byId("take-body"), h("div", { id: "take-files" }),
    h("div", { class: "columns" }, printing(), h("div", { id: "take-job" })),
    cautions(WIRE, "Before the wire is hot"), cautions(KNIVES, "Knives, blades and dust"));
  on("files state body settings", show);
  show();
}

function show() {
  const files = app.files?.files ?? [];
  const current = app.files && app.files.wish === app.state?.wish;
  byId("take").dataset.stale = app.files && !current ? "yes" : "no";
  document.documentElement.dataset.files = current ? "current" : app.files ? "stale" : "none";
  const key = JSON.stringify([app.files, current]);
  if (byId("take-files").dataset.key === key) return;
  byId("take-files").dataset.key = key;
  const link = (file, main) => h("li", {}, h("a", { class: main ? "button" : "file", href: file.url, download: file.name, "data-file": file.name },
    h("strong", {}, WORDS[file.name]?.[0] ?? file.label), h("span", {}, `${file.name}, ${bytes(file.bytes)}`), h("small", {}, WORDS[file.name]?.[1] ?? "")));
  const main = FIRST.map((name) => files.find((file) => file.name === name)).filter(Boolean);
  set(byId("take-files"), files.length
    ? [current ? null : h("p", { class: "hint" }, "These files are of the plan before. New ones follow."),
      h("ul", { class: "downloads main" }, main.map((file) => link(file, true))), h("ul", { class: "downloads" }, files.filter((file) => !main.includes(file)).map((file) => link(file, false)))]
    : h("p", { class: "empty" }, "The files appear here when they are made and measured."));
  set(byId("take-job"), app.files ? [h("h3", {}, "The same job on the command line"),
    h("p", {}, "Fingerprint ", h("code", { id: "fingerprint" }, app.files.fingerprint), ". Every template and page carries it; templates of another fingerprint must not be mixed with these."),
    h("p", {}, "Save job.toml beside the hull and run ", h("code", {}, "stationer make job.toml"), ": it writes the same bytes.")] : null);
}

/** Paper lies: measure both bars, type them in, take the PDF again. */
function printing() {
  const form = h("div", { class: "bars" }, settingField("paper", "bar_across"), settingField("paper", "bar_up"));
  const undo = h("button", { type: "button", class: "small quiet", onclick: () => changeMany("paper", { bar_across: undefined, bar_up: undefined }) }, "Both are exact");
  return h("div", { id: "printing" }, h("h3", {}, "Print"),
    h("ol", { class: "steps" },
      h("li", {}, "Print templates.pdf at 100 %, without “fit to page”, on one sheet first."),
      h("li", {}, "Measure both bars of 100 mm on the paper with a steel rule. Cut nothing before that."),
      h("li", {}, "Where they are off, type in what you measured, and take the PDF again: it is corrected for this printer.", form, undo),
      h("li", {}, "Measure the bars of the new print once more: both must be 100 mm.")));
}
