// One input for one setting, made from its description: label, unit, default, help, and the fault beside it.
import { app, change, faults, field, on, value } from "/page/app.js";
import { freshId, h, set } from "/page/dom.js";
import { choiceWords, labelOf, pageWords } from "/page/labels.js";
import { bare, shownUnit, trim, typed } from "/page/units.js";

const shownFields = new Set();

on("settings units faults", () => {
  for (const shown of shownFields) {
    if (shown.element.isConnected || shown.fresh) shown.renew();
    else shownFields.delete(shown);
    shown.fresh = false;
  }
});

/** The input of a setting, or nothing where the server does not describe it. `compact`: without help, for a line of text. */
export function settingField(part, key, { compact = false, reset = false } = {}) {
  const described = field(part, key);
  if (!described) return null;
  const id = freshId(`${part}-${key}`);
  const helpId = `${id}-help`;
  const faultId = `${id}-fault`;
  const made = [control(described, id, `${helpId} ${faultId}`)].flat();
  const [input] = made;
  const unit = h("span", { class: "unit" });
  const fault = h("p", { class: "fault", id: faultId });
  const back = reset ? h("button", { type: "button", class: "quiet small", onclick: () => change(part, key, undefined) }, "Undo", h("span", { class: "unseen" }, `: ${labelOf(described)}`)) : null;
  const element = h("div", { class: `field ${described.kind} ${compact ? "compact" : ""}`, "data-field": `${part}.${key}` },
    h("label", { for: id }, labelOf(described)),
    h("span", { class: "entry" }, made, unit, back),
    h("p", { class: compact ? "unseen help" : "help", id: helpId }, pageWords(described.help)),
    fault);
  const shown = { element, renew, fresh: true };
  function renew() {
    const message = faults.get(`${part}.${key}`);
    if (document.activeElement !== input && !message) put(input, described, value(part, key));
    unit.textContent = unitWords(described);
    placeholder(input, described);
    set(fault, message ?? "");
    if (message) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    element.classList.toggle("given", value(part, key) !== undefined);
  }
  shownFields.add(shown);
  renew();
  return element;
}

const SUGGESTIONS = {
  "hull.unit": ["mm", "cm", "m", "in", "ft"],
  "paper.size": ["A4", "A3", "A2", "A1", "A0", "Letter", "Legal", "Tabloid", "ANSI-C", "ANSI-D", "ANSI-E", "610x2000"],
};

const LENGTHS = new Set(["length", "lengths", "triple"]);

function unitWords(described) {
  if (described.kind === "yesno" || described.kind === "choice") return "";
  return described.unit === "mm" ? shownUnit() : described.unit === "degC" ? "°C" : described.unit ?? "";
}

function control(described, id, describedBy) {
  const common = { id, "aria-describedby": describedBy, name: `${described.part}.${described.key}` };
  const { part, key } = described;
  if (described.kind === "yesno") {
    if (described.default !== null) return h("input", { ...common, type: "checkbox", onchange: (event) => change(part, key, event.target.checked === described.default ? undefined : event.target.checked) });
    return h("select", { ...common, onchange: (event) => change(part, key, { yes: true, no: false }[event.target.value]) },
      h("option", { value: "" }, "found"), h("option", { value: "yes" }, "yes"), h("option", { value: "no" }, "no"));
  }
  if (described.kind === "choice") {
    const none = described.default === null ? [h("option", { value: "" }, "found")] : [];
    return h("select", { ...common, onchange: (event) => change(part, key, event.target.value === described.default ? undefined : event.target.value || undefined) },
      none, described.choices.map((choice) => h("option", { value: choice }, choiceWords(described, choice))));
  }
  const known = described.words?.length ? described.words : (SUGGESTIONS[`${part}.${key}`] ?? []);
  const suggestions = known.length ? h("datalist", { id: `${id}-list` }, known.map((word) => h("option", { value: word }))) : null;
  const input = h("input", { ...common, type: "text", autocomplete: "off", spellcheck: "false", inputmode: described.kind === "length" || described.kind === "number" ? "decimal" : null,
    list: suggestions ? suggestions.id : null, onchange: (event) => change(part, key, parsed(described, event.target.value)) });
  return suggestions ? [input, suggestions] : input;
}

/** What is typed -> what the job file would hold; undefined where nothing is typed. The server checks it. */
function parsed(described, text) {
  const words = text.trim();
  if (!words) return undefined;
  if (described.kind === "integer") return /^\d+$/.test(words) ? Number(words) : words;
  if (described.kind === "number") return /^-?[\d.]+$/.test(words) ? Number(words) : words;
  if (described.kind === "integers") return words.split(/[\s,;]+/).map((item) => (/^\d+$/.test(item) ? Number(item) : item));
  if (described.kind === "lengths" || described.kind === "triple") return words.split(/[,;]\s*|\s+(?=[-\d])/).map((item) => typed(item)).map((item) => (/^-?[\d.]+$/.test(item) ? Number(item) : item));
  if (described.kind === "length") {
    const wanted = typed(words);
    return /^-?[\d.]+$/.test(wanted) ? Number(wanted) : wanted;
  }
  return words;
}

function put(input, described, wanted) {
  if (input.type === "checkbox") input.checked = wanted ?? described.default ?? false;
  else if (input.tagName === "SELECT") input.value = wanted === true ? "yes" : wanted === false ? "no" : wanted ?? described.default ?? "";
  else input.value = wanted === undefined ? "" : words(described, wanted);
}

function words(described, wanted) {
  if (Array.isArray(wanted)) return wanted.map((item) => words(described, item)).join(", ");
  if (typeof wanted === "number") return LENGTHS.has(described.kind) && described.unit === "mm" ? bare(wanted, shownUnit() === "in" ? 2 : 4) : trim(String(wanted));
  return String(wanted?.name ?? wanted);
}

function placeholder(input, described) {
  if (input.type !== "text") return;
  const standard = described.default;
  const empty = standard === null || standard === undefined || (Array.isArray(standard) && !standard.length);
  input.placeholder = empty ? (described.many ? "none" : "found") : words(described, standard);
}

/** The fields of a part by their keys, each on its own line; those that the server does not know are left out. */
export const fieldGroup = (part, keys) => h("div", { class: "fields" }, keys.map((key) => settingField(part, key)));

/** All keys of a part that the server describes, but these. */
export const keysBut = (part, but = []) => (app.start.parts.find((entry) => entry.part === part)?.fields ?? []).map((entry) => entry.key).filter((key) => !but.includes(key));
