// What a screen reader is told: events when they happen, not too often, and the figures when they are asked for.

import { setText } from "./words.js";

const APART_MS = 5_000;
const MOST_KEPT = 4;

const region = document.getElementById("spoken");
const waiting = [];
let timer = null;

function next() {
  timer = null;
  if (waiting.length === 0) return;
  setText(region, waiting.splice(0).join(" "));
  timer = setTimeout(next, APART_MS);
}

/** Tell soon, together with what else waits. */
export function tell(text) {
  if (waiting.includes(text)) return;
  waiting.push(text);
  if (waiting.length > MOST_KEPT) waiting.shift();
  if (timer === null) next();
}

/** Tell now: it was asked for. */
export function tellNow(text) {
  waiting.length = 0;
  setText(region, "");
  requestAnimationFrame(() => setText(region, text));
}
