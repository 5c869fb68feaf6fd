// The page: choices in, figures and pictures out.

import * as talk from "./talk.js";
import * as bay from "./bay.js";
import * as charts from "./charts.js";
import * as figures from "./figures.js";
import * as checks from "./checks.js";
import * as hot from "./hot.js";
import { save } from "./jobs.js";
import { el } from "./figures.js";
import { clock, number, parse, setImperial, isImperial, show, unit } from "./units.js";

const $ = (id) => document.getElementById(id);
const OWN = "", LOG = "log", WEATHER = "own";
const BEFORE = "the figures are those of before.";
const KEYS = { ambient_c: ["Outside air", "degC"], humidity_percent: ["Humidity", "%"], pressure_kpa: ["Pressure", "kPa"],
  sun_w_m2: ["Sun", "W/m²"], wind_m_s: ["Wind", "m/s"], road_over_ambient_k: ["Road over air", "K"] };

let lists, about, run, compare, series;
let running = null;
let playing = null;
let last = { run: "", compare: "" };
const state = { sheet: null, cycle: "queue", log: null, day: OWN, weather: {}, option: "", treat: {}, age: "", measures: null };

// ---- what is asked for

function car() {
  const asked = { sheet: state.sheet, treat: state.treat, imperial: isImperial() };
  if (state.option) asked.option = state.option;
  if (state.measures) asked.measures = [...state.measures];
  if (state.age) asked.treatment_age = state.age;
  if (state.cycle === LOG) { if (state.log) asked.log = state.log; } else if (state.cycle !== OWN) asked.cycle = state.cycle;
  if (state.day === WEATHER) asked.weather = state.weather; else if (state.day !== OWN) asked.day = state.day;
  return asked;
}

function fromAddress() {
  const query = new URLSearchParams(location.search);
  for (const pair of query.getAll("treat")) {
    const at = pair.lastIndexOf(":");
    if (at > 0) state.treat[pair.slice(0, at)] = pair.slice(at + 1);
  }
  state.option = query.get("option") ?? "";
  if (query.has("measure")) state.measures = new Set(query.getAll("measure").filter((m) => m !== ""));
  const known = (name, values, first) => { const v = query.get(name); return v !== null && values.includes(v) ? v : first; };
  state.day = known("day", lists.days.map((d) => d.name), OWN);
  state.cycle = known("cycle", lists.cycles.map((c) => c.name), "queue");
  state.age = known("age", ["new", "season"], "");
  $("units").value = known("units", ["metric", "imperial"], "metric");
  setImperial($("units").value === "imperial");
  const build = lists.builds.find((b) => b.name === query.get("build"));
  state.sheet = build ? { name: `${build.name}.toml`, text: build.text } : { ...lists.opened };
}

function toAddress() {
  const query = new URLSearchParams();
  for (const [part, what] of Object.entries(state.treat)) query.append("treat", `${part}:${what}`);
  if (state.option) query.set("option", state.option);
  // an empty one says that the option's own are off
  if (state.measures) [...(state.measures.size || !state.option ? state.measures : [""])].forEach((m) => query.append("measure", m));
  if (state.day !== OWN && state.day !== WEATHER) query.set("day", state.day);
  if (state.cycle !== "queue" && state.cycle !== LOG) query.set("cycle", state.cycle);
  if (state.age) query.set("age", state.age);
  if (isImperial()) query.set("units", "imperial");
  const build = new URLSearchParams(location.search).get("build");
  if (build) query.set("build", build);
  const text = query.toString();
  history.replaceState(null, "", text ? `?${text}` : location.pathname);
}

// ---- work

/** Something changed: what is under way is stopped, and new figures are asked for. */
async function refresh({ sheetToo = false } = {}) {
  running?.abort();
  const own = running = new AbortController();
  document.body.classList.add("working");
  hot.changed();
  checks.changed(sheetToo);
  toAddress();
  try {
    if (sheetToo || !about) {
      about = await talk.check({ ...car(), option: undefined, treat: {}, measures: undefined }, own.signal);
      fillSheet();
    }
    trouble(null);
    let draws = lists.full_draws;
    await talk.work("study", { ...car(), draws }, {
      progress: (d) => {
        const p = JSON.parse(d);
        $("progress").hidden = false;
        $("progress").value = p.share ?? 0;
        $("stage").textContent = p.stage;
      },
      run: (d) => { run = JSON.parse(d); last.run = d; if (!expectCompare()) compare = null; showRun(); },
      compare: (d) => { compare = JSON.parse(d); last.compare = d; showRun(); },
      series: (d) => { series = JSON.parse(d); showSeries(); },
      bay: (d) => { $("drawing").innerHTML = d; paint(); },
      flow: (d) => { $("flow").innerHTML = d; },
      done: () => { $("stage").textContent = `bands from ${draws} draws`; $("progress").hidden = true; document.body.dataset.done = "yes"; },
    }, own.signal);
  } catch (error) {
    if (error.name === "AbortError") return;
    trouble(error);
  }
  if (running === own) document.body.classList.remove("working");
}

/** Whether the car as chosen is another than the bare one, so that a comparison follows. */
function expectCompare() {
  return measuresOn().size > 0 || (option()?.set.length ?? 0) > 0 || about.parts.some((p) => treatmentOf(p) !== "bare");
}

/** The option of the sheet that is taken. */
function option() { return about?.options.find((o) => o.name === state.option); }

/** What a part has by the sheet or the option, before anything is changed by hand. */
function givenOf(part) {
  const own = option()?.treat.find(([name]) => name === part.name);
  return own ? own[1] : part.treatment ?? "bare";
}

function treatmentOf(part) { return state.treat[part.name] ?? givenOf(part); }

function measuresOn() { return state.measures ?? new Set(option()?.measures ?? []); }

/** Takes an option whole, or none. */
function take(name) {
  state.option = name;
  state.treat = {};
  state.measures = null;
  state.age = "";
}

let waiting = 0;
function soon(options, after = 40) {
  clearTimeout(waiting);
  delete document.body.dataset.done;
  waiting = setTimeout(() => refresh(options), after);
}

function trouble(error) {
  const places = error?.problems ?? [];
  document.body.classList.toggle("troubled", Boolean(error));
  $("problems").replaceChildren(...places.map((p) => {
    const go = el("button", { type: "button", className: "link", textContent: `line ${p.line}` });
    go.addEventListener("click", () => toLine(p.line));
    return el("li", {}, go, " ", el("span", { className: "pre", textContent: p.text }));
  }));
  $("text").setAttribute("aria-invalid", String(places.length > 0));
  markLines(new Set(places.map((p) => p.line)));
  if (!error) { $("trouble").replaceChildren(); return; }
  const lines = places.length ? [`${places.length} ${places.length === 1 ? "problem" : "problems"}; ${BEFORE}`, ...places.slice(0, 3).map((p) => p.text)] : [error.message, ...(run ? [BEFORE] : [])];
  $("trouble").replaceChildren(...lines.map((t) => el("p", { className: "pre", textContent: t })),
    ...(places.length ? [el("a", { href: "#sheet", textContent: "All problems, and the sheet" })] : []));
  document.body.dataset.done = "no";
}

// ---- showing

function showRun() {
  document.body.classList.add("known");
  $("car").textContent = run.sheet.title;
  document.title = `${run.sheet.title} – baysoak`;
  const d = run.day;
  $("driven").textContent = `${run.cycle.name}, ${clock(run.cycle.duration_s)}; ${d.name}: ${show(d.ambient_c, "degC")}, ${number(d.humidity_percent, "%", 0)} % humid`;
  const known = lists.sign_known_percent;
  figures.answer($("figures"), run, compare, known);
  figures.over($("over"), run);
  figures.margins($("margins"), run);
  figures.changes($("changes"), compare, known);
  figures.phases($("phases"), run);
  figures.list($("cautions"), run.cautions, "None beyond those above.");
  figures.list($("warnings"), [...run.warnings, ...(about?.warnings ?? [])], "Nothing.");
  figures.foot($("foot"), run);
}

function showSeries() {
  const slider = $("time");
  const fresh = slider.dataset.cycle !== `${run.cycle.name}/${series.time_s.length}`;
  slider.max = String(series.time_s.length - 1);
  if (fresh) {
    slider.dataset.cycle = `${run.cycle.name}/${series.time_s.length}`;
    slider.value = String(worstRow());
  }
  charts.draw($("charts"), series);
  const spans = series.phases.map(([name, , from], i) => el("option", { value: String(i), textContent: `${clock(from)} ${name}` }));
  const had = $("span").value;
  $("span").replaceChildren(el("option", { value: "", textContent: "the whole drive" }), ...spans);
  if (!fresh) $("span").value = had;
  $("phase").replaceChildren(el("option", { value: "", textContent: "a phase…" }), ...spans.map((o) => o.cloneNode(true)));
  $("channels").replaceChildren(...series.names.filter((n) => n.endsWith("_c")).map((value) => el("option", { value })));
  paint();
}

/** The row at which the bay's air is hottest. */
function worstRow() {
  let best = 0, most = -Infinity;
  series.names.forEach((name, i) => {
    if (name.startsWith("air:")) series.columns[i].forEach((v, row) => { if (v > most) { most = v; best = row; } });
  });
  return best;
}

function paint() {
  if (!series) return;
  const row = Math.min(Number($("time").value), series.time_s.length - 1);
  const t = series.time_s[row];
  const phase = series.phases.find(([, , from, to]) => t >= from && t <= to);
  const said = `${clock(t)}${phase ? `, ${phase[0]}` : ""}`;
  $("time-said").textContent = said;
  $("time").setAttribute("aria-valuetext", said);
  bay.paint($("drawing"), series, row);
  bay.table($("now"), series, row);
  charts.mark(t, row);
}

// ---- controls

function choice(value, text) { return el("option", { value, textContent: text }); }

function fillSheet() {
  for (const name of Object.keys(state.treat)) if (!about.parts.some((p) => p.name === name)) delete state.treat[name];
  if (!option()) state.option = "";
  $("parts").replaceChildren(...about.parts.map((part) => {
    const families = Map.groupBy(lists.treatments.filter((t) => t.suits.includes(part.kind) && t.id !== "bare"), (t) => t.family);
    const groups = [...families].map(([family, all]) => {
      const g = el("optgroup", { label: family });
      g.append(...all.map((t) => choice(t.id, t.name)));
      return g;
    });
    const select = el("select", {}, choice("bare", "bare"), ...groups);
    if (about.own_treatments.length) {
      const g = el("optgroup", { label: "of this sheet" });
      g.append(...about.own_treatments.map((t) => choice(t, t)));
      select.append(g);
    }
    select.dataset.part = part.name;
    select.addEventListener("change", () => {
      if (select.value === givenOf(part)) delete state.treat[part.name]; else state.treat[part.name] = select.value;
      soon();
    });
    return el("label", {}, `${part.name} `, select);
  }));
  $("option").replaceChildren(choice("", "none of them"), ...about.options.map((o) => choice(o.name, o.name)));
  $("options-box").hidden = about.options.length === 0;
  $("cycle").options[0].textContent = "the sheet's own";
  $("car").textContent = about.title;
  checks.fill(about, lists);
  fillChoices();
}

/** Puts the controls where the state is. */
function fillChoices() {
  for (const select of $("parts").querySelectorAll("select")) {
    select.value = treatmentOf(about.parts.find((p) => p.name === select.dataset.part));
    select.closest("label").classList.toggle("on", select.value !== "bare");
  }
  const on = measuresOn();
  for (const tick of $("measures").querySelectorAll("input")) tick.checked = on.has(tick.value);
  $("measures-box").open ||= on.size > 0;
  $("option").value = state.option;
  $("option-says").textContent = optionSays();
  $("age").value = state.age;
  $("cycle").value = state.cycle;
  $("day").value = state.day;
  $("log-label").hidden = state.cycle !== LOG;
  fillWeather();
}

/** What an option does beyond the controls, and what is no longer as it has it. */
function optionSays() {
  const own = option();
  if (!own) return "";
  const written = (v) => (typeof v === "object" ? Object.entries(v).map(([k, x]) => `${k} ${x}`).join(", ") : String(v));
  const keys = own.set.map(([key, value]) => `${key} = ${written(value)}`).join("; ");
  const changed = [...Object.keys(state.treat), ...(state.measures ? ["other things to do"] : []), ...(state.age ? ["in use for"] : [])];
  return [keys && `It also sets ${keys}.`, own.treatment_age === "season" && "Its treatments have been in use for a season.",
    changed.length > 0 && `Changed by hand: ${changed.join(", ")}.`].filter(Boolean).join(" ");
}

function fillWeather() {
  const shown = state.day === WEATHER ? state.weather
    : Object.fromEntries(state.day === OWN ? about?.day ?? [] : lists.days.find((d) => d.name === state.day).values);
  $("weather").replaceChildren(...Object.entries(KEYS).map(([key, [label, kind]]) => {
    const field = el("input", { inputMode: "decimal", value: key in shown ? number(shown[key], kind, 1).replace("−", "-") : "" });
    field.addEventListener("change", () => {
      const value = Number(field.value.replace(",", ".").replace("−", "-"));
      const good = field.value.trim() !== "" && Number.isFinite(value);
      field.setAttribute("aria-invalid", String(!good));
      if (!good) return;
      state.weather = { ...shown, ...state.weather, [key]: parse(value, kind) };
      state.day = WEATHER;
      $("day").value = WEATHER;
      soon();
    });
    return el("label", {}, `${label}, ${unit(kind)} `, field);
  }));
}

function fillLists() {
  $("cycle").append(choice(OWN, "the sheet's own"), ...lists.cycles.map((c) => choice(c.name, `${c.name}: ${c.title}, ${c.minutes.toFixed(0)} min`)), choice(LOG, "a trace or log from a file"));
  $("day").append(choice(OWN, "the sheet's own"), ...lists.days.map((d) => choice(d.name, d.name)), choice(WEATHER, "as entered below"));
  $("build").append(...lists.builds.map((b) => choice(b.name, `${b.name}: ${b.about}`)));
  $("measures").append(...lists.measures.map((m) => {
    const tick = el("input", { type: "checkbox", value: m.id });
    tick.addEventListener("change", () => {
      const on = new Set(measuresOn());
      if (tick.checked) on.add(m.id); else on.delete(m.id);
      const given = option()?.measures ?? [];
      state.measures = on.size === given.length && given.every((g) => on.has(g)) ? null : on;
      $("option-says").textContent = optionSays();
      soon();
    });
    return el("label", { className: "tick" }, tick, ` ${m.name}`);
  }));
  $("care").textContent = lists.care;
  bay.setScale(lists.scale);
}

function listen() {
  $("choices").addEventListener("submit", (e) => e.preventDefault());
  $("units").addEventListener("change", () => {
    setImperial($("units").value === "imperial");
    bay.legend($("legend"));
    hot.units(lists.hot_day);
    fillWeather();
    soon();
  });
  $("age").addEventListener("change", () => { state.age = $("age").value; $("option-says").textContent = optionSays(); soon(); });
  $("option").addEventListener("change", () => { take($("option").value); fillChoices(); soon(); });
  $("day").addEventListener("change", () => {
    if ($("day").value === WEATHER) state.weather = Object.fromEntries(state.day === OWN ? about.day : lists.days.find((d) => d.name === state.day)?.values ?? []);
    state.day = $("day").value;
    fillWeather();
    soon();
  });
  $("cycle").addEventListener("change", () => {
    state.cycle = $("cycle").value;
    $("log-label").hidden = state.cycle !== LOG;
    if (state.cycle !== LOG || state.log) soon({ sheetToo: true });
  });
  $("log").addEventListener("change", async () => {
    const file = $("log").files[0];
    if (!file) return;
    state.log = { name: file.name, text: await file.text() };
    soon({ sheetToo: true });
  });
  $("bare").addEventListener("click", () => {
    take("");
    state.treat = Object.fromEntries(about.parts.map((p) => [p.name, "bare"]));
    fillChoices();
    soon();
  });
  $("as-sheet").addEventListener("click", () => { take(""); fillChoices(); soon(); });
  $("parts").addEventListener("change", fillChoices);
  $("time").addEventListener("input", paint);
  $("phase").addEventListener("change", () => {
    const phase = series?.phases[$("phase").value];
    if (!phase) return;
    $("time").value = String(series.time_s.findIndex((t) => t >= phase[2]));
    paint();
  });
  $("play").addEventListener("click", play);
  $("span").addEventListener("change", () => {
    const phase = series?.phases[$("span").value];
    if (phase) charts.zoom(phase[2], phase[3]); else charts.zoom(series.time_s[0], series.time_s.at(-1));
  });
  $("get-json").addEventListener("click", () => save("figures.json", "application/json", expectCompare() && compare ? last.compare : last.run));
  $("get-report").addEventListener("click", () => download("report", "report.html", "text/html", $("get-report")));
  $("get-measure").addEventListener("click", () => checks.measure({ ...car(), draws: lists.full_draws }));
  $("hot-form").addEventListener("submit", (e) => { e.preventDefault(); hot.start(car(), about.options); });
  $("claim-form").addEventListener("submit", (e) => { e.preventDefault(); checks.claim(state.sheet); });
  $("judge-form").addEventListener("submit", (e) => { e.preventDefault(); checks.judge(car()); });
  $("fit-form").addEventListener("submit", (e) => { e.preventDefault(); checks.fit(state.sheet, (text) => setSheet({ name: state.sheet.name, text })); });
  editor();
}

function play() {
  const on = playing === null;
  $("play").setAttribute("aria-pressed", String(on));
  $("play").textContent = on ? "Stop" : "Play";
  if (!on) { clearInterval(playing); playing = null; return; }
  const slider = $("time");
  if (Number(slider.value) >= Number(slider.max)) slider.value = "0";
  const step = Math.max(1, Math.round(Number(slider.max) / 300));
  playing = setInterval(() => {
    if (Number(slider.value) >= Number(slider.max)) { play(); return; }
    slider.value = String(Number(slider.value) + step);
    paint();
  }, 80);
}

/** Runs a work behind a button and shows how far it is on the button. */
async function busy(button, start) {
  const text = button.textContent;
  button.disabled = true;
  try {
    await start((p) => { button.textContent = p.share === null ? p.stage : `${p.stage} ${(100 * p.share).toFixed(0)} %`; });
  } catch (error) {
    trouble(error);
  }
  button.textContent = text;
  button.disabled = false;
}

function download(kind, name, type, button) {
  return busy(button, (tell) => talk.work(kind, { ...car(), draws: lists.full_draws }, {
    progress: (d) => tell(JSON.parse(d)), [kind]: (d) => save(name, type, d) }));
}

// ---- the sheet as text

function editor() {
  const text = $("text");
  text.addEventListener("input", () => {
    state.sheet = { name: state.sheet.name, text: text.value };
    countLines();
    soon({ sheetToo: true }, 350);
  });
  text.addEventListener("scroll", () => { $("lines").scrollTop = text.scrollTop; });
  $("open").addEventListener("change", async () => {
    const file = $("open").files[0];
    if (file) setSheet({ name: file.name, text: await file.text() });
  });
  $("build").addEventListener("change", () => {
    const build = lists.builds.find((b) => b.name === $("build").value);
    if (build) setSheet({ name: `${build.name}.toml`, text: build.text });
  });
  $("save").addEventListener("click", () => save(state.sheet.name, "application/toml", state.sheet.text));
  $("save-option").addEventListener("click", () => save(state.sheet.name, "application/toml", withOption()));
}

/** The sheet with what is chosen as an option of it. */
function withOption() {
  const quoted = (s) => JSON.stringify(s);
  const written = (v) => (Array.isArray(v) ? `[${v.map(written).join(", ")}]`
    : typeof v === "object" ? `{ ${Object.entries(v).map(([k, x]) => `${quoted(k)} = ${written(x)}`).join(", ")} }` : quoted(v));
  const pairs = (all) => all.map(([key, value]) => `${quoted(key)} = ${written(value)}`).join(", ");
  const treat = pairs(about.parts.filter((p) => treatmentOf(p) !== (p.treatment ?? "bare")).map((p) => [p.name, treatmentOf(p)]));
  const own = option(), age = state.age || own?.treatment_age;
  const taken = new Set(about.options.map((o) => o.name));
  let name = "tried";
  for (let n = 2; taken.has(name); n += 1) name = `tried ${n}`;
  const lines = ["", "[[option]]", `name = ${quoted(name)}`];
  if (treat) lines.push(`treat = { ${treat} }`);
  if (age) lines.push(`treatment_age = ${quoted(age)}`);
  if (measuresOn().size) lines.push(`measures = ${JSON.stringify([...measuresOn()])}`);
  if (own?.set.length) lines.push(`set = { ${pairs(own.set)} }`);
  return `${state.sheet.text.replace(/\n*$/, "\n")}${lines.join("\n")}\n`;
}

function setSheet(sheet) {
  const query = new URLSearchParams(location.search);
  query.delete("build");
  history.replaceState(null, "", `?${query}`);
  state.sheet = sheet;
  take("");
  $("text").value = sheet.text;
  countLines();
  soon({ sheetToo: true });
}

function countLines() {
  const count = $("text").value.split("\n").length;
  if ($("lines").childElementCount === count) return;
  $("lines").replaceChildren(...Array.from({ length: count }, (_, i) => el("div", { textContent: String(i + 1) })));
}

function markLines(bad) {
  [...$("lines").children].forEach((line, i) => line.classList.toggle("bad", bad.has(i + 1)));
}

function toLine(line) {
  const text = $("text");
  const lines = text.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((n, l) => n + l.length + 1, 0);
  text.focus();
  text.setSelectionRange(start, start + (lines[line - 1] ?? "").length);
  text.scrollTop = Math.max(0, (line - 4) * (text.scrollHeight / lines.length));
}

// ---- start

try {
  lists = await talk.lists();
  fillLists();
  fromAddress();
  bay.legend($("legend"));
  checks.listen();
  hot.listen();
  hot.units(lists.hot_day);
  $("text").value = state.sheet.text;
  countLines();
  listen();
  fillChoices();
  await refresh({ sheetToo: true });
} catch (error) {
  trouble(error);
}
