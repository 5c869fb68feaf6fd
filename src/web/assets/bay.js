// The drawing of the bay at one moment of the drive.

import { number, show, unit } from "./units.js";

let scale = [];

export function setScale(steps) { scale = steps; }

/** Fill and ink of a temperature in °C. */
export function colour(c) {
  let low = 0, high = scale.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (scale[middle][0] <= c) low = middle; else high = middle - 1;
  }
  return scale[low];
}

export function legend(into) {
  const marks = [20, 60, 100, 150, 250, 400, 600, 900];
  into.replaceChildren(...marks.map((c) => {
    const box = document.createElement("span");
    const [, fill, ink] = colour(c);
    box.style.background = fill;
    box.style.color = ink;
    box.textContent = number(c, "degC");
    return box;
  }), Object.assign(document.createElement("span"), { className: "plain", textContent: unit("degC") }));
}

/** Colours the drawing and fills its numbers with row `i` of the series. */
export function paint(drawing, series, i) {
  const value = (column) => {
    const at = series.names.indexOf(column);
    return at < 0 ? null : series.columns[at][i];
  };
  for (const g of drawing.querySelectorAll("[data-column]")) {
    const c = value(g.dataset.column);
    if (c === null) continue;
    const said = g.classList.contains("number") ? g : g.querySelector(".number");
    if (said) said.textContent = show(c, "degC");
    const base = g.dataset.ink ? value(g.dataset.ink) : c;
    const [, fill, ink] = colour(base);
    g.querySelectorAll(".ink").forEach((t) => { t.setAttribute("fill", ink); if (g.classList.contains("field")) t.setAttribute("stroke", fill); });
    if (g.dataset.only !== "text") g.querySelectorAll(".fill").forEach((r) => r.setAttribute("fill", fill));
    if (g.dataset.limit) {
      const room = Number(g.dataset.limit) - c;
      g.classList.toggle("too-hot", room < 0);
      g.querySelector(".room").textContent = room < 0 ? ` over by ${number(-room, "K", 0)}` : ` room ${number(room, "K", 0)}`;
    }
  }
}

const GROUPS = [
  ["air:", "air of the zones"], ["skin:", "exhaust, skin"], ["metal:", "exhaust, metal"], ["gas:", "exhaust gas"],
  ["housing:", "housings"], ["intake:", "intake air"], ["duct:", "intake walls"], ["cooler:", "charge cooler"],
  ["neighbour:", "things nearby"], ["engine:", "engine"], ["panel:", "panels"], ["brick:", "catalyst brick"],
];

export function table(into, series, i) {
  const rows = GROUPS.flatMap(([start, group]) => series.names
    .map((name, at) => [name, at])
    .filter(([name]) => name.startsWith(start) && name.endsWith("_c"))
    .map(([name, at]) => [group, name.slice(start.length, -2), show(series.columns[at][i], "degC")]));
  const body = document.createElement("tbody");
  for (const cells of rows) {
    const tr = body.insertRow();
    cells.forEach((text, n) => { const td = tr.insertCell(); td.textContent = text; if (n === 2) td.className = "n"; });
  }
  const head = document.createElement("thead");
  const tr = head.insertRow();
  for (const text of ["kind", "place", "temperature"]) {
    const th = document.createElement("th");
    th.scope = "col";
    th.textContent = text;
    tr.append(th);
  }
  into.replaceChildren(head, body);
}
