// What the page knows, and who wants to hear of it. The parts of the page read `app` and listen; they do not know each other.
import { deskCalls, Gone, openDesk, Refusal, start } from "/page/server.js";

const listeners = new Map();

export const app = {
  /** What /api/start says: fields, demos, cautions, limits. */
  start: null,
  calls: null,
  /** The state of the desk as the server told it last. */
  state: null,
  /** What differs from the defaults, as in a job file: {part: {key: value}} or {part: [row]}. */
  settings: {},
  coarse: null,
  body: null,
  meshes: null,
  ghost: null,
  deviation: null,
  sheets: null,
  files: null,
  /** Number of the block that is looked at, and of the mark on it that is pointed at; null for none. */
  chosen: null,
  mark: null,
  /** The block whose templates are to have the focus as soon as they are there. */
  wanted: null,
  gone: false,
};

/** Call `act` whenever one of these things changes: "state hull settings faults coarse body sheets files chosen mark units gone". */
export function on(names, act) {
  for (const name of names.split(" ")) listeners.set(name, [...(listeners.get(name) ?? []), act]);
}

export function emit(name) {
  for (const act of listeners.get(name) ?? []) act();
}

/** Run a call to the server; show that it has gone where it has. Returns null then. */
export async function reach(call, refused = null) {
  try {
    const answer = await call();
    setGone(false);
    return answer;
  } catch (fault) {
    if (fault instanceof Gone) setGone(true);
    else if (fault instanceof Refusal && refused) refused(fault);
    else if (fault instanceof Refusal) say(fault.message);
    else throw fault;
    return null;
  }
}

export function setGone(gone) {
  if (app.gone === gone) return;
  app.gone = gone;
  emit("gone");
}

/** A sentence in the line of state that is read out. */
export function say(words) {
  app.said = words;
  emit("said");
}

export async function open() {
  app.start = await start();
  const state = await openDesk();
  app.calls = deskCalls(state.desk);
  app.settings = structuredClone(state.settings ?? {});
  return state;
}

export const value = (part, key) => app.settings[part]?.[key];

/** Ask for the coarse picture of the settings as they are: of a hull that has just been read. */
export const wishAgain = () => wish(structuredClone(app.settings), null);

let sending = false;
let waiting = null;

/** Whether settings are on their way to the server, which does not know the newest ones yet. */
export const isAsking = () => sending;

/** Faults of settings by "part.key": what the server said, beside the field until it is changed. */
export const faults = new Map();

/** Set one value (undefined: back to the default) and ask for a new picture. `since`: when the hand moved, for the measure. */
export function change(part, key, wanted, since = performance.now()) {
  const before = structuredClone(app.settings);
  const group = { ...(app.settings[part] ?? {}) };
  if (wanted === undefined || wanted === "") delete group[key];
  else group[key] = wanted;
  app.settings = { ...app.settings, [part]: group };
  if (!Object.keys(group).length) delete app.settings[part];
  faults.delete(`${part}.${key}`);
  return wish(before, since, `${part}.${key}`);
}

/** Several values of one part at once. */
export function changeMany(part, values) {
  const before = structuredClone(app.settings);
  const group = { ...(app.settings[part] ?? {}), ...values };
  for (const [key, wanted] of Object.entries(values)) {
    if (wanted === undefined || wanted === "") delete group[key];
    faults.delete(`${part}.${key}`);
  }
  app.settings = { ...app.settings, [part]: group };
  return wish(before, performance.now(), `${part}.${Object.keys(values)[0]}`);
}

/** Set all rows of a table, such as boards. */
export function changeRows(part, rows) {
  const before = structuredClone(app.settings);
  app.settings = { ...app.settings, [part]: rows };
  if (!rows.length) delete app.settings[part];
  faults.delete(part);
  return wish(before, performance.now(), part);
}

/** Send the newest settings. One request is on its way at a time, so that each brings a picture; what comes meanwhile follows it. */
async function wish(before, since, place = "") {
  emit("settings");
  waiting = { before: waiting?.before ?? before, since: waiting?.since ?? since, place };
  if (sending) return;
  sending = true;
  while (waiting) {
    const { before: former, since: begun, place: changed } = waiting;
    waiting = null;
    const answer = await reach(() => app.calls.settings(app.settings), (refusal) => refuse(refusal, former, changed));
    if (answer && !answer.superseded) {
      app.wish = answer.wish;
      if (answer.coarse) {
        app.coarse = { ...answer.coarse, since: begun };
        emit("coarse");
      }
    }
  }
  sending = false;
}

/** What was refused stands beside its field, or beside the one that was changed where the fault is between two; the settings are as before. */
function refuse(refusal, former, changed) {
  const list = refusal.faults.length ? refusal.faults : [{ part: "", key: "", message: refusal.message }];
  for (const fault of list) {
    faults.set(fault.key ? `${fault.part}.${fault.key}` : changed.startsWith(fault.part) ? changed : fault.part, fault.message);
    const old = former[fault.part]?.[fault.key];
    const group = app.settings[fault.part];
    if (!group || Array.isArray(group)) app.settings = { ...app.settings, [fault.part]: former[fault.part] };
    else if (fault.key && old === undefined) delete group[fault.key];
    else if (fault.key) group[fault.key] = old;
  }
  if (list.some((fault) => !fault.key)) app.settings = former;
  for (const part of Object.keys(app.settings)) if (app.settings[part] === undefined) delete app.settings[part];
  say(refusal.message);
  emit("faults");
}

/** The field of a part by its key, as the server describes it. */
export const field = (part, key) => app.start.parts.find((entry) => entry.part === part)?.fields.find((entry) => entry.key === key);

export function choose(block) {
  app.chosen = block;
  app.mark = null;
  emit("chosen");
}

export function point(mark) {
  if (app.mark === mark) return;
  app.mark = mark;
  emit("mark");
}
