// Deviation along the hull as a chart, with its figures in words beside it.
import { app } from "/page/app.js";
import { h, set } from "/page/dom.js";
import { colour, loadPlotly } from "/page/scene.js";
import { bare, length, MM_PER_INCH, shownUnit } from "/page/units.js";

/** Draw the chart into an element that is in view. */
export async function drawDeviation(place) {
  const deviation = app.deviation;
  if (!deviation) return set(place);
  const plotly = await loadPlotly().catch(() => null);
  if (!plotly) return set(place, h("p", { class: "hint" }, "The chart could not be drawn; the table of blocks holds its figures."));
  const unit = shownUnit();
  const by = unit === "in" ? 1 / MM_PER_INCH : 1;
  const scaled = (list, sign = 1) => list.map((value) => (value === null ? null : sign * value * by));
  const line = (name, y, tone, fill) => ({ type: "scatter", mode: "lines", name, x: scaled(deviation.x), y, line: { color: tone, width: 2, shape: "linear" }, fill: "tozeroy", fillcolor: fill, connectgaps: false, hovertemplate: `%{y:.3~f} ${unit} at x %{x:.1~f}<extra>${name}</extra>` });
  const soft = colour("--soft");
  const grid = colour("--grid");
  const axis = { color: soft, gridcolor: grid, zerolinecolor: colour("--edge"), linecolor: grid, tickfont: { size: 12 } };
  const lines = deviation.stations.map((x) => ({ type: "line", x0: x * by, x1: x * by, y0: 0, y1: 1, yref: "paper", line: { color: grid, width: 1 }, layer: "below" }));
  await plotly.react(place, [
    line("to sand", scaled(deviation.extra), colour("--template-foam"), alpha(colour("--template-foam"), 0.22)),
    line("missing", scaled(deviation.missing, -1), colour("--missing"), alpha(colour("--missing"), 0.22)),
  ], { margin: { l: 56, r: 12, t: 8, b: 44 }, height: 300, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", shapes: lines, font: { color: soft, family: "system-ui, sans-serif", size: 13 },
    xaxis: { ...axis, title: { text: `x from the nose, ${unit}` } }, yaxis: { ...axis, title: { text: `deviation, ${unit}` } }, hovermode: "x", legend: { orientation: "h", y: 1.12 },
    hoverlabel: { bgcolor: colour("--raised"), font: { color: colour("--text") } }, dragmode: false }, { displayModeBar: false, responsive: true });
  const extra = peak(deviation.extra);
  const missing = peak(deviation.missing);
  place.setAttribute("role", "img");
  place.setAttribute("aria-label", `Deviation along the hull: at most ${length(extra.value)} to sand at x ${length(deviation.x[extra.at])}, at most ${bare(missing.value)} ${unit} missing.`);
  place.dataset.drawn = deviation.wish;
}

function peak(list) {
  let best = { value: 0, at: 0 };
  list.forEach((value, at) => {
    if (value !== null && Math.abs(value) > best.value) best = { value: Math.abs(value), at };
  });
  return best;
}

const alpha = (tone, share) => `rgba(${[1, 3, 5].map((k) => parseInt(tone.slice(k, k + 2), 16)).join(",")},${share})`;
