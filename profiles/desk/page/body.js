// The body: the 3-D picture, or pictures where there is no WebGL, and a strip of blocks for the keyboard.
import { app, choose, on } from "/page/app.js";
import { byId, h, remember, remembered, roving, set } from "/page/dom.js";
import { mountPair } from "/page/pair.js";
import { coarseData, exactData, hasWebgl, loadPlotly, sceneLayout, traces } from "/page/scene.js";
import { decodedMesh } from "/page/server.js";
import { bare, length, number2, plural, shownUnit } from "/page/units.js";

const look = { apart: Number(remembered("apart") ?? 0), ghost: remembered("ghost") === "yes", stations: remembered("stations") !== "no", view: "corner", turns: 0 };
let place = null;
let data = null;
let ghostMesh = null;
let drawing = false;
let dirty = false;
let flat = null;

export function mountBody() {
  flat = hasWebgl() && remembered("pictures") !== "yes" ? null : "This browser shows no 3-D here, so the body is shown as a picture. Choose a block in the row below.";
  place = h("div", { id: "scene", class: "scene", role: "img", "aria-label": "The body in 3-D. Choose its blocks in the row below." });
  set(byId("body-body"), h("p", { id: "body-line", class: "lead" }), toolbar(), h("div", { class: "scene-place" }, h("div", { id: "flat", hidden: true }), place, h("p", { class: "empty", id: "scene-empty" }, "The body appears here as soon as there is a hull and a thickness.")),
    h("div", { id: "strip" }), h("div", { id: "legend" }), h("div", { id: "pair" }));
  mountPair(byId("pair"));
  on("coarse", () => {
    data = coarseData(app.coarse);
    draw();
    show();
  });
  on("body", () => {
    data = app.body && app.meshes ? exactData(app.meshes, app.body) : app.coarse ? data : null;
    draw();
    show();
  });
  on("hull", () => {
    if (!app.coarse && !app.body) {
      data = null;
      draw();
      show();
    }
  });
  on("ghost", () => {
    ghostMesh = app.ghost ? decodedMesh(app.ghost) : null;
    draw();
  });
  on("chosen mark theme units", draw);
  on("chosen units state files", show);
  new ResizeObserver(draw).observe(place);
  show();
}

function toolbar() {
  const apart = h("input", { type: "range", id: "apart", min: 0, max: 100, step: 1, value: Math.round(100 * look.apart) });
  apart.addEventListener("input", () => {
    look.apart = Number(apart.value) / 100;
    remember("apart", String(look.apart));
    draw();
  });
  const tick = (key, words) => h("label", { class: "tick" }, h("input", { type: "checkbox", id: `look-${key}`, checked: look[key], onchange: (event) => {
    look[key] = event.target.checked;
    remember(key, look[key] ? "yes" : "no");
    draw();
  } }), words);
  const views = { corner: "Corner", side: "Side", plan: "Plan", end: "End" };
  return h("div", { class: "toolbar", id: "scene-tools", hidden: Boolean(flat) },
    h("span", { class: "slide" }, h("label", { for: "apart" }, "Pull apart"), apart),
    tick("ghost", "Hull as a ghost"), tick("stations", "Stations"),
    h("span", { class: "chips", role: "group", "aria-label": "View" }, Object.entries(views).map(([view, words]) =>
      h("button", { type: "button", onclick: () => {
        look.view = view;
        look.turns += 1;
        draw();
      } }, words))));
}

/** Draw the newest picture; what comes while one is being drawn is drawn after it, once. */
async function draw() {
  dirty = true;
  if (drawing || flat) return;
  drawing = true;
  try {
    const plotly = await loadPlotly();
    while (dirty) {
      dirty = false;
      await drawOnce(plotly);
    }
  } catch (fault) {
    flat = `The 3-D picture could not be drawn (${fault.message}), so the body is shown as a picture.`;
    byId("scene-tools").hidden = true;
    show();
  }
  drawing = false;
}

async function drawOnce(plotly) {
  const shown = data;
  if (!shown) {
    if (place.classList.contains("js-plotly-plot")) plotly.purge(place);
    delete place.dataset.picture;
    return;
  }
  const coarse = app.coarse;
  const layout = sceneLayout(shown, look, `${app.state?.hull?.file}-${look.turns}`, place.clientWidth / Math.max(1, place.clientHeight));
  const first = !place.classList.contains("js-plotly-plot");
  const ends = wire();
  await plotly.react(place, traces(shown, { ...look, ghostMesh, chosen: app.chosen, wire: ends }), layout, { displayModeBar: false, responsive: false, displaylogo: false, scrollZoom: false });
  if (first) place.on("plotly_click", (event) => {
    const hit = event.points.find((point) => point.curveNumber < 2);
    if (hit) choose(data.ofVertex[hit.pointNumber] ?? null);
  });
  place.dataset.picture = shown.exact ? "exact" : "coarse";
  place.dataset.blocks = shown.blocks.length;
  place.dataset.wire = ends ? "on" : "off";
  place.dataset.apart = Math.round(100 * look.apart);
  place.dataset.wish = shown.exact ? app.body?.wish : coarse?.wish;
  if (!shown.exact && coarse?.since) { // none where no hand moved
    performance.measure("slider to picture", { start: coarse.since, end: performance.now() });
    coarse.since = null;
  }
}

/** The ends of the wire at the mark that is pointed at. */
function wire() {
  const pair = app.pair;
  if (app.mark === null || !pair || pair.number !== app.chosen) return null;
  const ends = ["fore", "aft"].map((which) => pair.faces?.find((face) => face.which === which)?.marks.find((mark) => mark.number === app.mark));
  return ends[0] && ends[1] ? { fore: [pair.x_fore, ends[0].y, ends[0].z], aft: [pair.x_aft, ends[1].y, ends[1].z] } : null;
}

function show() {
  const blocks = data?.blocks ?? [];
  const stale = Boolean(data && (!data.exact || (app.state?.have?.body ?? 0) < (app.state?.wish ?? 0)));
  byId("body").dataset.stale = stale ? "yes" : "no";
  byId("scene-empty").hidden = Boolean(data) || Boolean(flat && app.state?.hull);
  byId("scene-empty").textContent = app.state?.hull?.state === "ready" ? "Set the thickness of your foam, and the body appears here." : "The body appears here as soon as there is a hull and a thickness.";
  set(byId("body-line"), data ? lead(blocks) : null);
  if (flat) showFlat();
  showLegend();
  showStrip(blocks);
}

function lead(blocks) {
  const carved = blocks.filter((block) => block.carved).length;
  const words = plural(blocks.length, "block");
  if (!data.exact) return `${words}. Figures follow when the foam rests.`;
  const totals = app.body.totals;
  return `${words}${carved ? `, ${carved} of them carved` : ""}; at most ${length(totals.most_to_sand)} to sand.`;
}

function showFlat() {
  const picture = app.files?.files.find((file) => file.name === "body.svg")?.url;
  place.hidden = true;
  byId("flat").hidden = !app.state?.hull;
  const shown = JSON.stringify([flat, picture, app.state?.hull?.state]);
  if (byId("flat").dataset.shown === shown) return;
  byId("flat").dataset.shown = shown;
  set(byId("flat"), h("p", { class: "hint" }, flat),
    picture
      ? h("img", { id: "flat-picture", class: "flat", onload: (event) => event.target.setAttribute("data-loaded", "yes"), src: picture, alt: "Side and plan view of the body, each block in the colour of what is to be sanded." })
      : app.state?.hull?.state === "ready" ? h("img", { id: "flat-views", class: "flat", src: app.state.hull.views, alt: "Side, plan and end view of the hull." }) : null);
}

function showLegend() {
  const scale = data?.exact ? (app.body.scale ?? []).filter((step) => step.from !== null) : [];
  const used = new Set((data?.blocks ?? []).map((block) => block.colour));
  if (!scale.length) return set(byId("legend"));
  const missing = scale.filter((step) => step.to <= 0);
  const shown = missing.some((step) => used.has(step.colour)) ? scale : scale.filter((step) => step.to > 0);
  set(byId("legend"), h("div", { class: "scale-bar", role: "img", "aria-label": `Colours, ${shownUnit()}: ${shown.map(legendWords).join("; ")}.` },
    h("div", { class: "cells" }, shown.map((step) => h("span", { style: `background:${step.colour}` }, h("small", {}, bare(step.from < 0 && step.to > 0 && shown === scale ? step.from : Math.max(step.from, shown[0].from < 0 && shown !== scale ? 0 : step.from)))))),
    h("small", { class: "last" }, `${bare(shown.at(-1).to)} ${shownUnit()}`)),
  h("p", { class: "legend" }, h("span", {}, shown === scale ? "Below zero foam is missing, above it is to be sanded off." : "Foam to be sanded off."), data.blocks.some((block) => block.carved) ? h("span", {}, h("span", { class: "swatch carved" }), " carved by hand") : null));
}

function legendWords(step) {
  const low = Math.min(Math.abs(step.from), Math.abs(step.to));
  const high = Math.max(Math.abs(step.from), Math.abs(step.to));
  if (step.from < 0 && step.to > 0) return `under ${bare(high)}`;
  return `${bare(low)} to ${bare(high)} ${step.from < 0 ? "missing" : "to sand"}`;
}

/** One button for each block, as wide as it is thick. */
function showStrip(blocks) {
  const strip = byId("strip");
  const had = strip.contains(document.activeElement) ? document.activeElement.dataset.block : null;
  if (!blocks.length) return set(strip);
  const chosen = blocks.some((block) => block.number === app.chosen) ? app.chosen : blocks[0].number;
  const row = h("div", { class: "strip", role: "group", "aria-label": "Blocks from nose to tail" }, blocks.map((block) => {
    const words = block.carved ? "carved" : block.sanding === undefined || block.sanding === null ? "" : `${length(block.sanding)} to sand`;
    return h("button", { type: "button", "data-block": block.number, "aria-pressed": String(block.number === app.chosen), class: block.carved ? "carved" : "", tabindex: block.number === chosen ? 0 : -1,
      style: `flex-grow:${Math.max(1, Math.round(block.thickness * 10))};${block.carved ? "" : `background:${block.colour ?? "#d9d2c0"};color:${readable(block.colour ?? "#d9d2c0")}`}`,
      "aria-label": `Block ${block.number}${words ? `, ${words}` : ""}`, title: words, onclick: () => choose(app.chosen === block.number ? null : block.number) }, number2(block.number));
  }));
  roving(row);
  set(strip, h("p", { class: "strip-ends", "aria-hidden": "true" }, h("span", {}, "nose"), h("span", {}, "tail")), row);
  if (had) row.querySelector(`[data-block="${had}"]`)?.focus();
}

/** Black or white, whichever reads better on a colour (relative luminance of WCAG 2.2). */
export function readable(background) {
  const [r, g, b] = [1, 3, 5].map((k) => parseInt(background.slice(k, k + 2), 16) / 255).map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b > 0.179 ? "#111" : "#fff";
}
