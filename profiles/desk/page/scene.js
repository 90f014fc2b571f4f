// The body in 3-D: blocks as one mesh, coloured by what is to be sanded, pulled apart by a slider; the hull as a ghost.
import { decoded, decodedMesh } from "/page/server.js";
import { length, number2 } from "/page/units.js";

let plotly = null;

/** plotly.js, loaded once; rejects where it cannot be. */
export function loadPlotly() {
  plotly ??= new Promise((done, failed) => {
    const script = document.createElement("script");
    script.src = "/page/plotly.min.js";
    script.addEventListener("load", () => (window.Plotly ? done(window.Plotly) : failed(new Error("plotly.js is not there"))));
    script.addEventListener("error", () => failed(new Error("plotly.js could not be loaded")));
    document.head.append(script);
  });
  return plotly;
}

/** Whether this browser can draw in 3-D at all. */
export function hasWebgl() {
  try {
    const canvas = document.createElement("canvas");
    const context = canvas.getContext("webgl2") ?? canvas.getContext("webgl");
    context?.getExtension("WEBGL_lose_context")?.loseContext();
    return Boolean(context);
  } catch {
    return false;
  }
}

/** The colour of a custom property as the browser shows it now, light or dark. */
export function colour(name) {
  const probe = document.createElement("span");
  probe.style.color = `var(${name})`;
  document.body.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return hex(found);
}

/** "rgb(1, 2, 3)" -> "#010203": what plotly reads everywhere. */
function hex(words) {
  const parts = words.match(/[\d.]+/g) ?? ["0", "0", "0"];
  return `#${parts.slice(0, 3).map((part) => Math.round(Number(part)).toString(16).padStart(2, "0")).join("")}`;
}

/** A coarse picture as drawn data: each vertex belongs to one block. */
export function coarseData(coarse) {
  const mesh = decodedMesh(coarse.mesh);
  const ofTriangle = decoded(coarse.triangle_blocks);
  const ofVertex = new Int32Array(mesh.x.length);
  for (let t = 0; t < ofTriangle.length; t++) {
    ofVertex[mesh.i[t]] = ofTriangle[t];
    ofVertex[mesh.j[t]] = ofTriangle[t];
    ofVertex[mesh.k[t]] = ofTriangle[t];
  }
  return { ...mesh, ofTriangle, ofVertex, blocks: coarse.blocks, stations: coarse.stations, exact: false };
}

/** The exact meshes of all blocks in one. */
export function exactData(meshes, body) {
  const parts = meshes.blocks.map((block) => ({ number: block.number, ...decodedMesh(block.mesh) }));
  const vertices = parts.reduce((sum, part) => sum + part.x.length, 0);
  const triangles = parts.reduce((sum, part) => sum + part.i.length, 0);
  const data = { x: new Float32Array(vertices), y: new Float32Array(vertices), z: new Float32Array(vertices), i: new Int32Array(triangles), j: new Int32Array(triangles),
    k: new Int32Array(triangles), ofTriangle: new Int32Array(triangles), ofVertex: new Int32Array(vertices), blocks: body.blocks, stations: body.stations, exact: true };
  let v = 0;
  let t = 0;
  for (const part of parts) {
    for (const axis of ["x", "y", "z"]) data[axis].set(part[axis], v);
    for (const corner of ["i", "j", "k"]) for (let n = 0; n < part[corner].length; n++) data[corner][t + n] = part[corner][n] + v;
    data.ofVertex.fill(part.number, v, v + part.x.length);
    data.ofTriangle.fill(part.number, t, t + part.i.length);
    v += part.x.length;
    t += part.i.length;
  }
  return data;
}

/** How far a block moves aft when the blocks are pulled apart: `apart` from 0 to 1 of the body's length. */
export function shifts(data, apart) {
  const numbers = data.blocks.map((block) => block.number);
  const long = data.stations.at(-1) - data.stations[0];
  const gap = (apart * long) / Math.max(1, numbers.length - 1);
  return new Map(numbers.map((number, k) => [number, (k - (numbers.length - 1) / 2) * gap]));
}

/** What hovering over a block says. */
function hoverWords(block) {
  const lines = [`<b>Block ${number2(block.number)}</b>`, `x ${length(block.x_fore)} to ${length(block.x_aft)}, ${length(block.thickness)} thick`];
  if (block.carved) lines.push("carved to profiles");
  else if (block.sanding !== undefined && block.sanding !== null) lines.push(`at most ${length(block.sanding)} to sand`);
  return lines.join("<br>");
}

/**
 * The traces of the picture. `look`: {apart 0..1, ghost, stations, chosen, wire: {fore, aft: [x, y, z]} | null, ghostMesh};
 * the order of the traces never changes, so that plotly keeps what it has.
 */
export function traces(data, look) {
  const shift = shifts(data, look.apart);
  const x = new Float32Array(data.x.length);
  for (let n = 0; n < x.length; n++) x[n] = data.x[n] + (shift.get(data.ofVertex[n]) ?? 0);
  const tones = new Map(data.blocks.map((block, k) => [block.number, block.carved ? CARVED : block.colour ?? PLAIN[k % 2]]));
  const words = new Map(data.blocks.map((block) => [block.number, hoverWords(block)]));
  const common = { type: "mesh3d", x, y: data.y, z: data.z, text: Array.from(data.ofVertex, (number) => words.get(number)), hovertemplate: "%{text}<extra></extra>", flatshading: true, ...LIGHT };
  const others = corners(data, (number) => number !== look.chosen);
  const body = { ...common, ...others, facecolor: others.numbers.map((number) => tones.get(number)), name: "body" };
  const chosen = { ...common, ...corners(data, (number) => number === look.chosen), color: colour("--ink"), opacity: 0.5, name: "chosen" };
  const ghost = look.ghost && look.ghostMesh
    ? { type: "mesh3d", ...look.ghostMesh, color: colour("--ink"), opacity: 0.16, hoverinfo: "skip", flatshading: false, name: "hull", lighting: { ambient: 0.9, diffuse: 0.2 } }
    : { type: "mesh3d", x: [], y: [], z: [], i: [], j: [], k: [], hoverinfo: "skip", name: "hull" };
  return [body, chosen, ghost, stationLines(data, shift, look), hatching(data, shift), wireLine(shift, look)];
}

const LIGHT = { lighting: { ambient: 0.9, diffuse: 0.35, specular: 0.02, roughness: 0.9, fresnel: 0.01 }, lightposition: { x: -3000, y: -5000, z: 12000 } };

/** The corners of the triangles of some blocks, and the block of each. */
function corners(data, wanted) {
  const all = { i: [], j: [], k: [], numbers: [] };
  for (let t = 0; t < data.ofTriangle.length; t++) {
    if (!wanted(data.ofTriangle[t])) continue;
    all.i.push(data.i[t]);
    all.j.push(data.j[t]);
    all.k.push(data.k[t]);
    all.numbers.push(data.ofTriangle[t]);
  }
  return all;
}

const CARVED = "#c9d0d3";
const PLAIN = ["#d9d2c0", "#cbc3ae"];

const STATION_DEPTH = 0.3; // of the depth of the hull: room below it for the ticks and places of the stations

function stationLines(data, shift, look) {
  const line = { type: "scatter3d", mode: "lines+text", x: [], y: [], z: [], text: [], hoverinfo: "skip", name: "stations", showlegend: false, connectgaps: false,
    line: { color: colour("--soft"), width: 2 }, textfont: { color: colour("--soft"), size: 11 }, textposition: "bottom center" };
  if (!look.stations) return line;
  const low = least(data.z);
  const tall = most(data.z) - low;
  const every = Math.ceil(data.blocks.length / 16);
  data.blocks.forEach((block, k) => {
    const at = block.x_fore + (shift.get(block.number) ?? 0);
    line.x.push(at, at, null);
    line.y.push(0, 0, null);
    line.z.push(low - 0.25 * STATION_DEPTH * tall, low - 0.6 * STATION_DEPTH * tall, null);
    line.text.push("", k % every === 0 ? `${Math.round(block.x_fore)}` : "", "");
  });
  return line;
}

/** Carved blocks are marked by rings of lines, as the printed picture hatches them: colour alone would not tell. */
function hatching(data, shift) {
  const line = { type: "scatter3d", mode: "lines", x: [], y: [], z: [], hoverinfo: "skip", name: "carved", line: { color: "#4c5a61", width: 2 }, connectgaps: false };
  const carved = new Set(data.blocks.filter((block) => block.carved).map((block) => block.number));
  if (!carved.size) return line;
  const pitch = (data.stations.at(-1) - data.stations[0]) / 90;
  for (let t = 0; t < data.ofTriangle.length; t++) {
    if (!carved.has(data.ofTriangle[t])) continue;
    const ring = crossing(data, t, pitch);
    if (!ring) continue;
    const by = shift.get(data.ofTriangle[t]) ?? 0;
    line.x.push(ring[0][0] + by, ring[1][0] + by, null);
    line.y.push(ring[0][1], ring[1][1], null);
    line.z.push(ring[0][2], ring[1][2], null);
  }
  return line;
}

/** Where a triangle crosses the first plane x + z = n * pitch that it reaches: two points, or null. */
function crossing(data, t, pitch) {
  const corners = [data.i[t], data.j[t], data.k[t]];
  const heights = corners.map((v) => (data.x[v] + data.z[v]) / pitch);
  const plane = Math.ceil(Math.min(...heights) + 1e-9);
  if (plane >= Math.max(...heights)) return null;
  const ends = [];
  for (let n = 0; n < 3; n++) {
    const [a, b] = [n, (n + 1) % 3];
    if (heights[a] < plane === heights[b] < plane) continue;
    const share = (plane - heights[a]) / (heights[b] - heights[a]);
    ends.push(["x", "y", "z"].map((axis) => data[axis][corners[a]] + share * (data[axis][corners[b]] - data[axis][corners[a]])));
  }
  return ends.length === 2 ? ends : null;
}

function wireLine(shift, look) {
  const line = { type: "scatter3d", mode: "lines+markers", x: [], y: [], z: [], hoverinfo: "skip", name: "wire", line: { color: colour("--lit"), width: 7 }, marker: { color: colour("--lit"), size: 5 } };
  if (!look.wire) return line;
  const by = shift.get(look.chosen) ?? 0;
  for (const [x, y, z] of [look.wire.fore, look.wire.aft]) {
    line.x.push(x + by);
    line.y.push(y);
    line.z.push(z);
  }
  return line;
}

const least = (array) => array.reduce((low, item) => Math.min(low, item), Infinity);
const most = (array) => array.reduce((high, item) => Math.max(high, item), -Infinity);

export const VIEWS = {
  corner: { eye: { x: -0.75, y: -1.7, z: 0.7 }, up: { x: 0, y: 0, z: 1 } },
  side: { eye: { x: 0, y: -2, z: 0 }, up: { x: 0, y: 0, z: 1 } },
  plan: { eye: { x: 0, y: -0.0001, z: 2 }, up: { x: 0, y: 1, z: 0 } },
  end: { eye: { x: -2, y: 0, z: 0 }, up: { x: 0, y: 0, z: 1 } },
};

/** Angles of the views, degrees about the upright and above the level, and how much of each extent they show across and upright. */
const shares = (eye) => {
  const about = Math.atan2(eye.x, eye.y);
  const above = Math.atan2(eye.z, Math.hypot(eye.x, eye.y));
  const [across, along] = [Math.abs(Math.cos(about)), Math.abs(Math.sin(about))];
  const tilt = Math.sin(above);
  return { across: [across, along, 0], upright: [along * tilt, across * tilt, Math.cos(above)] };
};

const UNITS_HIGH = 2.1; // of plotly's camera: what an orthographic picture shows from top to bottom
const FILLED = 0.86; // of the picture

/** The layout: true proportions, no axes, the camera kept while the foam changes. `room`: width over height of the picture. */
export function sceneLayout(data, look, revision, room) {
  const long = data.stations.at(-1) - data.stations[0];
  const spread = (look.apart * long) / 2;
  const ranges = { x: [data.stations[0] - spread, data.stations.at(-1) + spread], y: [least(data.y), most(data.y)], z: [least(data.z), most(data.z)] };
  const tall = ranges.z[1] - ranges.z[0];
  if (look.stations) ranges.z = [ranges.z[0] - STATION_DEPTH * tall, ranges.z[1]];
  const size = ["x", "y", "z"].map((axis) => ranges[axis][1] - ranges[axis][0]);
  const seen = shares(VIEWS[look.view].eye);
  const extent = (share) => share.reduce((sum, part, n) => sum + part * size[n], 0);
  const scale = FILLED * UNITS_HIGH * Math.min(room / extent(seen.across), 1 / extent(seen.upright));
  const bare = { visible: false, showspikes: false, autorange: false };
  return { uirevision: revision, margin: { l: 0, r: 0, t: 0, b: 0 }, paper_bgcolor: "rgba(0,0,0,0)", showlegend: false, autosize: true,
    hoverlabel: { bgcolor: colour("--raised"), bordercolor: colour("--edge"), font: { color: colour("--text"), size: 13, family: "system-ui, sans-serif" }, align: "left" },
    scene: { uirevision: revision, aspectmode: "manual", aspectratio: { x: scale * size[0], y: scale * size[1], z: scale * size[2] }, dragmode: "turntable", bgcolor: "rgba(0,0,0,0)",
      xaxis: { ...bare, range: ranges.x }, yaxis: { ...bare, range: ranges.y }, zaxis: { ...bare, range: ranges.z },
      camera: { ...VIEWS[look.view], center: { x: 0, y: 0, z: 0 }, projection: { type: "orthographic" } } } };
}
