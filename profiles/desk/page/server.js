// Everything that is asked of the server. An answer that fails becomes a Refusal whose message can be shown as it is.
import { remember, remembered } from "/page/dom.js";

export class Refusal extends Error {
  constructor(message, faults = [], status = 0) {
    super(message);
    this.faults = faults;
    this.status = status;
  }
}

/** The server does not answer at all. */
export class Gone extends Error {}

async function ask(method, url, body, type) {
  let answer;
  try {
    answer = await fetch(url, { method, body, headers: type ? { "Content-Type": type } : {}, cache: "no-store" });
  } catch {
    throw new Gone("The desk does not answer.");
  }
  if (answer.status === 204) return null;
  const said = await answer.json().catch(() => null);
  if (!answer.ok) throw new Refusal(said?.message ?? `The desk answered with status ${answer.status}.`, said?.faults ?? [], answer.status);
  return said;
}

const get = (url) => ask("GET", url);
const send = (method, url, value) => ask(method, url, JSON.stringify(value ?? {}), "application/json");

export const start = () => get("/api/start");
export const alive = () => get("/api/alive");

/** The desk of this tab: the one it had before a reload, or a new one. Returns its state. */
export async function openDesk() {
  const kept = remembered("desk");
  if (kept) {
    try {
      return await get(`/api/desks/${encodeURIComponent(kept)}`);
    } catch (fault) {
      if (!(fault instanceof Refusal)) throw fault;
    }
  }
  const made = await send("POST", "/api/desks");
  remember("desk", made.desk);
  return get(`/api/desks/${encodeURIComponent(made.desk)}`);
}

/** The calls of one desk. */
export function deskCalls(id) {
  const home = `/api/desks/${encodeURIComponent(id)}`;
  return {
    home,
    state: () => get(home),
    hull: (file) => ask("PUT", `${home}/hull?name=${encodeURIComponent(file.name)}`, file, "application/octet-stream"),
    demo: (name) => send("PUT", `${home}/demo`, { name }),
    settings: (settings, rest) => send("PUT", `${home}/settings${rest === 0 ? "?rest=0" : ""}`, { settings }),
    stop: () => send("POST", `${home}/stop`),
    work: () => send("POST", `${home}/work`),
    result: (name) => get(`${home}/${name}`),
    block: (number) => get(`${home}/blocks/${number}`),
    compare: (wanted) => send("POST", `${home}/compare`, wanted),
    events: () => new EventSource(`${home}/events`),
  };
}

/** A typed array as plotly.js takes it -> Float32Array or Int32Array (little endian, as on every machine with a browser). */
export function decoded(array) {
  const text = atob(array.bdata);
  const octets = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k++) octets[k] = text.charCodeAt(k);
  const kinds = { f4: Float32Array, f8: Float64Array, i4: Int32Array, i2: Int16Array, u4: Uint32Array, u2: Uint16Array, u1: Uint8Array, i1: Int8Array };
  return new kinds[array.dtype](octets.buffer);
}

export function decodedMesh(mesh) {
  return Object.fromEntries(["x", "y", "z", "i", "j", "k"].map((axis) => [axis, decoded(mesh[axis])]));
}
