// The hull: drop or choose it, see what was read, put right what was assumed.
import { app, on, reach, say } from "/page/app.js";
import { byId, disclosure, h, set } from "/page/dom.js";
import { fieldGroup, settingField } from "/page/fields.js";
import { noteList } from "/page/notes.js";
import { both, bytes, litres, length, plural } from "/page/units.js";

const MORE = [
  ["Size and unit", ["unit", "length", "scale"]],
  ["Position", ["length_axis", "up", "nose", "turn", "datum"]],
  ["Repair", ["mirror", "solid", "thinnest", "bridge", "narrowest", "keep_holes"]],
  ["Bodies", ["bodies", "all_bodies"]],
];

let fault = null;
let drawn = "";

export function mountHull() {
  set(byId("drop"), dropPlace());
  const inside = h("div", { id: "hull-read" });
  set(byId("hull-body"), h("div", { id: "hull-fault", role: "alert" }), inside,
    disclosure("hull-all", "All settings of the hull", MORE.map(([title, keys]) => h("div", { class: "group" }, h("h3", {}, title), fieldGroup("hull", keys)))));
  on("hull units settings body", () => showHull(inside));
  on("hull", showFault);
  for (const name of ["dragover", "drop"]) document.addEventListener(name, (event) => event.preventDefault());
}

function dropPlace() {
  const input = h("input", { type: "file", id: "hull-file", accept: app.start.accept.join(","), multiple: true, class: "unseen-input", "aria-describedby": "drop-help",
    onchange: (event) => {
      const files = [...event.target.files];
      event.target.value = "";
      send(files);
    } });
  const place = h("label", { class: "drop", for: "hull-file" }, input,
    h("strong", {}, "Drop a hull here, or choose a file"),
    h("span", { id: "drop-help" }, `Mesh, table of offsets, drawn sections or a job file, up to ${bytes(app.start.max_upload)}.`));
  const over = (lit) => place.classList.toggle("over", lit);
  document.addEventListener("dragenter", () => over(true));
  document.addEventListener("dragleave", (event) => event.relatedTarget === null && over(false));
  document.addEventListener("drop", (event) => {
    over(false);
    send([...(event.dataTransfer?.files ?? [])]);
  });
  const demos = h("ul", { class: "demos" }, app.start.demos.map((demo) =>
    h("li", {}, h("button", { type: "button", "data-demo": demo.name, onclick: () => sendDemo(demo.name) }, h("strong", {}, demo.name), h("span", {}, demo.about)))));
  const more = disclosure("demos", "Demo hulls", demos);
  if (!app.start.demos.length) return [place];
  on("state", () => {
    place.classList.toggle("small-drop", Boolean(app.state?.hull));
    if (app.state && !app.state.hull && more.dataset.begun !== "yes") more.open = true;
    more.dataset.begun = "yes";
  });
  return [place, more];
}

/** A hull, or a job file with its hull, in any order. */
async function send(files) {
  fault = null;
  showFault();
  for (const file of files) {
    if (file.size > app.start.max_upload) {
      refuse(file.name, `${file.name} has ${bytes(file.size)}; the desk takes at most ${bytes(app.start.max_upload)}. Simplify the mesh, or use the command line.`);
      continue;
    }
    say(`Sending ${file.name} ...`);
    await reach(() => app.calls.hull(file), (refusal) => refuse(file.name, refusal.message));
  }
}

function sendDemo(name) {
  const more = byId("more-demos");
  more.querySelector("summary").focus();
  more.open = false;
  fault = null;
  showFault();
  reach(() => app.calls.demo(name), (refusal) => refuse(name, refusal.message));
}

function refuse(name, message) {
  fault = { name, message };
  say(message);
  showFault();
}

function showFault() {
  const read = app.state?.hull?.fault;
  const shown = fault ?? (read ? { name: app.state.hull.file, message: read.message } : null);
  set(byId("hull-fault"), shown ? h("p", { class: "fault box" }, h("strong", {}, `${shown.name}: `), shown.message) : null);
}

function showHull(inside) {
  const hull = app.state?.hull;
  const given = Object.keys(app.settings.hull ?? {});
  const key = JSON.stringify([hull, given, app.state?.wanted, document.querySelector("#units input:checked")?.value, Boolean(app.body)]);
  if (key === drawn) return;
  drawn = key;
  const focused = inside.contains(document.activeElement) ? document.activeElement.closest("[data-field]")?.dataset.field : null;
  set(inside,
    app.state?.wanted ? h("p", { class: "hint" }, `This job needs its hull: drop ${app.state.wanted} too.`) : null,
    hull?.figures ? figures(hull) : null,
    hull ? setByHand(given) : null,
    hull ? noteList(ordered(hull.notes ?? []), "What was found and assumed") : null);
  if (focused) inside.querySelector(`[data-field="${focused}"] :is(input, select)`)?.focus();
}

const ORDER = ["warning", "assumption", "repair", "fact"];
const ordered = (notes) => [...notes].sort((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind));

function figures(hull) {
  const read = hull.figures;
  const name = hull.file.replace(/\.[^.]+$/, "");
  return [
    h("figure", { class: "views" }, h("img", { src: `${hull.views}?${hull.bytes}-${encodeURIComponent(JSON.stringify(app.settings.hull ?? {})).length}-${read.length}-${read.breadth}`,
      alt: `Side, plan and end view of ${name}: ${length(read.length)} long, ${length(read.breadth)} broad, ${length(read.depth)} deep.` })),
    h("dl", { class: "figures", "data-hull": hull.file },
      pair("File", `${hull.file}, ${bytes(hull.bytes)}`),
      pair("Length", both(read.length)), pair("Breadth", both(read.breadth)), pair("Depth", both(read.depth)),
      read.volume ? pair("Volume", litres(read.volume / 1e6)) : null,
      pair("Unit", `${read.unit} (${{ option: "as you set it", file: "as the file says" }[read.unit_from] ?? "assumed"})`),
      read.triangles ? pair("Mesh", `${plural(read.triangles, "triangle")}, ${read.bodies === 1 ? "1 body" : `${read.bodies} bodies`}`) : null,
      read.later?.length ? pair("To make later by hand", plural(read.later.length, "hole or slit").replace("slits", "slits")) : null),
  ];
}

const pair = (name, words) => h("div", {}, h("dt", {}, name), h("dd", {}, words));

/** What the builder has overridden, each with a way back. */
function setByHand(keys) {
  if (!keys.length) return null;
  return h("div", { class: "by-hand" }, h("h3", {}, "Set by you"), keys.map((key) => settingField("hull", key, { compact: true, reset: true })));
}
