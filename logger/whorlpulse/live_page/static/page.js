// The page: its views, its keys, its sheets. It draws what it is told and computes no figure.

import { beat } from "./beat.js";
import { listen } from "./connection.js";
import { Sheet } from "./sheet.js";
import { tellNow } from "./spoken.js";
import { setText, word } from "./words.js";

const VIEWS = ["yarn", "bench", "circle"];
const room = document.getElementById("room");
const sheets = new Map();
let used = null;

// the key of the link has done its work; it need not stand in the address line or be bookmarked
if (location.search) history.replaceState(null, "", location.pathname + location.hash);

function showView() {
  const asked = location.hash.slice(1);
  const view = VIEWS.includes(asked) ? asked : VIEWS[0];
  document.body.dataset.view = view;
  for (const link of document.querySelectorAll("nav [data-view]")) {
    if (link.dataset.view === view) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  }
  for (const sheet of sheets.values()) sheet.strip.draw();
}

function takeRoom({ wheels }) {
  for (const wheel of wheels) {
    if (!sheets.has(wheel.id)) {
      const made = new Sheet(wheel.id);
      made.root.addEventListener("focusin", () => (used = made));
      made.root.addEventListener("pointerdown", () => (used = made));
      sheets.set(wheel.id, made);
      room.append(made.root);
      room.dataset.wheels = sheets.size;
      document.body.classList.toggle("several", sheets.size > 1);
    }
    sheets.get(wheel.id).take(wheel);
  }
  const paced = chosen()?.state.pace ?? [...sheets.values()].map((s) => s.state.pace).find(Boolean);
  beat.follow(paced);
  showBeat();
}

function chosen() {
  return used ?? (sheets.size === 1 ? sheets.values().next().value : null);
}

function showBeat() {
  const button = document.getElementById("beat");
  button.setAttribute("aria-pressed", String(beat.on));
  setText(button, beat.on && beat.pace ? word("beat-on", beat.pace) : word("beat-off"));
}

async function toggleBeat() {
  if (beat.on) await beat.stop();
  else if (beat.pace) await beat.start();
  else hint(word("beat-no-pace"));
  showBeat();
}

function hint(text) {
  const line = document.getElementById("hint");
  setText(line, text);
  setTimeout(() => line.textContent === text && setText(line, ""), 5_000);
}

function sayFigures() {
  const sheet = chosen();
  tellNow((sheet ? [sheet] : [...sheets.values()]).map((s) => s.spoken()).join(" "));
}

async function invite() {
  const dialog = document.getElementById("invitation");
  const { link } = await (await fetch("/share")).json();
  const code = document.getElementById("invitation-code");
  code.hidden = !link;
  if (link) code.src = "/share.svg";
  code.alt = word("share-code");
  setText(document.getElementById("invitation-link"), link);
  setText(document.getElementById("invitation-note"), word(link ? "share-how" : "share-not"));
  dialog.showModal();
}

function withChosen(act) {
  const sheet = chosen();
  if (sheet) act(sheet);
  else hint(word("choose"));
}

function write(kind) {
  withChosen((sheet) => {
    sheet.find(".desk").open = true;
    sheet.find(`form[data-kind=${kind}] input`).focus();
  });
}

const KEYS = {
  1: () => (location.hash = VIEWS[0]),
  2: () => (location.hash = VIEWS[1]),
  3: () => (location.hash = VIEWS[2]),
  f: sayFigures,
  b: toggleBeat,
  "?": () => document.getElementById("key-list").showModal(),
};
const OWN_KEYS = {
  m: () => withChosen((sheet) => sheet.ask("mark", "")),
  p: () => withChosen((sheet) => sheet.pause()),
  n: () => write("words"),
  l: () => write("length"),
};

function onKey(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || !document.getElementById("keys-on").checked) return;
  if (event.target.closest("input, dialog")) return;
  const mayAct = document.body.dataset.mayAct === "yes";
  const act = KEYS[event.key] ?? (mayAct ? OWN_KEYS[event.key] : undefined);
  if (!act) return;
  event.preventDefault();
  act();
}

function keepKeysChoice() {
  const box = document.getElementById("keys-on");
  box.checked = localStorage.getItem("single-keys") !== "off";
  box.addEventListener("change", () => localStorage.setItem("single-keys", box.checked ? "on" : "off"));
}

addEventListener("hashchange", showView);
addEventListener("keydown", onKey);
document.getElementById("beat").addEventListener("click", toggleBeat);
document.getElementById("say").addEventListener("click", sayFigures);
document.getElementById("invite").addEventListener("click", invite);
document.getElementById("keys").addEventListener("click", KEYS["?"]);
keepKeysChoice();
showView();
listen(takeRoom, (mayAct) => (document.body.dataset.mayAct = mayAct ? "yes" : "no"));
