// One wheel's sheet: made from the template, kept up to date, and asked for what can be done.

import { ask } from "./desk.js";
import { Dial } from "./dial.js";
import { tell, tellNow } from "./spoken.js";
import { Strip } from "./strip.js";
import { figureText, setText, word } from "./words.js";

const GLYPHS = { turning: "●", standing: "○", waiting: "◌", silent: "◇", lost: "✕", paused: "‖", ended: "■" };
const MOMENTS_SHOWN = 8;
const TOTALS = ["ratio", "cadence", "twist_tpi", "twist_tpm", "length", "wheel_turns", "flyer_turns"];
// where a figure stands between others, so many characters have room; more are drawn smaller
const ROOM_FOR = 5;
// the plan's band takes the middle of its scale; so much of its width is drawn on either side
const BESIDE_BAND = 0.75;

const template = document.getElementById("sheet");

export class Sheet {
  constructor(id) {
    this.id = id;
    this.state = {};
    this.root = template.content.firstElementChild.cloneNode(true);
    this.dial = new Dial(this.find(".dial"));
    this.strip = new Strip(this.find(".strip"));
    const title = this.find("h2");
    title.id = `wheel-${id.replace(/[^\w-]/g, "_")}`;
    this.root.setAttribute("aria-labelledby", title.id);
    for (const form of this.root.querySelectorAll("form")) {
      form.addEventListener("submit", (event) => {
        event.preventDefault();
        this.send(form, event.submitter);
      });
    }
    this.find(".pause").addEventListener("click", () => this.pause());
  }

  find(selector) {
    return this.root.querySelector(selector);
  }

  async send(form, button) {
    const field = form.elements.namedItem("text");
    const { done } = await this.ask(button?.value ?? form.querySelector("button").value, field.value);
    if (done) field.value = "";
  }

  pause() {
    return this.ask(this.state.state === "paused" ? "resume" : "pause", "");
  }

  async ask(action, text) {
    const answer = await ask(this.id, action, text);
    setText(this.find(".answer"), answer.says);
    if (!this.find(".desk").open) tellNow(answer.says);
    return answer;
  }

  /** Take what is new of the wheel, and show it. */
  take(news) {
    const before = this.state;
    this.state = { ...before, ...news };
    const now = this.state;
    setText(this.find("h2"), now.name);
    setText(this.find("[data-text=state]"), word(now.state));
    setText(this.find(".glyph"), GLYPHS[now.state]);
    this.root.dataset.state = now.state;
    this.find(".simulated").hidden = !now.simulated;
    this.line(this.find("[data-text=says]"), now.says);
    setText(this.find(".pulses"), now.pulses_text);
    this.find(".pulses").classList.toggle("some-lost", now.lost > 0 || now.damaged > 0);
    setText(this.find(".pause"), word(now.state === "paused" ? "resume" : "pause"));
    this.showFigures(now);
    this.showPlan(now.plan);
    this.showPace(now.pace);
    if ("profile" in news || "state" in news) {
      this.dial.show(now.profile, now.cadence?.value, now.state === "turning");
    }
    if ("strip" in news || "bursts" in news || "marks" in news) {
      this.strip.show(now.strip, now.bursts ?? [], now.marks ?? [], edges(now.plan));
    }
    if ("bursts" in news) this.moments(".bursts", now.bursts);
    if ("marks" in news) this.moments(".marks", now.marks);
    if ("totals" in news) this.showTotals(now.totals);
    if (before.state) this.tellEvents(before, now);
  }

  line(element, text) {
    element.hidden = !text;
    setText(element, text);
  }

  showFigures(now) {
    for (const element of this.root.querySelectorAll("[data-figure]")) {
      const figure = now[element.dataset.figure];
      if (!figure) continue;
      const known = figure.text !== null;
      element.classList.toggle("not-known", !known);
      const numeral = element.querySelector(".numeral");
      setText(numeral, known ? figure.text : "–");
      numeral.style.setProperty("--fit", Math.min(1, ROOM_FOR / numeral.textContent.length));
      setText(element.querySelector(".unit"), known ? figure.unit : "");
      setText(element.querySelector(".pm"), known && figure.pm ? `± ${figure.pm}` : "");
      setText(element.querySelector(".why"), known ? "" : figure.why);
    }
    const second = this.find("[data-second]");
    const tpm = now[second.dataset.second];
    second.hidden = !tpm || tpm.text === null;
    setText(second.querySelector(".numeral"), tpm?.text);
    setText(second.querySelector(".unit"), tpm?.unit);
  }

  showPlan(plan) {
    const box = this.find(".plan");
    box.hidden = !plan;
    if (!plan) return;
    box.dataset.verdict = plan.verdict ?? "undecided";
    box.classList.toggle("speaks", Boolean(plan.says));
    setText(this.find("[data-plan=twist]"), plan.twist);
    setText(this.find("[data-plan=from]"), plan.from);
    setText(this.find("[data-plan=to]"), plan.to);
    setText(this.find("[data-plan=verdict]"), word(plan.verdict ?? "undecided"));
    setText(this.find("[data-plan=says]"), plan.says);
    const marker = this.find(".marker");
    marker.hidden = !Number.isFinite(plan.place);
    const place = Math.min(1 + BESIDE_BAND, Math.max(-BESIDE_BAND, plan.place ?? 0));
    marker.style.left = `${((place + BESIDE_BAND) / (1 + 2 * BESIDE_BAND)) * 100}%`;
  }

  showPace(pace) {
    const known = pace && Number.isFinite(pace.per_min);
    this.find(".pace").hidden = !known;
    if (!known) return;
    setText(this.find("[data-pace=text]"), pace.text);
    for (const cue of this.root.querySelectorAll("[data-cue]")) cue.classList.toggle("is", cue.dataset.cue === pace.cue);
  }

  moments(selector, list) {
    const box = this.find(selector);
    box.hidden = list.length === 0;
    const items = list.slice(-MOMENTS_SHOWN).reverse();
    box.querySelector("ol").replaceChildren(
      ...items.map(({ text }) => {
        const item = document.createElement("li");
        item.textContent = text;
        return item;
      }),
    );
  }

  showTotals(totals) {
    this.find(".totals").hidden = !totals;
    if (!totals) return;
    setText(this.find("[data-total=measured_to]"), totals.measured_to);
    const rows = TOTALS.map((key) => {
      const value = typeof totals[key] === "string" ? totals[key] : figureText(totals[key]);
      const [name, text] = [document.createElement("dt"), document.createElement("dd")];
      name.textContent = word(key);
      text.textContent = value || totals[key]?.why || word("unknown");
      return [name, text];
    });
    this.find(".totals dl").replaceChildren(...rows.flat());
    this.find(".totals ul").replaceChildren(
      ...totals.notes.map((note) => {
        const item = document.createElement("li");
        item.textContent = note;
        return item;
      }),
    );
  }

  tellEvents(before, now) {
    const name = `${now.name}:`;
    if (before.state !== now.state) tell(`${name} ${word(now.state)}.`);
    if (now.says && before.says !== now.says) tell(`${name} ${now.says}`);
    if (now.plan?.says && before.plan?.verdict !== now.plan.verdict) tell(`${name} ${now.plan.says}`);
    const count = before.bursts?.length ?? 0;
    for (const burst of (now.bursts ?? []).slice(count)) tell(`${name} ${burst.text}.`);
  }

  /** All figures as one sentence, for the ear. */
  spoken() {
    const figures = ["twist_tpi", "cadence", "ratio", "flyer"]
      .filter((key) => this.state[key]?.text)
      .map((key) => `${word(key)} ${this.state[key].text} ${this.state[key].unit}`);
    const plan = this.state.plan ? [word(this.state.plan.verdict ?? "undecided")] : [];
    return `${this.state.name}, ${word(this.state.state)}: ${[...figures, ...plan].join(", ")}.`;
  }
}

function edges(plan) {
  const [from, to] = [Number.parseFloat(plan?.from), Number.parseFloat(plan?.to)];
  return Number.isFinite(from) && Number.isFinite(to) ? [from, to] : [];
}
