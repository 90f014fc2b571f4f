// The foam: thickness, boards and offcuts, how blocks are divided, layers between hull and template, paper.
import { app, change, faults, field, on, value } from "/page/app.js";
import { mountBoards } from "/page/boards.js";
import { byId, disclosure, h, set } from "/page/dom.js";
import { fieldGroup, keysBut, settingField } from "/page/fields.js";
import { pageWords } from "/page/labels.js";
import { cautions, WIRE } from "/page/notes.js";
import { bare, both, MM_PER_INCH, shownUnit, typed } from "/page/units.js";

const RANGE = [10, 120]; // mm; foam that is sold for hot wire, up to the thickest insulation boards (common practice)
const USUAL = { mm: [20, 25, 30, 40, 50, 60, 80, 100], in: [0.75, 1, 1.5, 2, 2.5, 3, 4].map((size) => size * MM_PER_INCH) };

export function mountFoam() {
  set(byId("foam-body"), thickness());
  set(byId("settings-body"),
    disclosure("boards", "Boards and offcuts", mountBoards(), h("h3", {}, "Cutting"), fieldGroup("cutting", keysBut("cutting", ["effort", "seconds"]))),
    disclosure("stations", "Blocks and stations", fieldGroup("foam", ["odd", "fit", "most", "min_block", "breaks", "shape_stations", "as_measured", "built", "built_length"])),
    disclosure("layers", "Skin and growth", fieldGroup("template", ["skin", "growth", "missing"])),
    disclosure("kerf", "Wire and kerf", cautions(WIRE, "Before the wire is hot", false), kerfHelp(), fieldGroup("template", ["kerf_test", "kerf", "wire"]),
      h("h3", {}, "Wire and supply"), fieldGroup("wire", keysBut("wire", []))),
    disclosure("templates", "Boxes, pins and marks", fieldGroup("template", ["allowance", "box", "box_step", "pin", "marks", "gauges"])),
    disclosure("paper", "Paper", fieldGroup("paper", ["size", "orientation", "margin", "overlap", "draw_box", "card", "max_sheets"]), fieldGroup("output", ["units"])));
}

function thickness() {
  const described = field("foam", "thickness");
  const slider = h("input", { type: "range", id: "thickness-slider", min: RANGE[0], max: RANGE[1], step: 0.5, "aria-describedby": "thickness-help" });
  const number = h("input", { type: "text", id: "thickness", inputmode: "decimal", autocomplete: "off", "aria-describedby": "thickness-help thickness-fault", "data-field": "foam.thickness" });
  const unit = h("span", { class: "unit" });
  const inBoth = h("output", { class: "soft", for: "thickness-slider thickness", id: "thickness-both" });
  const usual = h("div", { class: "chips", role: "group", "aria-label": "Usual thicknesses" });
  const fault = h("p", { class: "fault", id: "thickness-fault" });
  slider.addEventListener("input", (event) => {
    change("foam", "thickness", snapped(Number(slider.value)), event.timeStamp || performance.now());
  });
  number.addEventListener("change", () => {
    const words = typed(number.value);
    change("foam", "thickness", /^[\d.]+$/.test(words) ? Number(words) : words || undefined);
  });
  const renew = () => {
    const set_ = value("foam", "thickness");
    const mm = asMm(set_) ?? app.coarse?.foam ?? null;
    slider.step = shownUnit() === "in" ? String(MM_PER_INCH / 16) : "0.5";
    slider.min = shownUnit() === "in" ? String(MM_PER_INCH / 2) : String(RANGE[0]);
    if (document.activeElement !== slider && mm !== null) slider.value = mm;
    slider.setAttribute("aria-valuetext", mm === null ? "not set" : both(mm));
    const message = faults.get("foam.thickness");
    if (document.activeElement !== number || !message) number.value = message ? number.value : mm === null ? "" : bare(mm, 1);
    unit.textContent = shownUnit();
    inBoth.textContent = mm === null ? "" : both(mm);
    fault.textContent = message ?? "";
    if (message) number.setAttribute("aria-invalid", "true");
    else number.removeAttribute("aria-invalid");
    set(usual, USUAL[shownUnit()].map((size) =>
      h("button", { type: "button", "aria-pressed": String(mm !== null && Math.abs(mm - size) < 0.01), onclick: () => change("foam", "thickness", size) }, bare(size, 1))));
  };
  on("settings units faults coarse", keepFocus(usual, renew));
  renew();
  return h("div", { class: "thickness" },
    h("div", { class: "thickness-head" }, h("label", { for: "thickness" }, "Thickness"), h("span", { class: "entry" }, number, unit), inBoth),
    h("div", { class: "thickness-slide" }, h("label", { class: "unseen", for: "thickness-slider" }, "Thickness, slider"), slider, usual),
    h("p", { class: "help", id: "thickness-help" }, pageWords(described.help)), fault);
}

/** Redraw a row of buttons without losing the place of the keyboard in it. */
function keepFocus(row, renew) {
  return () => {
    const place = [...row.children].indexOf(document.activeElement);
    renew();
    if (place >= 0) row.children[place]?.focus();
  };
}

const snapped = (mm) => Math.round(mm * 1000) / 1000;

/** A thickness as the settings hold it -> mm; null where it is text in another form, which only the server reads. */
function asMm(held) {
  if (typeof held === "number") return held;
  const match = /^\s*(-?[\d.]+)\s*(mm|in|"|)\s*$/.exec(held ?? "");
  return match ? Number(match[1]) * (match[2] === "in" || match[2] === '"' ? MM_PER_INCH : 1) : null;
}

function kerfHelp() {
  return h("p", { class: "hint" }, "The kerf test: ", h("a", { href: `${app.calls.home}/kerf-test.pdf`, download: "kerf-test.pdf" }, "print its page"),
    ", cut the block of 100 mm, measure it and type the figure in. Do it once for each wire and current.");
}

/** Fields of the foam that stand elsewhere too. */
export const fitField = () => settingField("foam", "fit", { compact: true });
