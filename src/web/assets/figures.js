// Figures, limits, phases and words from the findings.

import { number, show, signed, unit, clock } from "./units.js";

export function el(tag, props = {}, ...children) {
  const node = Object.assign(document.createElement(tag), props);
  node.append(...children.filter((c) => c !== null && c !== undefined));
  return node;
}

export function table(into, head, rows, numbers = []) {
  const tr = el("tr", {}, ...head.map((h, i) => el("th", { scope: "col", textContent: h, className: numbers.includes(i) ? "n" : "" })));
  const body = rows.map((cells) => el("tr", { className: cells.mark ?? "" }, ...cells.map((c, i) =>
    el("td", { className: numbers.includes(i) ? "n" : "" }, c))));
  into.replaceChildren(el("thead", {}, tr), el("tbody", {}, ...body));
}

export function list(into, items, none) {
  into.replaceChildren(...(items.length ? items : [none]).map((t) => el("li", { textContent: t })));
}

const figure = (run, id, place) => run.figures.find((f) => f.id === id && f.where === place);

function band(f) {
  if (f.low === null) return "band to come";
  return `${number(f.low, f.unit)} to ${number(f.high, f.unit)} in 8 of 10 draws`;
}

function difference(compare, id, place, known) {
  if (!compare) return null;
  const d = compare.differences.find((x) => x.id === id && x.where === place);
  if (!d) return null;
  const range = d.low === null ? "" : ` (${number(d.low, d.unit)} to ${number(d.high, d.unit)})`;
  const unsure = d.sign_chance_percent !== null && d.sign_chance_percent < known;
  const shown = [d.value, d.low ?? 0, d.high ?? 0].map((v) => Number(number(v, d.unit).replace("−", "-")));
  if (shown.every((v) => v === 0)) return el("p", { className: "difference unsure", textContent: "as much as bare" });
  return el("p", { className: unsure ? "difference unsure" : "difference" },
    `${signed(d.value, d.unit)} ${unit(d.unit)}${range} against bare`, unsure ? ", sign not known" : "");
}

/** The three figures that people come for. */
export function answer(into, run, compare, known) {
  const worst = run.margins.filter((m) => m.what === "nearby part").sort((a, b) => a.margin_k - b.margin_k)[0];
  const peak = figure(run, "intake_rise_peak_k", "sensor");
  const valve = figure(run, "intake_rise_mean_k", "valve");
  const standard = figure(run, "power_loss_percent", "standard");
  const entries = [
    ["Intake air over outside air", "intake_rise_mean_k", "sensor",
      `at the sensor, mean with the engine on; ${show(peak.value, "K")} at worst, ${show(valve.value, "K")} at the valve`],
    ["Power lost to that heat", "power_loss_percent", "density",
      `by charge density; ${show(standard.value, "%")} by test standards`],
    ["Least room nearby", "neighbour_margin_least_k", "all",
      worst ? `${worst.part}: ${show(worst.peak_c, "degC")} where ${show(worst.limit_c, "degC")} is the limit` : ""],
  ];
  into.replaceChildren(...entries.map(([title, id, place, note]) => {
    const f = figure(run, id, place);
    if (!f) return el("div", { className: "figure" }, el("h3", { textContent: title }), el("p", { textContent: "nothing nearby in the sheet" }));
    const bad = id === "neighbour_margin_least_k" && f.value < 0;
    return el("div", { className: bad ? "figure bad" : "figure" },
      el("h3", { textContent: title }),
      el("p", { className: "value" }, number(f.value, f.unit), el("span", { textContent: ` ${unit(f.unit)}` })),
      el("p", { className: "band", textContent: band(f) }),
      difference(compare, id, place, known),
      el("p", { className: "note", textContent: note }));
  }));
}

export function over(into, run) {
  into.replaceChildren(...run.margins.filter((m) => m.margin_k < 0).map((m) => {
    const chance = m.over_chance_percent === null ? "" : `, in ${m.over_chance_percent.toFixed(0)} % of draws`;
    return el("li", { textContent: `${m.part} is over its limit (${m.what}): ${show(m.peak_c, "degC")} where ${show(m.limit_c, "degC")} is the limit, for ${(m.over_s / 60).toFixed(1)} min${chance}` });
  }));
}

export function margins(into, run) {
  const rows = run.margins.map((m) => {
    const cells = [m.part, m.what, show(m.peak_c, "degC"), show(m.limit_c, "degC"),
      `${number(m.margin_k, "K", 0)}${m.low_k === null ? "" : ` (${number(m.low_k, "K", 0)} to ${number(m.high_k, "K", 0)})`}`,
      m.over_s > 0 ? `${(m.over_s / 60).toFixed(1)} min` : "–", m.source];
    if (m.margin_k < 0) cells.mark = "bad";
    return cells;
  });
  table(into, ["part", "what", "peak", "limit", `room, ${unit("K")}`, "over for", "limit from"], rows, [2, 3, 4, 5]);
}

export function phases(into, run) {
  table(into, ["phase", "kind", "from", "to", "sensor rise, mean", "worst", "valve rise, mean", "hottest skin", "hottest bay air"],
    run.phases.map((p) => [p.name, p.kind, clock(p.start_s), clock(p.end_s), show(p.sensor_rise_mean_k, "K"), show(p.sensor_rise_peak_k, "K"),
      p.valve_rise_mean_k === null ? "–" : show(p.valve_rise_mean_k, "K"), show(p.skin_peak_c, "degC"), show(p.bay_air_peak_c, "degC")]),
    [2, 3, 4, 5, 6, 7, 8]);
}

/** What else the choices change: heat to the bay, hottest metal, room, price. */
export function changes(into, compare, known) {
  into.replaceChildren();
  if (!compare) return;
  const own = compare.options[compare.options.length - 1];
  const of = (id, place) => {
    const d = compare.differences.find((x) => x.option === own.name && x.id === id && x.where === place);
    if (!d) return null;
    const unsure = d.sign_chance_percent !== null && d.sign_chance_percent < known;
    const text = `${signed(d.value, d.unit)} ${unit(d.unit)}`;
    const range = d.low === null ? "to come" : `${number(d.low, d.unit)} to ${number(d.high, d.unit)}`;
    return [d.label, place === "all" ? "" : place, text, range, unsure ? "not known" : "known"];
  };
  const metals = compare.differences.filter((d) => d.id === "metal_peak_c").map((d) => ["metal_peak_c", d.where]);
  const skins = compare.differences.filter((d) => d.id === "skin_peak_c").map((d) => ["skin_peak_c", d.where]);
  const rows = [["heat_to_bay_mean_w", "all"], ["bay_air_hottest_c", "all"], ["turbine_inlet_mean_c", "turbine"], ["metal_margin_least_k", "all"],
    ...metals, ...skins].map(([id, place]) => of(id, place)).filter((r) => r);
  const t = el("table");
  table(t, ["what", "where", "change", "8 of 10 draws", "sign"], rows, [2, 3]);
  const price = own.cost.price_high > 0 ? `Price about ${own.cost.price.toFixed(0)} EUR (${own.cost.price_low.toFixed(0)} to ${own.cost.price_high.toFixed(0)}), an example; mass ${own.cost.mass_kg.toFixed(1)} kg.` : "";
  into.append(el("h3", { textContent: "What the choice changes against bare parts" }),
    el("p", { textContent: `${own.done.join(", ")}. ${price}` }),
    ...own.over.filter((o) => o.verdict === "new" || o.verdict === "worse").map((o) =>
      el("p", { className: "alarm", textContent: `${o.verdict === "new" ? "newly over" : "further over"} its limit: ${o.part} (${o.what}), ${show(o.peak_c, "degC")} where ${show(o.limit_c, "degC")} is the limit` })),
    el("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "changes" }, t));
}

export function measured(into, run) {
  table(into, ["figure", "input", "share of its spread", "band now", "band when known"],
    run.measure_first.map((m) => [m.label, m.key, `${m.share_percent.toFixed(0)} %`,
      `${number(m.low, m.unit)} to ${show(m.high, m.unit)}`,
      `${number(m.low_when_measured, m.unit)} to ${show(m.high_when_measured, m.unit)}`]), [2, 3, 4]);
}

export function foot(into, run) {
  const a = run.audit;
  into.textContent = `${run.program.name} ${run.program.version}; sheet ${run.sheet.hash}; energy audit: ${a.residual_percent.toFixed(3)} % (${Math.abs(a.residual_w).toFixed(1)} W) of the heat in unexplained; ${run.work.nodes} nodes, ${run.work.steps} steps`;
}
