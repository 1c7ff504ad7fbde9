/** Single keys as shortcuts, and the choice to have none. */

const KEY = "optimiser.keys";

export const KEYS = [
  ["n", "what to set now"],
  ["h", "hand over recordings"],
  ["t", "trials"],
  ["w", "what if"],
  ["l", "listen"],
  ["Space", "when listening: play or pause"],
  ["a, b, x", "when listening: reference, capture, the unknown one"],
  ["← →", "when listening: a second back or on"],
  ["?", "this list"],
];

export function keysOff() {
  try {
    return localStorage.getItem(KEY) === "off";
  } catch {
    return false;
  }
}

export function setKeys(on) {
  try {
    localStorage.setItem(KEY, on ? "on" : "off");
  } catch {
    /* it cannot be remembered */
  }
}
