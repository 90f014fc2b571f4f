// Small helpers to make elements. No text is ever read as HTML.

/** An element: h("p", {class: "x", onclick: f, hidden: false}, "text", child, [more children]). */
export function h(tag, properties = {}, ...children) {
  return fill(document.createElement(tag), properties, children);
}

/** The same for SVG. */
export function s(tag, properties = {}, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), properties, children);
}

function fill(element, properties, children) {
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked") element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** Replace all children. */
export function set(element, ...children) {
  element.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
}

export const byId = (id) => document.getElementById(id);

let count = 0;
/** An id that no other element has. */
export const freshId = (stem) => `${stem}-${++count}`;

/** A disclosure that remembers in this tab whether it is open. */
export function disclosure(key, title, ...children) {
  const stored = remembered(`open-${key}`);
  const element = h("details", { class: "more", id: `more-${key}`, open: stored === "yes" }, h("summary", {}, title), h("div", { class: "inside" }, ...children));
  element.addEventListener("toggle", () => remember(`open-${key}`, element.open ? "yes" : "no"));
  return element;
}

/** What this tab remembers; null where the browser keeps nothing. */
export function remembered(key) {
  try {
    return sessionStorage.getItem(`stationer-${key}`);
  } catch {
    return null;
  }
}

export function remember(key, value) {
  try {
    if (value === null) sessionStorage.removeItem(`stationer-${key}`);
    else sessionStorage.setItem(`stationer-${key}`, value);
  } catch {
    // A browser that keeps nothing only forgets.
  }
}

/** A list of tabs by the pattern of the ARIA Authoring Practices: arrows move, one tab stop. `pages`: [{key, title, panel}]. */
export function tabs(label, key, pages, onShow = () => {}) {
  const buttons = pages.map((page) =>
    h("button", { type: "button", role: "tab", id: `tab-${page.key}`, "aria-controls": page.panel.id, onclick: () => show(page.key) }, page.title));
  const list = h("div", { role: "tablist", "aria-label": label, class: "tabs" }, buttons);
  for (const page of pages) {
    page.panel.setAttribute("role", "tabpanel");
    page.panel.setAttribute("aria-labelledby", `tab-${page.key}`);
    page.panel.tabIndex = 0;
  }
  list.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1, Home: -pages.length, End: pages.length }[event.key];
    if (!step) return;
    event.preventDefault();
    const now = pages.findIndex((page) => !page.panel.hidden);
    const next = event.key === "Home" ? 0 : event.key === "End" ? pages.length - 1 : (now + step + pages.length) % pages.length;
    show(pages[next].key);
    buttons[next].focus();
  });
  function show(name) {
    pages.forEach((page, k) => {
      const chosen = page.key === name;
      page.panel.hidden = !chosen;
      buttons[k].setAttribute("aria-selected", String(chosen));
      buttons[k].tabIndex = chosen ? 0 : -1;
    });
    remember(`tab-${key}`, name);
    onShow(name);
  }
  const stored = remembered(`tab-${key}`);
  show(pages.some((page) => page.key === stored) ? stored : pages[0].key);
  return { list, show };
}

/** One tab stop for a row of buttons: arrows, Home and End move between them. */
export function roving(row) {
  row.addEventListener("keydown", (event) => {
    const items = [...row.querySelectorAll("button, [data-item]")];
    const now = items.indexOf(document.activeElement);
    const next = { ArrowRight: now + 1, ArrowDown: now + 1, ArrowLeft: now - 1, ArrowUp: now - 1, Home: 0, End: items.length - 1 }[event.key];
    if (now < 0 || next === undefined) return;
    event.preventDefault();
    items[Math.min(items.length - 1, Math.max(0, next))].focus();
  });
  row.addEventListener("focusin", (event) => {
    for (const item of row.querySelectorAll("button, [data-item]")) item.tabIndex = item === event.target ? 0 : -1;
  });
}
