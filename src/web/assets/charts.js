// Curves over the drive: intake, skins, bay and power.

import uPlot from "/vendor/uPlot.esm.js";
import { convert, unit, clock } from "./units.js";
import { el } from "./figures.js";

// lightness apart as well as hue, so that the order shows in grey; dashes tell neighbours apart
const INKS = { light: ["#0b4f8a", "#b03a12", "#2f6b3a", "#6a3d9a", "#7a5200", "#00696b", "#8c1c5a", "#444b55"],
  dark: ["#7db8ee", "#f08c5f", "#8fce98", "#c3a5ea", "#e0b659", "#6fcfd0", "#ee93c4", "#c3c9d1"] };
const DASHES = [[], [7, 4], [2, 3], [10, 3, 2, 3]];
const DARK = matchMedia("(prefers-color-scheme: dark)");

let plots = [];
let marked = 0, row = null;
let redraw = null;
DARK.addEventListener("change", () => redraw?.());

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function shades(phases) {
  return {
    hooks: {
      drawClear: [(u) => {
        const { ctx } = u;
        const { left, top, width, height } = u.bbox;
        ctx.save();
        ctx.beginPath(); ctx.rect(left, top, width, height); ctx.clip();
        ctx.font = `${12 * devicePixelRatio}px sans-serif`;
        phases.forEach(([name, , from, to], i) => {
          const a = u.valToPos(from, "x", true), b = u.valToPos(to, "x", true);
          if (i % 2) { ctx.fillStyle = css("--shade"); ctx.fillRect(a, top, b - a, height); }
          if (b - a > 60 * devicePixelRatio) {
            ctx.save(); ctx.beginPath(); ctx.rect(a, top, b - a - 4, height); ctx.clip();
            ctx.fillStyle = css("--quiet"); ctx.fillText(name, a + 4 * devicePixelRatio, top + 13 * devicePixelRatio);
            ctx.restore();
          }
        });
        ctx.restore();
      }],
      // without a pointer in it a chart tells the time of the drawing
      setCursor: [(u) => { if (u.cursor.left < 0 && row !== null && u.legend.idx !== row) u.setLegend({ idx: row }, false); }],
      draw: [(u) => {
        const x = u.valToPos(marked, "x", true);
        const { left, top, width, height } = u.bbox;
        if (x < left || x > left + width) return;
        u.ctx.save();
        u.ctx.strokeStyle = css("--ink"); u.ctx.lineWidth = devicePixelRatio;
        u.ctx.setLineDash([]); u.ctx.beginPath(); u.ctx.moveTo(x, top); u.ctx.lineTo(x, top + height); u.ctx.stroke();
        u.ctx.restore();
      }],
    },
  };
}

function chart(into, title, kind, x, lines, phases) {
  const inks = INKS[DARK.matches ? "dark" : "light"];
  const digits = kind === "%" ? 1 : 0;
  const box = el("figure", { className: "chart" }, el("figcaption", { textContent: `${title}, ${unit(kind)}` }));
  into.append(box);
  const said = (u, v) => (v === null || v === undefined ? "–" : v.toFixed(digits));
  const axis = { stroke: css("--ink"), grid: { stroke: css("--rule"), width: 1 }, ticks: { stroke: css("--rule") } };
  const plot = new uPlot({
    width: Math.max(280, box.clientWidth), height: 230,
    legend: { live: true },
    cursor: { sync: { key: "drive" }, drag: { x: true, y: false } },
    scales: { x: { time: false } },
    axes: [{ ...axis, values: (u, vs) => vs.map(clock), incrs: [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200] }, { ...axis, size: 46 }],
    series: [{ label: "time", value: (u, v) => (v === null ? "–" : clock(v)) },
      ...lines.map(([label], i) => ({ label, stroke: inks[i % inks.length], width: 2, dash: DASHES[Math.floor(i / inks.length) % DASHES.length].length ? DASHES[Math.floor(i / inks.length) % DASHES.length] : (i % 2 ? DASHES[1] : undefined), value: said, spanGaps: false, points: { show: false } }))],
    plugins: [shades(phases)],
  }, [x, ...lines.map(([, values]) => values)], box);
  const range = (values) => { const seen = values.filter((v) => v !== null); return seen.length ? `${Math.min(...seen).toFixed(digits)} to ${Math.max(...seen).toFixed(digits)}` : "none"; };
  plot.root.querySelector("canvas").setAttribute("role", "img");
  plot.root.querySelector("canvas").setAttribute("aria-label", `${title} in ${unit(kind)} over the drive: ${lines.map(([l, v]) => `${l} ${range(v)}`).join(", ")}`);
  return plot;
}

/** Draws all charts of a series. */
export function draw(into, series) {
  redraw = () => draw(into, series);
  plots.forEach((p) => p.destroy());
  const x = series.time_s;
  const column = (name) => series.columns[series.names.indexOf(name)];
  const temps = (start) => series.names.filter((n) => n.startsWith(start))
    .map((n) => [n.slice(start.length, -2), column(n).map((v) => convert(v, "degC"))]);
  const ambient = ["outside", column("ambient_c").map((v) => convert(v, "degC"))];
  const running = column("rpm");
  const outside = column("ambient_c");
  // the share of density that the charge has lost at the valve, engine on
  const lost = column("intake:valve_c").map((v, i) => (running[i] > 0 ? 100 * (1 - (outside[i] + 273.15) / (v + 273.15)) : null));
  into.replaceChildren();
  plots = [
    chart(into, "Intake air", "degC", x, [...temps("intake:"), ambient], series.phases),
    chart(into, "Skins of the exhaust", "degC", x, temps("skin:"), series.phases),
    chart(into, "Air in the bay", "degC", x, [...temps("air:"), ambient], series.phases),
    chart(into, "Power lost to intake heat, by charge density", "%", x, [["lost", lost]], series.phases),
  ];
}

/** Puts the upright line at a time, the row of the series it is in, and the values of then into the legends. */
export function mark(time, index) {
  marked = time;
  row = index;
  plots.forEach((p) => { p.redraw(false, false); p.setLegend({ idx: row }); });
}

export function zoom(from, to) { plots.forEach((p) => p.setScale("x", { min: from, max: to })); }

addEventListener("resize", () => plots.forEach((p) => {
  const box = p.root.parentElement;
  p.setSize({ width: Math.max(280, box.clientWidth), height: 230 });
}));
