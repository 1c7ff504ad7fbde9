/** Asking the service: JSON in and out, problems as errors, nothing fetched twice that has not changed. */

const PATIENCE_MS = 60000;
const root = new URL(".", document.baseURI);
const known = new Map();

/** The service said no: `code` for programs, message and hint for people. */
export class Problem extends Error {
  constructor(status, told) {
    super(told.message || told.title || `The service answered ${status}.`);
    this.status = status;
    this.code = told.code ?? "";
    this.hint = told.hint ?? "";
    this.faults = told.faults ?? [];
    this.offset = null;
  }
}

/** The service was not reached, or is too busy: the same again, later. */
export class NoLine extends Error {
  constructor(message = "The service is not reached.") {
    super(message);
    this.hint = "Nothing is lost. Check that the laptop is on and this device is on its network.";
  }
}

export function at(path) {
  return new URL(`api/${path}`, root).href;
}

export const path = (...parts) => parts.map((part) => encodeURIComponent(part)).join("/");

/** A key under which a change is made once, however often it is sent. */
export function newKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export async function raw(method, where, { headers = {}, body = undefined, patience = PATIENCE_MS } = {}) {
  let answer;
  try {
    answer = await fetch(at(where), { method, headers, body, credentials: "same-origin", signal: AbortSignal.timeout(patience) });
  } catch {
    throw new NoLine();
  }
  if (answer.ok || answer.status === 304) return answer;
  const told = await answer.json().catch(() => ({}));
  const passing = [408, 429, 502, 503, 504].includes(answer.status) || told.code === "busy";
  if (passing) throw new NoLine(told.message || "The service is busy.");
  const problem = new Problem(answer.status, told);
  const offset = answer.headers.get("Upload-Offset");
  if (offset !== null) problem.offset = Number(offset);
  if (answer.status === 401) document.dispatchEvent(new CustomEvent("unpaired"));
  throw problem;
}

/**
 * What lies there; from memory when it has not changed, and while the line is cut what was known last, so that a page
 * can still be worked with. `fresh` asks for the truth or nothing.
 */
export async function get(where, { fresh = false } = {}) {
  const before = known.get(where);
  try {
    const answer = await raw("GET", where, before?.tag ? { headers: { "If-None-Match": before.tag } } : {});
    if (answer.status === 304) return before.told;
    const told = await read(answer);
    known.set(where, { tag: answer.headers.get("ETag"), told });
    return told;
  } catch (error) {
    if (fresh || !before || !(error instanceof NoLine)) throw error;
    return before.told;
  }
}

export async function getText(where) {
  return (await raw("GET", where)).text();
}

export async function getBytes(where) {
  const answer = await raw("GET", where);
  try {
    return await answer.arrayBuffer();
  } catch {
    throw new NoLine();
  }
}

export async function send(method, where, body, key) {
  const headers = { "Content-Type": "application/json", ...(key ? { "Idempotency-Key": key } : {}) };
  const answer = await raw(method, where, { headers, body: body === undefined ? undefined : JSON.stringify(body) });
  return answer.status === 204 ? null : read(answer);
}

async function read(answer) {
  try {
    return await answer.json();
  } catch {
    throw new NoLine();
  }
}
