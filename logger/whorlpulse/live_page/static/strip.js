// The strip of the last minutes: one small chart a quantity, on one time axis, with bursts and marks.

import { svg, word } from "./words.js";

const LEFT = 58;
const RIGHT = 10;
const TOP = 26;
const BOTTOM = 24;
// a chart's height is at least this share of its values, so that noise is not drawn as weather
const LEAST_SPAN = { twist_tpi: 0.2, ratio: 0.04, cadence_per_min: 0.3 };

/** Round steps for an axis: 1, 2 or 5 times a power of ten, two to five of them. */
function niceTicks(low, high) {
  const rough = (high - low) / 5;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough);
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const ticks = [];
  for (let k = Math.ceil(low / step); k * step <= high + 1e-9 * step; k += 1) {
    ticks.push([k * step, (k * step).toFixed(decimals)]);
  }
  return ticks;
}

function span(series, values, also) {
  const known = values.filter((v) => Number.isFinite(v)).concat(also);
  if (known.length === 0) return null;
  let low = Math.min(...known);
  let high = Math.max(...known);
  const missing = LEAST_SPAN[series] * Math.abs((low + high) / 2) - (high - low);
  if (missing > 0) [low, high] = [low - missing / 2, high + missing / 2];
  const air = 0.08 * (high - low || 1);
  return [low - air, high + air];
}

/** The line through what is known; it breaks where a value is not known. */
function linePath(times, values, x, y) {
  let path = "";
  let pen = false;
  values.forEach((value, k) => {
    if (!Number.isFinite(value)) {
      pen = false;
      return;
    }
    path += `${pen ? "L" : "M"}${x(times[k]).toFixed(1)} ${y(value).toFixed(1)}`;
    pen = true;
  });
  return path;
}

export class Strip {
  constructor(figure) {
    this.figure = figure;
    this.panels = [...figure.querySelectorAll(".panel")];
    this.last = null;
    this.observer = new ResizeObserver(() => this.draw());
    this.panels.forEach((panel) => this.observer.observe(panel));
  }

  /** Show a strip with the moments in it. edges: the plan's lower and upper twist, or []. */
  show(strip, bursts, marks, edges) {
    this.figure.hidden = !strip;
    this.last = strip && { strip, bursts, marks, edges };
    this.draw();
  }

  draw() {
    if (!this.last) return;
    for (const panel of this.panels) {
      const series = panel.dataset.series;
      const values = this.last.strip[series];
      const empty = !values.some((v) => Number.isFinite(v));
      panel.classList.toggle("empty", empty);
      if (!empty && panel.offsetParent !== null) this.drawPanel(panel, series, values);
    }
  }

  drawPanel(panel, series, values) {
    const { strip, bursts, marks, edges } = this.last;
    const picture = panel.querySelector("svg");
    const [width, height] = [panel.clientWidth, panel.clientHeight];
    const end = strip.t_s[strip.t_s.length - 1];
    const plan = series === "twist_tpi" ? edges : [];
    const [low, high] = span(series, values, plan);
    const x = (t) => LEFT + ((t - end + strip.seconds) / strip.seconds) * (width - LEFT - RIGHT);
    const y = (v) => TOP + ((high - v) / (high - low)) * (height - TOP - BOTTOM);
    const parts = [];
    const text = (at, content, kind) => {
      const made = svg("text", { ...at, class: kind });
      made.textContent = content;
      parts.push(made);
    };
    if (plan.length === 2) {
      const [top, bottom] = [y(plan[1]), y(plan[0])];
      parts.push(svg("rect", { class: "plan-range", x: LEFT, y: top, width: width - LEFT - RIGHT, height: bottom - top }));
    }
    for (const [value, label] of niceTicks(low, high)) {
      parts.push(svg("path", { class: "grid", d: `M${LEFT} ${y(value)}H${width - RIGHT}` }));
      text({ x: LEFT - 8, y: y(value) + 5, "text-anchor": "end" }, label, "tick");
    }
    for (let minute = 0; minute * 60 <= strip.seconds; minute += 1) {
      const at = x(end - minute * 60);
      parts.push(svg("path", { class: "grid", d: `M${at} ${height - BOTTOM}v5` }));
      const label = minute === 0 ? word("now") : `−${minute} ${word("minutes")}`;
      text({ x: at, y: height - 5, "text-anchor": minute === 0 ? "end" : "middle" }, label, "tick");
    }
    parts.push(svg("path", { class: "curve", d: linePath(strip.t_s, values, x, y) }));
    for (const { t_s: at } of marks) {
      if (at < end - strip.seconds || at > end) continue;
      parts.push(svg("path", { class: "mark", d: `M${x(at)} ${TOP}V${height - BOTTOM}M${x(at)} ${TOP}h10l-4 4l4 4h-10` }));
    }
    for (const { t_s: at } of bursts) {
      if (at < end - strip.seconds || at > end) continue;
      parts.push(svg("path", { class: "burst", d: `M${x(at)} ${TOP + 8}l-7 -12h14z` }));
      parts.push(svg("path", { class: "burst-line", d: `M${x(at)} ${TOP + 8}V${height - BOTTOM}` }));
    }
    text({ x: 0, y: 14 }, word(`axis-${series}`), "axis");
    picture.setAttribute("viewBox", `0 0 ${width} ${height}`);
    picture.setAttribute("aria-label", `${word(`axis-${series}`)}: ${strip.text}`);
    picture.replaceChildren(...parts);
  }
}
