// The page begins here: it opens the desk of this tab, listens to the server and loads results as they come.
import { app, emit, isAsking, on, open, reach, say, setGone, wishAgain } from "/page/app.js";
import { mountBody } from "/page/body.js";
import { byId, remember, remembered } from "/page/dom.js";
import { mountFoam } from "/page/foam.js";
import { mountHull } from "/page/hull.js";
import { mountResult } from "/page/result.js";
import { alive } from "/page/server.js";
import { mountTake } from "/page/take.js";
import { showUnit } from "/page/units.js";

const ALIVE_EVERY = 4000; // ms between two questions whether the server is there, while it does not answer
let events = null;
let loaded = {};

async function begin() {
  frameControls();
  let state = null;
  try {
    state = await open();
  } catch (fault) {
    byId("gone-words").textContent = fault.message;
    byId("gone").hidden = false;
    return;
  }
  for (const mount of [mountHull, mountFoam, mountBody, mountResult, mountTake]) mount();
  emit("units");
  take(state);
  listen();
  document.documentElement.dataset.ready = "yes";
}

function listen() {
  events?.close();
  events = app.calls.events();
  events.addEventListener("state", (event) => {
    setGone(false);
    take(JSON.parse(event.data));
  });
  events.addEventListener("bye", () => {
    events.close();
    setGone(true);
  });
  events.addEventListener("error", () => {
    // The browser tries again by itself; whether the server is there is asked apart.
    alive().then(() => events.readyState === EventSource.CLOSED && lost(), () => setGone(true));
  });
}

async function lost() {
  const state = await reach(() => app.calls.state(), () => location.reload());
  if (state) {
    take(state);
    listen();
  }
}

/** A state of the desk: show it, and load what is new in it. */
function take(state) {
  const before = app.state;
  app.state = state;
  app.said = null;
  if (before?.settings && JSON.stringify(before.settings) !== JSON.stringify(state.settings) && state.wish >= (app.wish ?? 0) && !isAsking()) {
    app.settings = structuredClone(state.settings);
    emit("settings");
  } else if (!before) {
    emit("settings");
  }
  const hullChanged = JSON.stringify(before?.hull ?? null) !== JSON.stringify(state.hull);
  if (hullChanged) renewHull(before, state);
  emit("state");
  load("body", state.have?.body, async () => {
    const [body, meshes, deviation] = await Promise.all(["body", "meshes", "deviation"].map((name) => app.calls.result(name)));
    Object.assign(app, { body, meshes, deviation });
    emit("body");
  });
  load("sheets", state.have?.sheets, async () => {
    app.sheets = await app.calls.result("sheets");
    emit("sheets");
  });
  load("files", state.have?.files, async () => {
    app.files = await app.calls.result("files");
    emit("files");
  });
}

function renewHull(before, state) {
  const other = before?.hull?.file !== state.hull?.file || before?.hull?.bytes !== state.hull?.bytes;
  if (other || state.hull?.state !== "ready") {
    Object.assign(app, { coarse: null, ghost: null });
    if (other) {
      Object.assign(app, { body: null, meshes: null, deviation: null, sheets: null, files: null, chosen: null });
      loaded = {};
      for (const name of ["body", "sheets", "files", "chosen"]) emit(name);
    }
  }
  if (state.hull?.state === "ready") {
    const fresh = before?.hull?.state === "reading";
    if (fresh && app.settings.foam?.thickness) wishAgain();
    reach(() => app.calls.result("ghost"), () => {}).then((ghost) => {
      app.ghost = ghost?.mesh ?? null;
      emit("ghost");
    });
  }
  emit("hull");
}

/** Load a result once for each wish; a result that is gone again meanwhile comes with the next state. */
async function load(name, wish, fetchResult) {
  if (wish === null || wish === undefined || loaded[name] === wish) return;
  loaded[name] = wish;
  await reach(fetchResult, () => {
    if (loaded[name] === wish) loaded[name] = undefined;
  });
}

function frameControls() {
  const top = document.querySelector(".top");
  new ResizeObserver(() => document.documentElement.style.setProperty("--top-height", `${top.offsetHeight}px`)).observe(top);
  const unit = remembered("units") ?? (navigator.language === "en-US" ? "in" : "mm");
  showUnit(unit);
  for (const input of byId("units").querySelectorAll("input")) {
    input.checked = input.value === unit;
    input.addEventListener("change", () => {
      showUnit(input.value);
      remember("units", input.value);
      emit("units");
    });
  }
  const theme = byId("theme");
  theme.value = document.documentElement.dataset.theme ?? "auto";
  theme.addEventListener("change", () => {
    if (theme.value === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme.value;
    try {
      localStorage.setItem("stationer-theme", theme.value);
    } catch {
      // Only forgotten at the next visit.
    }
    emit("theme");
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => emit("theme"));
  byId("stop").addEventListener("click", () => {
    say("Stopping ...");
    reach(() => app.calls.stop());
  });
  byId("retry").addEventListener("click", () => lost().then(() => !app.gone && say("The desk is back.")));
  on("state said", showState);
  on("gone", showGone);
}

function showState() {
  const { hull, work, wanted } = app.state ?? {};
  const reading = hull?.state === "reading";
  const working = reading || work?.state === "working";
  const kind = !hull ? "empty" : reading ? "working" : hull.state === "failed" ? "failed" : work?.state ?? "idle";
  const words = wanted
    ? `The job needs its hull: drop ${wanted} too.`
    : !hull ? "Choose a hull to begin."
    : reading ? `Reading ${hull.file} ...`
    : hull.state === "failed" ? `${hull.file} could not be used.`
    : work?.state === "working" ? capital(work.stage || "working") + (work.of ? `, ${work.done} of ${work.of}` : "") + " ..."
    : work?.state === "failed" ? work.fault?.message ?? "It did not work."
    : work?.state === "stopped" ? "Stopped. What is shown may be out of date."
    : work?.state === "done" ? "Up to date."
    : app.settings.foam?.thickness ? "Ready." : "Set the thickness of your foam.";
  byId("state").dataset.state = kind;
  const text = app.said ?? words;
  if (byId("state-words").textContent !== text) byId("state-words").textContent = text;
  const progress = byId("state-progress");
  progress.hidden = !working;
  if (working && work?.of) Object.assign(progress, { max: work.of, value: work.done });
  else progress.removeAttribute("value");
  byId("stop").hidden = !working;
  document.documentElement.dataset.work = kind;
}

const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

let asking = null;
function showGone() {
  byId("gone").hidden = !app.gone;
  byId("gone-words").textContent = app.gone
    ? "The desk has stopped answering. Start “stationer desk” again in the terminal; what is on this page stays until you close it."
    : "";
  document.documentElement.dataset.gone = app.gone ? "yes" : "no";
  clearInterval(asking);
  if (app.gone) asking = setInterval(() => alive().then(lost, () => {}), ALIVE_EVERY);
}

begin();
