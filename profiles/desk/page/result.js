// What the build comes to: figures, warnings, blocks, deviation, other foams, sheets, the job book.
import { app, change, on, reach } from "/page/app.js";
import { drawDeviation } from "/page/chart.js";
import { byId, h, set, tabs } from "/page/dom.js";
import { noteList, showBlock } from "/page/notes.js";
import { showSheets } from "/page/sheets.js";
import { bare, length, litres, MM_PER_INCH, number2, plural, shownUnit } from "/page/units.js";

const panels = {};
let rows = null;
let rowsOf = null;
let comparing = false;
let compareFault = "";

export function mountResult() {
  for (const name of ["blocks", "deviation", "others", "sheets", "book"]) panels[name] = h("div", { id: `panel-${name}`, class: "panel" });
  panels.chart = h("div", { id: "chart", class: "chart" });
  set(panels.deviation, h("p", { class: "help" }, "How far the foam stands off the hull along its length: above the line is sanded off, below it is missing."), panels.chart);
  const pages = [["blocks", "Blocks"], ["deviation", "Deviation"], ["others", "Other foam"], ["sheets", "Sheets"], ["book", "Job book"]].map(([key, title]) => ({ key, title, panel: panels[key] }));
  const bar = tabs("Result", "result", pages, (name) => name === "deviation" && drawDeviation(panels.chart));
  set(byId("result-body"), h("div", { id: "tiles" }), h("div", { id: "warnings" }), h("div", { id: "tab-place", hidden: true }, bar.list, pages.map((page) => page.panel)), h("p", { class: "empty", id: "result-empty" }, "Figures, sheets and the job book appear here when there is a body."));
  on("body sheets units state", show);
  on("theme", () => !panels.deviation.hidden && drawDeviation(panels.chart));
  on("sheets", () => showSheets(panels.sheets));
  on("files", showBook);
  on("body units", () => {
    showBlocks();
    showOthers();
    if (!panels.deviation.hidden) drawDeviation(panels.chart);
  });
  show();
  showBook();
  showSheets(panels.sheets);
}

function show() {
  const body = app.body;
  byId("result-empty").hidden = Boolean(body);
  byId("tab-place").hidden = !body;
  byId("result").dataset.stale = body && (app.state?.have?.body ?? 0) < (app.state?.wish ?? 0) ? "yes" : "no";
  set(byId("tiles"), body ? tiles(body.totals) : null);
  const warnings = (body?.notes ?? []).filter((note) => note.kind === "warning");
  const words = JSON.stringify([warnings, shownUnit()]);
  if (byId("warnings").dataset.words !== words) {
    byId("warnings").dataset.words = words;
    set(byId("warnings"), noteList(warnings, "Warnings"));
  }
}

function tiles(totals) {
  const sheets = totals.sheets ?? app.sheets?.sheets.length ?? null;
  const boards = totals.boards.filter((board) => board.buy);
  const tile = (name, figure, more = "") => h("div", { class: "tile" }, h("dt", {}, name), h("dd", {}, h("strong", {}, figure), more ? h("span", {}, more) : null));
  return h("dl", { class: "tiles", id: "totals" },
    tile("Blocks", String(totals.blocks), totals.carved ? `${totals.carved} carved` : ""),
    tile("Sheets", sheets === null ? "…" : String(sheets), app.sheets ? app.sheets.paper.name : ""),
    tile("Most to sand", length(totals.most_to_sand), ""),
    tile("To sand", litres(totals.sanding_litres), totals.carving_litres ? `${litres(totals.carving_litres)} to carve` : ""),
    tile("Foam", litres(totals.foam_litres), totals.waste_share === null ? "" : `${Math.round(100 * totals.waste_share)} % waste`),
    tile("Boards to buy", String(boards.reduce((sum, board) => sum + board.count, 0)), boards.map((board) => `${board.count} × ${board.name}`).join(", ") || "none"));
}

function showBlocks() {
  const body = app.body;
  if (!body) return set(panels.blocks);
  const unit = shownUnit();
  const head = (words, more = unit) => h("th", { scope: "col" }, words, more ? h("span", { class: "unit" }, ` ${more}`) : null);
  const others = body.notes.filter((note) => note.kind !== "warning");
  set(panels.blocks, h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Table of blocks" }, h("table", { class: "figures-table" },
    h("caption", { class: "unseen" }, "Blocks from nose to tail"),
    h("thead", {}, h("tr", {}, head("Block", ""), head("From x"), head("To x"), head("Thick"), head("Box high"), head("Box wide"), head("Growth"), head("Most to sand"), head("Way", ""))),
    h("tbody", {}, body.blocks.map((block) => h("tr", {},
      h("th", { scope: "row" }, h("button", { type: "button", class: "quiet small", onclick: () => showBlock(block.number) }, h("span", { class: `swatch ${block.carved ? "carved" : ""}`, style: block.carved ? "" : `background:${block.colour}` }), number2(block.number), h("span", { class: "unseen" }, " show its templates"))),
      [block.x_fore, block.x_aft, block.thickness].map((value) => h("td", {}, bare(value))), [block.height, block.width].map((value) => h("td", {}, bare(value, 0))),
      h("td", {}, fixed(block.growth)), h("td", {}, fixed(block.sanding)),
      h("td", { class: "words" }, block.carved ? "carved" : block.pieces > 1 ? `${block.pieces} pieces` : block.full ? "cut" : "cut, odd")))))),
    others.length ? h("details", { class: "more" }, h("summary", {}, plural(others.length, "note")), h("div", { class: "inside" }, noteList(others, "Notes"))) : null);
}

/** A small length with two decimals, in inches with four, so that columns are even. */
const fixed = (mm) => (mm === null ? "" : shownUnit() === "in" ? (mm / MM_PER_INCH).toFixed(4) : mm.toFixed(2));

function showOthers() {
  const body = app.body;
  if (!body) return set(panels.others);
  if (rowsOf !== body.fingerprint) rows = null;
  const button = h("button", { type: "button", id: "compare", disabled: comparing, onclick: compareNow }, comparing ? "Comparing ..." : "Compare with the next boards");
  set(panels.others, h("p", { class: "help" }, "What the next thinner and thicker boards would bring, and what more blocks would. It takes some seconds."), h("p", {}, button),
    compareFault ? h("p", { class: "fault" }, compareFault) : null, rows ? othersTable() : null);
}

async function compareNow() {
  comparing = true;
  compareFault = "";
  rowsOf = app.body.fingerprint;
  showOthers();
  byId("compare").focus();
  const answer = await reach(() => app.calls.compare({}), (refusal) => {
    compareFault = refusal.message;
  });
  comparing = false;
  rows = answer?.rows ?? null;
  showOthers();
  byId("compare")?.focus();
}

function othersTable() {
  const present = app.body.fingerprint;
  return [h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Comparison of foams" }, h("table", { class: "figures-table", id: "others" },
    h("caption", { class: "unseen" }, "The body of other foam"),
    h("thead", {}, h("tr", {}, ["Foam", "Blocks", "Templates", "Most to sand", "To sand", "To carve", "Boards", "Waste", ""].map((words) => h("th", { scope: "col" }, words || h("span", { class: "unseen" }, "Take it"))))),
    h("tbody", {}, rows.map((row) => h("tr", { class: row.fingerprint === present ? "present" : "" },
      h("th", { scope: "row" }, length(row.foam), row.fit ? `, fit ${length(row.fit)}` : ""), h("td", {}, row.blocks), h("td", {}, row.templates), h("td", {}, length(row.sanding)),
      h("td", {}, litres(row.sanding_litres)), h("td", {}, litres(row.carving_litres)), h("td", {}, row.boards), h("td", {}, `${Math.round(100 * row.waste)} %`),
      h("td", {}, row.fingerprint === present ? "this plan" : h("button", { type: "button", class: "small", onclick: () => change("foam", "thickness", row.foam) }, "Take it", h("span", { class: "unseen" }, `: ${length(row.foam)}`)))))))),
  h("ul", { class: "notes" }, rows.map((row) => h("li", { class: "note fact" }, h("p", {}, `${length(row.foam)}: `, row.more_blocks ? `${plural(row.more_blocks, "block")} more would leave at most ${length(row.more_sanding)} to sand.` : "more blocks would not be worth it."))))];
}

function showBook() {
  const book = app.files?.files.find((file) => file.name === "job-book.pdf");
  set(panels.book, book
    ? [h("p", {}, "The book for the bench: what to buy, layers, wire, cutting plan with numbered cuts, template map, order of assembly, block list, checks and cautions."),
      h("p", {}, h("a", { class: "button", href: book.url, download: book.name }, "Take the job book"))]
    : h("p", { class: "hint" }, "The job book appears here when it is made."));
}
