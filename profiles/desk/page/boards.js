// Boards and offcuts at hand, as a small table each.
import { app, changeRows, faults, field, on } from "/page/app.js";
import { h, set } from "/page/dom.js";
import { bare, shownUnit, typed } from "/page/units.js";

const TITLES = { boards: "Boards", offcuts: "Offcuts" };
const COLUMNS = ["count", "length", "width", "thickness", "measured", "price", "foam", "name"];
const WORDS = { count: "How many", length: "Length", width: "Width", thickness: "Thickness", measured: "Measured", price: "Price", foam: "Kind", name: "Name" };
const START = { boards: { length: 1250, width: 600 }, offcuts: { length: 600, width: 300 } };

export function mountBoards() {
  return ["boards", "offcuts"].map((part) => {
    const place = h("div", { class: "stock" });
    const renew = () => show(part, place);
    on("units faults", renew);
    on("settings", () => place.contains(document.activeElement) || renew());
    renew();
    return place;
  });
}

function show(part, place) {
  const rows = Array.isArray(app.settings[part]) ? app.settings[part] : [];
  const add = h("button", { type: "button", class: "small", "data-add": part, onclick: () => {
    changeRows(part, [...rows, { ...START[part], thickness: app.settings.foam?.thickness ?? app.coarse?.foam ?? 40, ...(part === "boards" ? {} : { count: 1 }) }]);
    show(part, place);
    place.querySelector("tbody tr:last-child input")?.focus();
  } }, part === "boards" ? "Add a board" : "Add an offcut");
  set(place,
    h("h3", {}, TITLES[part]),
    rows.length ? table(part, rows, place) : h("p", { class: "help" }, part === "boards" ? "None named: common boards of this thickness are assumed, and listed to be bought." : "None. Offcuts are used up before boards."),
    faults.get(part) ? h("p", { class: "fault" }, faults.get(part)) : null,
    add);
}

function table(part, rows, place) {
  const columns = COLUMNS.filter((key) => field(part, key));
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": TITLES[part] }, h("table", { class: "entry-table" },
    h("thead", {}, h("tr", {}, columns.map((key) => h("th", { scope: "col" }, WORDS[key], isLength(part, key) ? h("span", { class: "unit" }, ` ${shownUnit()}`) : null)), h("th", {}, h("span", { class: "unseen" }, "Remove")))),
    h("tbody", {}, rows.map((row, number) => h("tr", {},
      columns.map((key) => h("td", {}, cell(part, rows, number, key))),
      h("td", {}, h("button", { type: "button", class: "quiet small", "aria-label": `Remove ${TITLES[part].toLowerCase()} row ${number + 1}`, onclick: () => {
        changeRows(part, app.settings[part].filter((_, k) => k !== number));
        show(part, place);
        place.querySelector("[data-add]").focus();
      } }, "×")))))));
}

const isLength = (part, key) => field(part, key).unit === "mm";

function cell(part, rows, number, key) {
  const described = field(part, key);
  const held = rows[number][key];
  const text = held === undefined || held === null ? "" : typeof held === "number" && isLength(part, key) ? bare(held, 1) : String(held);
  return h("input", { type: "text", value: text, inputmode: ["length", "number", "integer"].includes(described.kind) ? "decimal" : null, "aria-label": `${WORDS[key]}, row ${number + 1}`, title: described.help,
    onchange: (event) => {
      const words = isLength(part, key) ? typed(event.target.value) : event.target.value.trim();
      const now = app.settings[part] ?? rows; // another cell may have changed since this one was made
      const row = { ...now[number], [key]: /^-?\d+(\.\d+)?$/.test(words) && described.kind !== "text" ? Number(words) : words };
      if (!words) delete row[key];
      changeRows(part, now.map((other, k) => (k === number ? row : other)));
    } });
}
