// The stream of the room's changes: listened to, watched, and begun again when it breaks.

import { setText, word } from "./words.js";

// The server speaks at least every 4 s; thrice that without a word is a lost connection.
const SILENCE_MS = 12_000;
const RETRY_MS = 2_000;
const RETRY_REFUSED_MS = 20_000;

const line = document.getElementById("connection");

/** Listen to the room until it ends. onRoom gets each document, onRole whether this viewer may act. */
export function listen(onRoom, onRole) {
  let stream = null;
  let heardAt = null;
  let lastWord = null;
  let ended = false;

  function say(key, filling) {
    setText(line, key ? word(key, filling) : "");
    document.body.classList.toggle("stale", key === "no-connection" || key === "no-link" || key === "full");
  }

  function heard() {
    heardAt = performance.now();
    lastWord = new Date();
    if (!ended) say(null);
  }

  function lost() {
    say("no-connection", lastWord ? lastWord.toLocaleTimeString() : "–");
  }

  function close() {
    stream?.close();
    stream = null;
    heardAt = null;
  }

  function open() {
    close();
    heardAt = performance.now();
    stream = new EventSource("/changes");
    stream.addEventListener("you", (event) => {
      heard();
      onRole(JSON.parse(event.data).may_act);
    });
    stream.addEventListener("alive", heard);
    stream.addEventListener("message", (event) => {
      const room = JSON.parse(event.data);
      ended = room.ended;
      heard();
      onRoom(room);
      if (ended) {
        close();
        say("run-ended");
      }
    });
    stream.addEventListener("error", () => {
      if (!ended) retry();
    });
  }

  async function retry() {
    close();
    let wait = RETRY_MS;
    try {
      // an EventSource doesn't tell why it was refused: ask once more, for the answer's status only
      const asking = new AbortController();
      const { status } = await fetch("/changes", { signal: asking.signal });
      asking.abort();
      if (status === 403 || status === 429) {
        say("no-link");
        wait = RETRY_REFUSED_MS;
      } else if (status === 503) {
        say("full");
      } else {
        lost();
      }
    } catch {
      lost();
    }
    setTimeout(open, wait);
  }

  setInterval(() => {
    if (stream && heardAt !== null && performance.now() - heardAt > SILENCE_MS) {
      lost();
      open();
    }
  }, 1_000);
  say("connecting");
  open();
}
