/**
 * Changes on their way. Each has a key of its own under which the service makes it once; it waits here until the
 * service has said that it is stored, over reloads too, and is sent again when the line is back.
 */

import { NoLine, Problem, newKey, send } from "./api.js";
import { drop, fetchKept, keep } from "./shelf.js";
import { upload } from "./uploads.js";

const KEY = "optimiser.unsaved";
const WAITS_MS = [2000, 4000, 8000, 15000, 30000];
const listeners = new Set();
let unstored = [];
let failures = 0;
let running = null;
let timer = 0;

function read() {
  try {
    const stored = JSON.parse(localStorage.getItem(KEY) ?? "[]");
    return [...stored, ...unstored.filter((entry) => !stored.some((other) => other.key === entry.key))];
  } catch {
    return unstored;
  }
}

function write(entries) {
  try {
    localStorage.setItem(KEY, JSON.stringify(entries));
    unstored = [];
  } catch {
    unstored = entries;
  }
  for (const listener of listeners) listener(entries);
}

const replaceEntry = (entry) => write(read().map((other) => (other.key === entry.key ? entry : other)));

/** What waits, the oldest first. */
export const waiting = () => read();

export function onChange(listener) {
  listeners.add(listener);
}

async function forget(entry) {
  write(read().filter((other) => other.key !== entry.key));
  for (const part of Object.keys(entry.files ?? {})) await drop(`${entry.key}/${part}`);
}

export async function discard(key) {
  const entry = read().find((other) => other.key === key);
  if (entry) await forget(entry);
}

/** What the service answers once it has a change that waits; fails with what it refuses it with. */
export function whenStored(key) {
  return new Promise((done, failed) => {
    const hear = (event) => {
      if (event.detail.entry.key !== key) return;
      for (const name of ["stored", "refused"]) document.removeEventListener(name, hear);
      if (event.type === "stored") done(event.detail.answer);
      else failed(event.detail.error);
    };
    for (const name of ["stored", "refused"]) document.addEventListener(name, hear);
  });
}

/**
 * Make a change: `{method, path, body, study, label, files}`, with a `key` where the same one may be made again. Gives
 * `{answer}` once it is stored, `{waits: true, key}` when the line is cut; throws a Problem when the service refuses
 * it, and then nothing waits.
 */
export async function submit(change, tell = () => {}) {
  const key = change.key ?? newKey();
  const entry = { ...change, key, at: new Date().toISOString(), files: {} };
  for (const [part, file] of Object.entries(change.files ?? {})) {
    const lasting = await keep(`${key}/${part}`, file);
    entry.files[part] = { name: file.name, lasting };
  }
  write([...read().filter((other) => other.key !== key), entry]);
  while (running) await running.catch(() => {});
  try {
    return { answer: await attempt(entry, tell) };
  } catch (error) {
    if (error instanceof NoLine || (error instanceof Problem && error.status === 401)) {
      retryLater();
      return { waits: true, key };
    }
    await forget(entry);
    throw error;
  }
}

function attempt(entry, tell = () => {}) {
  running = carry(entry, tell).finally(() => { running = null; });
  return running;
}

async function carry(entry, tell) {
  const parts = Object.keys(entry.files ?? {});
  const body = { ...entry.body };
  for (const [place, part] of parts.entries()) {
    const file = await fetchKept(`${entry.key}/${part}`);
    if (file === null) throw new Problem(410, { message: `The file ${entry.files[part].name} is no longer here.`, hint: "Hand it over again." });
    body[part] = await upload(file, entry.files[part].name, `${entry.key}-${part}`, (share) => tell((place + share) / parts.length));
  }
  const answer = await send(entry.method, entry.path, body, entry.key);
  await forget(entry);
  failures = 0;
  document.dispatchEvent(new CustomEvent("stored", { detail: { entry, answer } }));
  return answer;
}

function retryLater() {
  clearTimeout(timer);
  timer = setTimeout(retry, WAITS_MS[Math.min(failures, WAITS_MS.length - 1)]);
  failures += 1;
}

/** Send what waits, in the order in which it was made; what is refused stays, with the reason. */
export async function retry() {
  clearTimeout(timer);
  if (running) return;
  for (const entry of read().filter((other) => !other.refused)) {
    if (running) return;
    try {
      await attempt(entry);
    } catch (error) {
      if (error instanceof NoLine || (error instanceof Problem && error.status === 401)) {
        retryLater();
        return;
      }
      replaceEntry({ ...entry, refused: { message: error.message, hint: error.hint ?? "" } });
      document.dispatchEvent(new CustomEvent("refused", { detail: { entry, error } }));
    }
  }
}

window.addEventListener("online", retry);
