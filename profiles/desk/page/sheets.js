// All sheets as thumbnails; each opens large in a window of the page.
import { app } from "/page/app.js";
import { byId, h, set } from "/page/dom.js";
import { plural } from "/page/units.js";

let at = 0;

export function showSheets(place) {
  const sheets = app.sheets?.sheets ?? [];
  const had = place.contains(document.activeElement) ? document.activeElement.dataset.sheet : null;
  if (!sheets.length) return set(place, h("p", { class: "hint" }, "The sheets appear here when they are laid out."));
  const paper = app.sheets.paper;
  set(place, h("p", { class: "soft" }, `${plural(sheets.length, "sheet")} of ${paper.name}. Choose one to see it large.`),
    h("ul", { class: "sheets" }, sheets.map((sheet, k) => h("li", {}, h("button", { type: "button", "data-sheet": sheet.number, onclick: () => openSheet(k) },
      h("img", { src: sheet.url, alt: "", loading: "lazy", width: 150, height: Math.round((150 * paper.height) / paper.width) }),
      h("span", {}, h("strong", {}, `Sheet ${sheet.number}`), h("small", {}, shortList(sheet)))))))
  );
  if (had) place.querySelector(`[data-sheet="${had}"]`)?.focus();
}

const shortList = (sheet) => (sheet.templates.length ? sheet.templates.slice(0, 3).join(", ") + (sheet.templates.length > 3 ? ` and ${sheet.templates.length - 3} more` : "") : sheet.title);

function openSheet(k) {
  at = k;
  const viewer = byId("viewer");
  if (!viewer.dataset.ready) {
    viewer.dataset.ready = "yes";
    viewer.addEventListener("keydown", (event) => {
      if (event.key === "ArrowRight") turn(1);
      if (event.key === "ArrowLeft") turn(-1);
    });
    viewer.addEventListener("click", (event) => event.target === viewer && viewer.close());
  }
  showLarge();
  viewer.showModal();
}

function turn(by) {
  at = Math.min(app.sheets.sheets.length - 1, Math.max(0, at + by));
  showLarge();
}

function showLarge() {
  const viewer = byId("viewer");
  const sheets = app.sheets.sheets;
  const sheet = sheets[at];
  const had = viewer.contains(document.activeElement) ? document.activeElement.dataset.turn : null;
  const move = (by, words, sign) => h("button", { type: "button", class: "small", "data-turn": by, "aria-label": words, disabled: !sheets[at + by], onclick: () => turn(by) }, sign);
  set(viewer, h("div", { class: "viewer-head" },
    h("h2", { id: "viewer-title" }, `Sheet ${sheet.number} of ${sheets.length}`), move(-1, "Previous sheet", "‹"), move(1, "Next sheet", "›"),
    h("button", { type: "button", "data-turn": 0, class: "small", onclick: () => viewer.close() }, "Close")),
  h("p", { class: "soft" }, sheet.templates.length ? `Templates ${sheet.templates.join(", ")}. Reduced here: print it from templates.pdf at 100 %.` : sheet.title),
  h("div", { class: "large", tabindex: "0", role: "region", "aria-label": "The sheet" }, h("img", { onload: (event) => event.target.setAttribute("data-loaded", "yes"), src: sheet.url, alt: `Sheet ${sheet.number}: ${sheet.templates.join(", ") || sheet.title}` })));
  if (had) (viewer.querySelector(`[data-turn="${had}"]:not([disabled])`) ?? viewer.querySelector('[data-turn="0"]')).focus();
}
