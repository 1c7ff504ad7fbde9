/** What changes elsewhere, as it happens: a stream of events, or the same asked for again and again. */

import { at, get } from "./api.js";

const POLL_MS = 1500;
const listeners = new Set();
let source = null;
let timer = 0;
let place = null;
const jobs = new Map();

/** Hear `{type: "change"|"job"|"line"|"again", ...}`; gives the function that ends it. */
export function listen(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

const tell = (event) => listeners.forEach((listener) => listener(event));

function arrived(newPlace) {
  const missed = place !== null && newPlace > place;
  place = newPlace;
  tell({ type: "line", state: "live" });
  if (missed) tell({ type: "again" });
}

export function connect() {
  clearTimeout(timer);
  source?.close();
  if (typeof EventSource === "undefined") {
    poll();
    return;
  }
  source = new EventSource(at("events"));
  source.addEventListener("place", (event) => arrived(JSON.parse(event.data).place));
  source.addEventListener("change", (event) => {
    const change = JSON.parse(event.data);
    place = change.place;
    tell({ type: "change", ...change });
  });
  source.addEventListener("job", (event) => tell({ type: "job", ...JSON.parse(event.data) }));
  source.onerror = lost;
}

function lost() {
  tell({ type: "line", state: "lost" });
  source?.close();
  clearTimeout(timer);
  timer = setTimeout(poll, POLL_MS);
}

/** Ask what came after the last known place; when that works, try to listen again now and then. */
async function poll() {
  clearTimeout(timer);
  try {
    const told = await get(place === null ? "events" : `events?after=${place}`, { fresh: true });
    tell({ type: "line", state: "live" });
    place = told.place;
    for (const change of told.changes) tell({ type: "change", ...change });
    for (const job of told.jobs) {
      if (jobs.get(job.job) !== job.changed_at) tell({ type: "job", ...job });
      jobs.set(job.job, job.changed_at);
    }
    timer = setTimeout(typeof EventSource === "undefined" ? poll : connect, POLL_MS);
  } catch (error) {
    if (source?.readyState === 1) return;
    const out = error.status === 401;
    tell({ type: "line", state: out ? "out" : "lost" });
    if (!out) timer = setTimeout(poll, POLL_MS);
  }
}

document.addEventListener("visibilitychange", () => {
  if (!document.hidden && source?.readyState !== EventSource.OPEN) connect();
});
window.addEventListener("online", connect);
window.addEventListener("offline", lost);

/** Follow a long run until it is done; `hear` gets it each time that it changed. */
export function follow(job, hear) {
  return new Promise((done) => {
    let over = false;
    let last = "";
    const look = async () => {
      if (over) return;
      try {
        const told = await get(`jobs/${job}`, { fresh: true });
        const now = `${told.state} ${told.progress}`;
        if (now !== last && !over) hear(told);
        last = now;
        if (told.state === "done" || told.state === "failed") {
          if (over) return;
          over = true;
          end();
          clearInterval(pulse);
          done(told);
        }
      } catch {
        /* asked again with the next pulse */
      }
    };
    const end = listen((event) => { if (event.type === "job" && event.job === job) look(); });
    const pulse = setInterval(look, 1200);
    look();
  });
}
