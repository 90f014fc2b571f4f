// The two templates of a block side by side in true proportion. Pointing at a mark lights it on both, and the wire in 3-D.
import { app, choose, on, point, reach } from "/page/app.js";
import { h, roving, s, set } from "/page/dom.js";
import { cautions, KNIVES } from "/page/notes.js";
import { length, litres, number2 } from "/page/units.js";

let place = null;
let asked = null;

export function mountPair(where) {
  place = where;
  on("chosen body", load);
  on("units", show);
  on("mark", light);
  load();
}

async function load() {
  const number = app.chosen;
  if (number === null || !app.body || !app.body.blocks.some((block) => block.number === number)) {
    app.pair = null;
    return show();
  }
  asked = `${app.body.wish}-${number}`;
  const key = asked;
  const pair = await reach(() => app.calls.block(number), () => {});
  if (key !== asked) return;
  app.pair = pair;
  show();
}

function show() {
  const pair = app.pair;
  if (!pair) return set(place, app.body ? h("p", { class: "hint" }, "Choose a block, in the picture or in the row, to see its two templates.") : null);
  const block = app.body.blocks.find((entry) => entry.number === pair.number);
  const hadFocus = place.contains(document.activeElement) ? document.activeElement.id || document.activeElement.dataset.step : null;
  const scale = frameOf(pair);
  set(place, h("div", { class: "pair", "data-block": pair.number },
    h("div", { class: "pair-head" },
      h("h3", { id: "pair-title", tabindex: "-1" }, `Block ${number2(pair.number)}`),
      step(-1, "Previous block"), step(1, "Next block"),
      h("button", { type: "button", class: "quiet small", onclick: () => choose(null) }, "Close")),
    h("p", { class: "soft" }, facts(block)),
    pair.faces?.length ? h("div", { class: "faces" }, ["fore", "aft"].map((which) => face(pair, which, scale))) : null,
    pair.profiles?.length ? cautions(KNIVES, "This block is carved: knives, blades and dust", false) : null,
    pair.profiles?.length ? h("div", { class: "faces" }, pair.profiles.map((profile) => profilePicture(profile))) : null,
    pair.faces?.some((entry) => entry.marks.length) ? h("p", { class: "help" }, "Equal numbers belong together: both hands pass mark 7 at the same moment. Point at a mark, or move along them with the arrow keys.") : null,
    key()));
  if (hadFocus) (document.getElementById(hadFocus) ?? place.querySelector(`[data-step="${hadFocus}"]`))?.focus();
  light();
  if (app.wanted === pair.number) {
    app.wanted = null;
    document.getElementById("pair-title").focus();
  }
}

function step(by, words) {
  const numbers = app.body.blocks.map((block) => block.number);
  const next = numbers[numbers.indexOf(app.pair.number) + by];
  return h("button", { type: "button", class: "small", "data-step": by, "aria-label": words, disabled: next === undefined, onclick: () => choose(next) }, by < 0 ? "‹" : "›");
}

function facts(block) {
  if (!block) return "";
  const words = [`x ${length(block.x_fore)} to ${length(block.x_aft)}`, `${length(block.thickness)} thick${block.full ? "" : " (odd block)"}`, `box ${length(block.height)} high, ${length(block.width)} wide`];
  if (block.carved) words.push(`carved to profiles, ${litres(block.carving_litres)} by knife`);
  else words.push(`at most ${length(block.sanding)} to sand`, `growth ${length(block.growth)}`);
  if (block.hands_ratio > 1.05) words.push(`one hand up to ${block.hands_ratio.toFixed(1)} times as fast`);
  return `${words.join(" · ")}.`;
}

/** One frame for both faces, so that both are drawn to the same scale: the box, or what is drawn beyond it, mm. */
function frameOf(pair) {
  const ys = [];
  const zs = [];
  for (const entry of pair.faces ?? []) for (const outline of entry.outlines) for (const ring of outline.rings) for (const [y, z] of ring) {
    ys.push(y);
    zs.push(z);
  }
  if (pair.box) {
    ys.push(pair.box.y_low, pair.box.y_low + pair.box.width);
    zs.push(pair.box.z_low, pair.box.z_low + pair.box.height);
  }
  const bounds = (list) => [list.reduce((a, b) => Math.min(a, b), Infinity), list.reduce((a, b) => Math.max(a, b), -Infinity)];
  const [y0, y1] = bounds(ys);
  const [z0, z1] = bounds(zs);
  const edge = 0.06 * Math.max(y1 - y0, z1 - z0);
  return { y0: y0 - edge, y1: y1 + edge, z0: z0 - edge, z1: z1 + edge, size: Math.max(y1 - y0, z1 - z0) };
}

const STYLE = { cut: "cut", foam: "foam-line", finished: "finished" };

function face(pair, which, frame) {
  const entry = pair.faces.find((item) => item.which === which);
  // Seen from outside: on the fore face starboard is on the left.
  const u = which === "fore" ? (y) => -y : (y) => y;
  const left = which === "fore" ? -frame.y1 : frame.y0;
  const width = frame.y1 - frame.y0;
  const title = which === "fore" ? "Fore face" : "Aft face";
  if (!entry?.outlines.some((outline) => outline.rings.length)) return h("figure", { class: "face" }, h("figcaption", {}, title), h("p", { class: "hint" }, "The hull comes to a point or an edge here: the hand rests there, and the face has no template."));
  const unit = frame.size / 100;
  const box = pair.box;
  const middle = { u: u(mean(entry.marks.map((mark) => mark.y))), v: -mean(entry.marks.map((mark) => mark.z)) };
  const taken = [];
  const marks = s("g", { class: "marks" }, entry.marks.map((mark, k) => markSign(mark, { u, unit, which, middle, taken, first: k === 0 })));
  const figure = h("figure", { class: "face" }, h("figcaption", {}, `${title}, x ${length(entry.x)}`),
    s("svg", { viewBox: `${left} ${-frame.z1} ${width} ${frame.z1 - frame.z0}`, role: "group", "aria-label": `${title} of block ${pair.number}, seen from outside, with ${entry.marks.length} marks`, class: "template" },
      box ? s("rect", { class: "box", x: which === "fore" ? -(box.y_low + box.width) : box.y_low, y: -(box.z_low + box.height), width: box.width, height: box.height }) : null,
      s("path", { class: "datum", d: `M${left} 0H${left + width}M0 ${-frame.z1}V${-frame.z0}` }),
      ["finished", "foam", "cut"].flatMap((kind) => entry.outlines.filter((outline) => outline.kind === kind).map((outline) => s("path", { class: STYLE[kind], d: outline.rings.map((ring) => path(ring, u)).join("") }))),
      (pair.pins ?? []).map((pin) => s("circle", { class: "pin", cx: u(pin.y), cy: -pin.z, r: Math.max(pin.diameter / 2, 0.6 * unit) })),
      marks));
  roving(figure); // on the figure: a browser gives the focus to a part of an SVG that listens for it
  return figure;
}

const path = (ring, u) => `M${ring.map(([y, z]) => `${u(y).toFixed(3)} ${(-z).toFixed(3)}`).join("L")}Z`;

const mean = (list) => list.reduce((sum, item) => sum + item, 0) / Math.max(1, list.length);

const NUMBER_SIZE = 4; // hundredths of the frame, as all sizes of signs
const NUMBER_IN = 6;

/** A mark with its number inside the outline; a number that would lie on another one shows only while its mark is lit. */
function markSign(mark, { u, unit, which, middle, taken, first }) {
  const [x, y] = [u(mark.y), -mark.z];
  const away = Math.hypot(x - middle.u, y - middle.v) || 1;
  const at = { x: x - ((x - middle.u) / away) * NUMBER_IN * unit, y: y - ((y - middle.v) / away) * NUMBER_IN * unit };
  const crowded = taken.some((other) => Math.abs(other.x - at.x) < 1.4 * NUMBER_SIZE * unit && Math.abs(other.y - at.y) < NUMBER_SIZE * unit);
  if (!crowded) taken.push(at);
  return s("g", { class: crowded ? "mark crowded" : "mark", "data-item": "", "data-mark": mark.number, tabindex: first ? 0 : -1, role: "img", "aria-label": `Mark ${mark.number}, ${which} face${mark.kind && mark.kind !== "even" ? `, ${mark.kind}` : ""}`,
    onpointerenter: () => point(mark.number), onpointerleave: () => point(null), onfocus: () => point(mark.number), onblur: () => point(null) },
    s("circle", { class: "reach", cx: x, cy: y, r: 4 * unit }), s("circle", { class: "dot", cx: x, cy: y, r: 1.1 * unit }),
    s("text", { ...at, "font-size": NUMBER_SIZE * unit, "text-anchor": "middle", "dominant-baseline": "central" }, String(mark.number)));
}

function light() {
  if (!place) return;
  for (const sign of place.querySelectorAll("[data-mark]")) sign.classList.toggle("lit", Number(sign.dataset.mark) === app.mark);
}

function profilePicture(profile) {
  const points = profile.rings.flat();
  if (!points.length) return null;
  const bounds = [0, 1].map((axis) => points.reduce(([low, high], p) => [Math.min(low, p[axis]), Math.max(high, p[axis])], [Infinity, -Infinity]));
  const [wide, high] = bounds.map(([low, top]) => top - low);
  const edge = 0.06 * Math.max(wide, high);
  const title = { side: "Side profile", plan: "Plan profile" }[profile.view] ?? profile.view;
  return h("figure", { class: "face" }, h("figcaption", {}, title),
    s("svg", { viewBox: `${bounds[0][0] - edge} ${-bounds[1][1] - edge} ${wide + 2 * edge} ${high + 2 * edge}`, role: "img", "aria-label": title, class: "template" },
      s("path", { class: "cut", d: profile.rings.map((ring) => path(ring, (value) => value)).join("") })));
}

function key() {
  const line = (kind, words) => h("li", {}, s("svg", { viewBox: "0 0 24 8", width: 24, height: 8, class: "template", "aria-hidden": "true" }, s("path", { class: kind, d: "M1 4H23" })), words);
  return h("ul", { class: "legend" }, line("cut", "cut line"), line("foam-line", "foam surface: sand to it"), line("finished", "finished surface"), line("box", "box of the block"));
}
