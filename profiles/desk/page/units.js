// Lengths as they are shown: mm and inches. Everything inside is mm; what is typed goes to the server as text with its unit.

export const MM_PER_INCH = 25.4;

let shown = "mm";
/** The unit of all lengths on the page: "mm" or "in". */
export const shownUnit = () => shown;
export function showUnit(unit) {
  shown = unit === "in" ? "in" : "mm";
}

/** A length without its unit, in the unit shown: 0.42, 4.2, 42. */
export function bare(mm, decimals = null) {
  if (mm === null || mm === undefined) return "";
  const value = shown === "in" ? mm / MM_PER_INCH : mm;
  const size = Math.abs(value);
  const places = decimals !== null ? decimals + (shown === "in" ? 2 : 0) : shown === "in" ? 3 : size < 1 ? 2 : size < 100 ? 1 : 0;
  return trim(value.toFixed(places));
}

/** A length with its unit. */
export const length = (mm, decimals = null) => (mm === null || mm === undefined ? "" : `${bare(mm, decimals)} ${shown}`);

/** A length in both units, the shown one first: "820 mm (32.28 in)". */
export function both(mm) {
  const metric = `${trim(mm.toFixed(mm < 100 ? 1 : 0))} mm`;
  const inches = `${trim((mm / MM_PER_INCH).toFixed(2))} in`;
  return shown === "in" ? `${inches} (${metric})` : `${metric} (${inches})`;
}

export const litres = (value) => (value === null || value === undefined ? "" : `${value < 0.1 ? trim(value.toFixed(3)) : value < 10 ? value.toFixed(2) : value.toFixed(1)} l`);

export const trim = (text) => (text.includes(".") ? text.replace(/\.?0+$/, "") : text).replace(/^-0$/, "0");

/** What is typed in a length field -> what the server is sent: a bare number gets the unit that is shown beside it. */
export function typed(text) {
  const words = text.trim();
  return shown === "in" && /^[-+]?[\d.,\s/]+$/.test(words) ? `${words} in` : words;
}

export const bytes = (count) =>
  count < 1024 ? `${count} bytes` : count < 2 ** 20 ? `${Math.round(count / 1024)} KiB` : `${trim((count / 2 ** 20).toFixed(1))} MiB`;

export const plural = (count, word) => `${count.toLocaleString("en")} ${word}${count === 1 ? "" : "s"}`;

export const number2 = (value) => String(value).padStart(2, "0");
