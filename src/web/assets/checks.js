// Forms that judge: a supplier's numbers, and logs of a test.

import { work } from "./talk.js";
import { el, measured, table } from "./figures.js";
import { Job } from "./jobs.js";
import { number, show } from "./units.js";

const $ = (id) => document.getElementById(id);
const texts = (files) => Promise.all(Array.from(files, async (f) => ({ name: f.name, text: await f.text() })));

/** A typed number; what isn't one stays text, so that the program can say what is wrong with it. */
function typed(text) {
  const plain = text.trim().replace("−", "-").replace(",", ".");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : text.trim();
}

let jobs;

/** The forms' works. */
export function listen() {
  jobs = Object.fromEntries(["claim", "judge", "fit", "measure"].map((name) => [name, new Job(name)]));
}

/** The car has changed; the sheet itself, or only what is done to it and how it is driven. */
export function changed(sheetToo) {
  jobs.measure.changed();
  if ($("judge-form").elements.model.checked) jobs.judge.changed();
  if (sheetToo) for (const name of ["claim", "fit"]) jobs[name].changed();
}

/** Which inputs make the bands as wide as they are. */
export function measure(asked) {
  return jobs.measure.run((signal, progress) => work("measure", asked, {
    progress, measure: (d) => {
      const t = el("table");
      measured(t, JSON.parse(d));
      jobs.measure.into.replaceChildren(el("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "what to measure" }, t));
    },
  }, signal));
}

export function claim(sheet) {
  const form = $("claim-form"), { into } = jobs.claim;
  const keys = {};
  for (const field of form.elements) {
    if (!field.name || (field.type === "checkbox" ? !field.checked : field.value === "")) continue;
    if (field.type === "checkbox") keys[field.name] = true;
    else keys[field.name] = field.tagName === "INPUT" ? typed(field.value) : field.value;
  }
  const kind = $("claim-kind").value;
  if (kind.startsWith("change:")) keys.change = kind.slice("change:".length);
  else keys[kind] = typed($("claim-number").value);
  return jobs.claim.run((signal, progress) => work("claim", { sheet, claim: keys },
    { progress, claim: (d) => showClaim(into, JSON.parse(d)) }, signal));
}

function showClaim(into, report) {
  const t = el("table");
  const word = (r) => r.verdict.replaceAll("-", " ");
  table(t, ["when", "reading", "counted in", "claimed", "this car, 8 of 10 draws", "holds in", "verdict"],
    report.readings.map((r) => [r.at, r.direct ? r.reading : `${r.reading}*`, r.counted, number(r.claimed, "", 0),
      `${number(r.low, "", 0)} to ${number(r.high, "", 0)} ${r.unit}`, `${(100 * r.chance).toFixed(0)} %`, word(r)]), [3, 4, 5]);
  const parts = (title, items) => (items.length ? [el("h4", { textContent: title }), el("ul", {}, ...items.map((x) => el("li", { textContent: x })))] : []);
  into.replaceChildren(
    el("p", { className: report.can_hold ? "" : "alarm", textContent: report.can_hold
      ? "A reading of the thing itself holds in at least a tenth of the draws."
      : "No reading of the thing itself holds in even a tenth of the draws." }),
    el("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "readings" }, t),
    el("p", { className: "note", textContent: `* what an instrument shows, or a place beside it. ${report.draws[0]} draws, ${report.draws[1]} failed.` }),
    ...parts("Where the energy goes", report.argument), ...parts("What comes with it", report.side_effects),
    ...parts("Taken, since not stated", report.taken));
}

export function judge(car) {
  const form = $("judge-form"), { into } = jobs.judge;
  return jobs.judge.run(async (signal, progress) => {
    const asked = {
      car: form.elements.model.checked ? car : null,
      before: await texts(form.elements.before.files),
      after: await texts(form.elements.after.files),
      channel: form.elements.channel.value,
    };
    const claimed = form.elements.claim_k.value.trim();
    if (claimed !== "") {
      const value = typed(claimed);
      if (typeof value !== "number") throw new Error(`claimed change, "${claimed}": not a number`);
      asked.claim_k = value;
    }
    await work("judge", asked, { progress, judge: (d) => showJudge(into, JSON.parse(d)) }, signal);
  });
}

function showJudge(into, j) {
  const span = (i) => `${show(i.value, "K")} (${number(i.low, "K")} to ${number(i.high, "K")})`;
  const row = (name, value) => [el("dt", { textContent: name }), el("dd", { textContent: value })];
  const rows = [
    ["column", `${j.channel}; ${j.logs[0]} before, ${j.logs[1]} after; ${j.minutes[0].toFixed(0)} and ${j.minutes[1].toFixed(0)} min`],
    ["as read", show(j.raw_k, "K")],
    ...(j.over_ambient_k === null ? [] : [["over outside air", show(j.over_ambient_k, "K")]]),
    ["at equal driving", span(j.effect)],
    ...(j.with_days ? [["with the scatter of days", span(j.with_days)]] : []),
    ["shown", j.shown ? "a change is shown" : "no change is shown: the interval holds nothing"],
    ...(j.claim ? [["claimed", `${show(j.claim[0], "K")}: ${j.claim[1] ? "inside the interval" : "outside the interval"}`]] : []),
    ...(j.prediction ? [["predicted by the model", `${show(j.prediction[0], "K")}: ${j.prediction[1] ? "inside the interval" : "outside the interval"}`]] : []),
    ...j.by_state.map(([state, i]) => [state, span(i)]),
    ["how", j.method],
  ];
  into.replaceChildren(el("dl", { className: "findings" }, ...rows.flatMap(([a, b]) => row(a, b))),
    ...(j.else_explains.length ? [el("h4", { textContent: "What else could explain it" }), el("ul", {}, ...j.else_explains.map((t) => el("li", { textContent: t })))] : []));
}

/** Fits the sheet to logs; `use(text)` takes the narrowed sheet over. */
export function fit(sheet, use) {
  const form = $("fit-form"), { into } = jobs.fit;
  return jobs.fit.run(async (signal, progress) => {
    const asked = { sheet, logs: await texts(form.elements.logs.files), hold_out: await texts(form.elements.hold_out.files) };
    const ambient = form.elements.ambient_c.value.trim();
    if (ambient !== "") {
      const value = typed(ambient);
      if (typeof value !== "number") throw new Error(`outside air, "${ambient}": not a number`);
      asked.ambient_c = value;
    }
    await work("fit", asked, {
      progress,
      fit: (d) => showFit(into, JSON.parse(d)),
      sheet: (d) => {
        const { text, left_out } = JSON.parse(d);
        const button = el("button", { type: "button", textContent: "Go on with the narrowed sheet" });
        button.addEventListener("click", () => use(text));
        into.append(button, ...left_out.map((key) => el("p", { className: "note", textContent: `${key}: no place in the sheet; write its entry out first` })));
      },
    }, signal);
  });
}

function showFit(into, found) {
  const short = (v) => String(Number(v.toPrecision(3)));
  const t = el("table");
  table(t, ["input", "was", "fitted", "range now", "told by the logs"], found.inputs.map((i) => [i.key,
    `${short(i.likely)} (${short(i.low)} to ${short(i.high)})`, short(i.value), `${short(i.new_low)} to ${short(i.new_high)}`, i.told ? "yes" : "hardly"]), [1, 2, 3]);
  const total = (name, x) => (x ? [el("p", {}, el("b", { textContent: `${name}: ` }),
    `intake sensor within ${show(x.rmse_k, "K")} root mean square, ${show(x.before_rmse_k, "K")} with the sheet as it was, ${show(x.constant_rmse_k, "K")} for the mean rise as a guess`)] : []);
  into.replaceChildren(...total("drives that were fitted", found.fitted), ...total("drives kept apart", found.held_out),
    el("div", { className: "wide", tabIndex: 0, role: "region", ariaLabel: "fitted inputs" }, t));
}

/** Fills the choices of the claim form from what the sheet holds. */
export function fill(about, lists) {
  const option = (value, text) => el("option", { value, textContent: text });
  const set = (name, first, items) => {
    const field = $("claim-form").elements[name];
    const had = field.value;
    field.replaceChildren(option("", first), ...items.map(([v, t]) => option(v, t)));
    field.value = items.some(([v]) => v === had) ? had : "";
  };
  const same = (names) => names.map((n) => [n, n]);
  set("part", "all in the bay", same(about.parts.map((p) => p.name)));
  set("zone", "as suits it", same(about.zones));
  set("neighbour", "as suits it", same(about.neighbours));
  set("treatment.catalogue", "as stated beside", lists.treatments.map((t) => [t.id, t.name]));
}
