/** The page's frame: which place is shown, the tabs, the line, and what is not yet saved. */

import { NoLine, Problem } from "./api.js";
import { h, say, to } from "./dom.js";
import { connect, listen } from "./live.js";
import { showUnsaved } from "./unsaved.js";
import { keysOff } from "./keys.js";

const PLACES = {
  "": "./views/studies.js",
  now: "./views/now.js",
  goal: "./views/goal.js",
  take: "./views/take.js",
  trials: "./views/trials.js",
  trial: "./views/trial.js",
  learnt: "./views/learnt.js",
  "what-if": "./views/what-if.js",
  listen: "./views/listen.js",
  history: "./views/history.js",
  devices: "./views/devices.js",
  keys: "./views/help.js",
  cautions: "./views/help.js",
};
const TABS = [["now", "Set now"], ["trials", "Trials"], ["learnt", "Learnt"], ["what-if", "What if"], ["listen", "Listen"]];
const TAB_OF = { goal: "now", take: "now", trial: "trials", history: "trials" };
const LINE = { live: "live", lost: "no line", out: "not paired" };
const GATHER_MS = 60;
const REST_MS = 300;

const main = document.getElementById("main");
let current = null;
let turn = 0;
let again = 0;
let going = 0;
let pressed = false;
let first = true;

/** The place that the address names: `#/s/NAME/trial/4`, `#/devices`. */
function place() {
  const parts = location.hash.replace(/^#\/?/, "").split("/").filter(Boolean).map(decodeURIComponent);
  if (parts[0] === "s" && parts[1]) return { study: parts[1], view: parts[2] ?? "now", rest: parts.slice(3) };
  return { study: null, view: parts[0] ?? "", rest: parts.slice(1) };
}

async function render(here, renewed) {
  const own = ++turn;
  const file = PLACES[here.view];
  if (!file) return { title: "Nothing is here", node: [h("h1", {}, "Nothing is here"), h("p", {}, h("a", { class: "button primary", href: "#/" }, "To the studies"))] };
  const leave = renewed ? null : current?.leave;
  try {
    const module = await import(file).catch((error) => { throw error instanceof TypeError ? new NoLine() : error; });
    const made = await module.make(here, { renew });
    if (own !== turn) return null;
    if (leave) leave();
    return made;
  } catch (error) {
    if (own !== turn) return null;
    if (!(error instanceof NoLine || error instanceof Problem)) {
      reportError(error);
      return { title: "Not shown", node: failed({ message: "This is a fault in the page itself.", hint: String(error) }) };
    }
    if (error instanceof NoLine && renewed) return null;
    if (leave) leave();
    return { title: "Not reached", node: failed(error) };
  }
}

function failed(error) {
  if (error.status === 401) {
    return [h("h1", {}, "Pair this device"),
      h("p", { class: "lead" }, "Scan the code that the laptop shows, or open its link here."),
      h("p", {}, "The terminal prints it after ", h("code", {}, "optimiser serve --lan"), "; a paired device shows one under Devices. It works once, and lets this device in for 90 days.")];
  }
  const again = h("div", { class: "actions" }, h("button", { type: "button", class: "primary", onclick: () => go() }, "Try again"), error instanceof NoLine ? null : h("a", { class: "button", href: "#/" }, "To the studies"));
  return [h("h1", {}, error instanceof NoLine ? "No line to the laptop" : error.message), h("p", { class: "lead" }, error instanceof NoLine ? error.message : ""), h("p", {}, error.hint), again];
}

async function go() {
  if (location.hash === "#main") return;
  if (await pairing()) return;
  const here = place();
  main.setAttribute("aria-busy", "true");
  going += 1;
  const made = await render(here, false).finally(() => { going -= 1; });
  if (!made) return;
  current = { here, ...made };
  put(made);
  tabs(here);
  main.removeAttribute("aria-busy");
  window.scrollTo(0, 0);
  if (!first) main.querySelector("h1")?.focus({ preventScroll: true });
  if (first) setTimeout(fetchRest, REST_MS);
  first = false;
}

/** Fetch the other places while the line is good, so that they are there when it is not. */
function fetchRest() {
  for (const file of new Set(Object.values(PLACES))) import(file).catch(() => {});
}

function put(made) {
  document.title = `${made.title} – optimiser`;
  main.replaceChildren(...[made.node].flat(3).filter((node) => node !== null && node !== undefined && node !== ""));
  main.querySelector("h1")?.setAttribute("tabindex", "-1");
}

/** Whether a hand is at work, on its way to another place, on a button or in a question, and must not be disturbed. */
const isBusy = () => going > 0 || pressed || document.querySelector("dialog[open]") !== null;

function renewSoon() {
  clearTimeout(again);
  again = setTimeout(() => {
    if (isBusy()) renewSoon();
    else if (!isStill()) renew();
  }, GATHER_MS);
}

/** Draw the place that is shown again, and leave the eye, the focus and open tables where they were. */
async function renew() {
  const before = current;
  if (!before) return;
  if (isBusy()) {
    renewSoon();
    return;
  }
  const made = await render(before.here, true);
  if (!made || current !== before) return;
  if (isBusy()) {
    renewSoon();
    return;
  }
  const back = focusOf(document.activeElement);
  const open = [...main.querySelectorAll("details[open][data-hold]")].map((one) => one.dataset.hold);
  before.leave?.();
  const y = window.scrollY;
  current = { here: before.here, ...made };
  put(made);
  for (const name of open) main.querySelector(`details[data-hold="${CSS.escape(name)}"]`)?.setAttribute("open", "");
  window.scrollTo(0, y);
  back();
}

const nameOf = (element) => element.getAttribute("aria-label") ?? element.textContent;

/** Gives what puts the focus back to where it was, or to the heading where that is no longer there. */
function focusOf(element) {
  if (!element || element === main || !main.contains(element)) return () => {};
  const { hold } = element.dataset;
  const [tag, id, name] = [element.tagName, element.id, nameOf(element)];
  return () => {
    const there = (hold && main.querySelector(`[data-hold="${CSS.escape(hold)}"]`)) || (id && document.getElementById(id))
      || [...main.getElementsByTagName(tag)].find((other) => nameOf(other) === name) || main.querySelector("h1");
    there.focus({ preventScroll: true });
  };
}

/** Whether somebody is at something that must not be drawn anew under their hands. */
function isStill() {
  const still = current?.still;
  return typeof still === "function" ? still() : Boolean(still);
}

function tabs(here) {
  const bar = document.getElementById("tabs");
  bar.hidden = !here.study;
  if (!here.study) return;
  const now = TAB_OF[here.view] ?? here.view;
  bar.replaceChildren(h("ul", {}, TABS.map(([view, label]) =>
    h("li", {}, h("a", { href: view === "now" ? to("s", here.study) : to("s", here.study, view), "aria-current": view === now ? "page" : null }, label)))));
}

/** A code behind the address lets this device in, and is taken out of the address at once. */
async function pairing() {
  const code = /^#pair=(.+)$/.exec(location.hash)?.[1];
  if (!code) return false;
  history.replaceState(null, "", "#/");
  const { pair } = await import("./views/pairing.js");
  const made = await pair(decodeURIComponent(code));
  if (made === null) {
    connect();
    return false;
  }
  put(made);
  return true;
}

listen((event) => {
  if (event.type === "line") line(event.state);
  if (!current) return;
  const about = event.type === "again" || (event.type === "change" && (!current.here.study || event.study === current.here.study));
  if (event.type === "job" && current.job) current.job(event);
  if (!about || isStill()) {
    if (about && current.changed) current.changed(event);
    return;
  }
  renewSoon();
});

function line(state) {
  const shown = document.getElementById("line");
  if (shown.dataset.state === state) return;
  if (shown.dataset.state === "lost" || state === "lost") say(state === "live" ? "The line is back." : "No line to the laptop.");
  shown.dataset.state = state;
  document.getElementById("line-word").textContent = LINE[state];
}

document.addEventListener("pointerdown", () => { pressed = true; }, true);
for (const end of ["pointerup", "pointercancel", "dragend"]) document.addEventListener(end, () => { pressed = false; }, true);
window.addEventListener("blur", (event) => { if (event.target === window) pressed = false; });
document.querySelector(".skip").addEventListener("click", (event) => {
  event.preventDefault();
  main.focus();
});
document.addEventListener("unpaired", () => {
  if (!current || current.title === "Not reached") return;
  current = null;
  put({ title: "Pair this device", node: failed({ status: 401 }) });
  document.getElementById("tabs").hidden = true;
});
document.addEventListener("keydown", (event) => {
  if (keysOff() || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  if (event.target.closest("input, textarea, select")) return;
  if (current?.key?.(event)) {
    event.preventDefault();
    return;
  }
  const study = current?.here.study;
  const jumps = { n: to("s", study ?? ""), t: to("s", study ?? "", "trials"), h: to("s", study ?? "", "take"), l: to("s", study ?? "", "listen"), w: to("s", study ?? "", "what-if"), "?": "#/keys" };
  const jump = event.key === "?" || study ? jumps[event.key] : null;
  if (jump) {
    event.preventDefault();
    location.hash = jump;
  }
});
window.addEventListener("hashchange", go);
showUnsaved(() => { if (!isStill()) renew(); });
go();
connect();
