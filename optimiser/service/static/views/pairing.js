/** A code from another screen, exchanged for a session. */

import { Problem, send } from "../api.js";
import { h } from "../dom.js";

/** What this device is called in the list of devices. */
function label() {
  const about = navigator.userAgent;
  const kind = /iPad|Tablet/.test(about) || (/Android/.test(about) && !/Mobile/.test(about)) ? "tablet" : /iPhone|Android/.test(about) ? "phone" : "computer";
  return `${kind}, ${new Date().toISOString().slice(0, 10)}`;
}

/** Null when this device is let in, else the page that says why not. */
export async function pair(code) {
  try {
    await send("POST", "pairing", { code, label: label() });
    return null;
  } catch (error) {
    const used = error instanceof Problem;
    return { title: "Not let in", node: [h("h1", {}, used ? "The code does not work" : "No line to the laptop"), h("p", { class: "lead" }, error.message), h("p", {}, used ? "A code works once and for ten minutes. Ask for a new one on the laptop, under Devices, and scan it here." : error.hint)] };
  }
}
