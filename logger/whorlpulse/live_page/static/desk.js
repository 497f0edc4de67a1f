// What is asked of the program: marks, notes, lengths, pauses, a pace.

import { word } from "./words.js";

/** Ask for an action of a wheel; resolves to the sentence to show. */
export async function ask(wheel, action, text) {
  try {
    const response = await fetch("/act", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ wheel, action, text }),
    });
    const { says } = await response.json();
    return { done: response.ok, says: says ?? word(`done-${action}`) };
  } catch {
    return { done: false, says: word("not-sent") };
  }
}
