// The hot-day form: a grid of air and situations, a clear day, the soak, advice.

import { work } from "./talk.js";
import { el, table } from "./figures.js";
import { Job, save } from "./jobs.js";
import { number, parse, show, signed, unit } from "./units.js";

const $ = (id) => document.getElementById(id);
const MANY = 40;
const MINUTES = [0, 2, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480, 600];
let job, form;

/** A typed list in the unit shown, as the program takes it; what isn't a number goes as it is. */
function typed(text, kind) {
  const one = (t) => {
    const plain = t.trim().replace("−", "-");
    return plain !== "" && Number.isFinite(Number(plain)) ? String(Number(parse(Number(plain), kind).toFixed(4))) : plain;
  };
  return text.split(",").map(one).filter((t) => t !== "").join(",");
}

function asked(car, options) {
  const f = form.elements, kind = f.kind.value;
  const whole = { car, kind };
  if (kind === "grid" || kind === "hours") {
    const ticked = [...f.situation].filter((t) => t.checked).map((t) => (t.value === "restart" ? `restart:${f.restart.value.trim()}` : t.value));
    if (ticked.length === 0) throw new Error("situations: tick one at least");
    whole.situation = ticked.join(",");
    if (f.all_options.checked && options.length) whole.options = ["all"];
    if (f.draws.value) whole.car = { ...car, draws: Number(f.draws.value) };
  }
  if (kind === "grid") Object.assign(whole, { ambient: typed(f.ambient.value, "degC"), humidity: typed(f.humidity.value, "%"), altitude: typed(f.altitude.value, "m") });
  if (kind === "hours") Object.assign(whole, { latitude: typed(f.latitude.value, "°"), date: f.date.value, swing: typed(f.swing.value, "K") });
  if (kind === "soak" || kind === "advice") Object.assign(whole, { parked: typed(f.parked.value, "min"), wind: typed(f.wind.value, "m/s"),
    run_on: typed(f.run_on.value, "s"), bonnet_open: f.bonnet_open.checked, own_drive: f.own_drive.value !== "" });
  return whole;
}

const figure = (cell, id, where) => cell.figures.find((f) => f.id === id && f.where === where);
const banded = (f, digits) => `${number(f.value, f.unit, digits)}${f.low === null ? "" : ` (${number(f.low, f.unit, digits)} to ${number(f.high, f.unit, digits)})`}`;

function situations(found) {
  const several = found.options.length > 1;
  const rows = found.cells.map((c) => {
    const gain = c.differences.find((d) => d.id === "power_percent" && d.where === "density");
    const cells = [...(several ? [c.option] : []), c.situation,
      ...(found.by_hour ? [c.day, show(c.ambient_c, "degC"), number(c.sun_w_m2, "", 0)]
        : [show(c.ambient_c, "degC"), number(c.humidity_percent, "", 0), c.altitude_m === null ? "–" : show(c.altitude_m, "m")]),
      banded(figure(c, "intake_c", "sensor"), 0), banded(figure(c, "intake_c", "valve"), 0),
      `${banded(figure(c, "power_percent", "density"))}${c.compressor_limited ? ", compressor at its end" : ""}`,
      ...(several ? [gain ? `${signed(gain.value, "%")}` : ""] : []),
      c.tightest ? `${c.tightest.part} ${number(c.tightest.margin_k, "K", 0)}` : "–"];
    if (c.tightest && c.tightest.margin_k < 0) cells.mark = "bad";
    return cells;
  });
  const head = [...(several ? ["option"] : []), "situation", ...(found.by_hour ? ["hour", "outside", "sun, W/m²"] : ["outside", "humid, %", "altitude"]),
    `sensor, ${unit("degC")}`, `valve, ${unit("degC")}`, "power, % of the rating, by density", ...(several ? ["points against as it is"] : []), `least room, ${unit("K")}`];
  const t = el("table");
  table(t, head, rows, head.map((_, i) => i).filter((i) => i > (several ? 1 : 0) && i < head.length - 1));
  const region = el("div", { className: "wide tall", tabIndex: 0, role: "region", ariaLabel: "cells" }, t);
  if (rows.length <= MANY) return [region];
  const box = el("details", {}, el("summary", { textContent: `All ${rows.length} cells in numbers` }), region);
  return [box];
}

function after(found) {
  const last = found.minutes.at(-1);
  const columns = MINUTES.map((m) => found.minutes.indexOf(m)).filter((i) => i >= 0);
  const touch = (t) => ({ not_touched: "–", not_yet: `> ${number(last, "", 0)}` }[t.is] ?? number(t.minutes, "", 0));
  const rows = found.items.map((x) => {
    const cells = [x.name, ...columns.map((i) => number(x.temperatures_c[i], "degC", 0)), number(x.peak_c, "degC", 0), number(x.peak_min, "", 0),
      x.limit_c === null ? "–" : number(x.limit_c, "degC", 0), touch(x.touch), touch(x.grip)];
    if (x.over_min > 0) cells.mark = "bad";
    return cells;
  });
  const head = [`${unit("degC")}, minutes after key-off`, ...columns.map((i) => String(found.minutes[i])), "peak", "at", "limit", "touch from", "grip from"];
  const t = el("table");
  table(t, head, rows, head.map((_, i) => i).slice(1));
  return [el("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "after key-off" }, t),
    el("p", { className: "note", textContent: "Touch and grip: minutes after key-off from which a bare hand is not burnt by a second's touch or ten seconds' grip. An estimate is no leave to touch: use gloves." })];
}

function bought(found) {
  const t = el("table");
  const rows = found.measures.map((m) => [m.name, signed(m.change.power_percent, "%"), signed(m.change.sensor_rise_k, "K"),
    m.change.bearing_c === null ? "–" : signed(m.change.bearing_c, "K"), m.change.nearby_k === null ? "–" : signed(m.change.nearby_k, "K"),
    m.cost.price_high > 0 ? number(m.cost.price, "", 0) : "–",
    m.over.filter((o) => o.verdict === "new" || o.verdict === "worse").map((o) => `${o.part} over its limit`).join(", ")]);
  rows.forEach((r) => { if (r[6]) r.mark = "bad"; });
  table(t, ["what", "power at the restart, points", `sensor, ${unit("K")}`, `bearing oil, ${unit("K")}`, `room nearby, ${unit("K")}`, "EUR, an example", "beware"], rows, [1, 2, 3, 4, 5]);
  const cautions = found.measures.filter((m) => m.cautions.length).map((m) => el("li", { textContent: `${m.name}: ${m.cautions.join(" ")}` }));
  return [el("div", { className: "wide tall", tabIndex: 0, role: "region", ariaLabel: "what measures buy" }, t),
    ...(cautions.length ? [el("details", {}, el("summary", { textContent: "Cautions of these measures" }), el("ul", {}, ...cautions))] : [])];
}

function result(kind, data, front, report) {
  const found = JSON.parse(data);
  const paper = el("div", { className: "paper wide front", tabIndex: 0, role: "region", ariaLabel: "hot day" });
  // SVG and words that the program has escaped
  paper.innerHTML = front;
  const tables = { "hot-day": situations, soak: after, advice: bought }[kind](found);
  const button = (text, name, type, content) => {
    const b = el("button", { type: "button", textContent: text });
    b.addEventListener("click", () => save(name, type, content));
    return b;
  };
  job.into.replaceChildren(paper, ...tables, el("div", { className: "row" },
    button("Hot-day report to print", `${kind}.html`, "text/html", report), button("Its figures as JSON", `${kind}.json`, "application/json", data)));
}

/** Starts what the form asks for. */
export function start(car, options) {
  return job.run(async (signal, progress) => {
    const got = {};
    const keep = (name) => (data) => { got[name] = data; };
    const kinds = ["hot-day", "soak", "advice"];
    await work("hot-day", asked(car, options), { progress, front: keep("front"), report: keep("report"),
      ...Object.fromEntries(kinds.map((k) => [k, keep(k)])) }, signal);
    const kind = kinds.find((k) => k in got);
    if (kind) result(kind, got[kind], got.front, got.report);
  });
}

export function changed() { job.changed(); }

/** Shows the fields of what is looked at. */
function fields() {
  const kind = form.elements.kind.value;
  for (const field of form.querySelectorAll("[data-kinds]")) field.hidden = !field.dataset.kinds.split(" ").includes(kind);
  form.elements.parked.placeholder = kind === "soak" ? "60" : "15, then a restart";
}

/** Puts the usual values in the units that are shown. */
export function units(usual) {
  const list = (values, kind) => values.map((v) => number(v, kind, 0).replace("−", "-")).join(", ");
  form.elements.ambient.value = list(usual.ambients_c, "degC");
  form.elements.humidity.value = list(usual.humidities_percent, "%");
  form.elements.altitude.value = list(usual.altitudes_m, "m");
  form.elements.swing.value = number(usual.swing_k, "K", 0);
  for (const said of form.querySelectorAll("[data-unit]")) said.textContent = unit(said.dataset.unit);
}

export function listen() {
  job = new Job("hot");
  form = $("hot-form");
  form.elements.kind.addEventListener("change", fields);
  fields();
}
