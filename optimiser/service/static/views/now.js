/** What to set now. */

import { NoLine, get, newKey, path, send } from "../api.js";
import { ask, field } from "../dialogs.js";
import { button, h, say, served, to } from "../dom.js";
import { drawing, move } from "../drawings.js";
import { declineFields, failRun, fetchReel } from "../steps.js";
import { heldOf, hold, letGo } from "../holds.js";
import { INTERVAL_SDS, SPREAD, alike, capital, clock, count, minutes, number, percent, plusMinus, shown, trialOf } from "../words.js";

const DRAWN_SHARES = 12;

let wished = { of: "", key: "" };

export async function make({ study: name }, { renew }) {
  const page = { renew, unasked: h("div", { class: "unasked", role: "alert" }) };
  const [study, { jobs }] = await Promise.all([get(path("studies", name)), get("jobs?most=20")]);
  const proposal = study.proposals[0];
  const job = jobs.find((one) => one.study === name);
  const heading = h("p", { class: "where" }, study.title || study.name);
  if (!study.goal_reference && !study.trials && study.sheet.overall?.goal !== 0) {
    return { title: "Set now", node: [heading, beginning(study, page)] };
  }
  const node = proposal ? waiting(study, proposal, page) : asking(study, page);
  return { title: proposal ? `Set now: trial ${proposal.trial}` : "Set now", node: [heading, underWay(job, proposal), goalAgain(study), node], job: (event) => event.study === name && page.renew(), key: (event) => keyed(event, study) };
}

function keyed(event, study) {
  if (event.key !== "h" || !study.proposals.length) return false;
  location.hash = to("s", study.name, "take");
  return true;
}

/** A take that is being measured, perhaps handed over on another device, or could not be. */
function underWay(job, proposal) {
  if (!job) return null;
  const what = job.kind === "goal" ? "The goal reference" : job.trial ? `Trial ${job.trial}` : "A take";
  if (job.state === "waiting" || job.state === "running") return h("p", { class: "check", role: "status" }, h("strong", {}, `${what} is being measured. `), "Its result follows here.");
  if (job.state !== "failed" || (job.kind === "take" && job.trial !== proposal?.trial)) return null;
  return h("p", { class: "wrong" }, `${what} could not be measured: ${job.error.message} ${job.error.hint}`);
}

/** That takes will not be held against the goal reference, as another proof reel was made since. */
function goalAgain(study) {
  if (!study.goal_again) return null;
  return h("p", { class: "check" }, h("strong", {}, "Goal reference. "), `${study.goal_again.why} `, h("a", { href: to("s", study.name, "goal") }, "Record it again"));
}

function beginning(study, page) {
  return [
    h("h1", {}, "First, the tone you want"),
    h("p", { class: "lead" }, "Set the chain as you like it best and record the proof reel through it once. Every capture is then compared with that tone, not only with its own reference."),
    served("caution-load"),
    page.unasked,
    h("div", { class: "actions" },
      h("a", { class: "button primary", href: to("s", study.name, "goal") }, "Record the goal reference"),
      nextButton(study, page, "Go on without one", "")),
  ];
}

function asking(study, page) {
  const last = study.last;
  return [
    h("h1", {}, "What next?"),
    last ? h("p", { class: "lead" }, `${last.state === "failed" ? `The run of trial ${last.trial} failed` : `Trial ${last.trial} is in${last.overall === null ? "" : `: ${number(last.overall)} of 100${last.by_reading ? " by its reading alone" : ""}`}`}. Nothing waits to be set.`) : h("p", { class: "lead" }, "Nothing was tried yet."),
    held(study, page),
    page.unasked,
    h("div", { class: "actions" }, nextButton(study, page, "Show what to set next"), button("I set something of my own", () => { location.hash = to("s", study.name, "take", "own"); })),
  ];
}

function nextButton(study, page, label, kind = "primary") {
  return button(label, () => askNext(study, page, {}), { class: kind, "data-hold": "next" });
}

/** Ask the service; as long as the study stands as it does, the same wish has the same key and is met once. */
function sendNext(study, wish) {
  const body = { lock: heldOf(study.name), ...wish };
  const of = JSON.stringify([study.name, study.event, body]);
  if (wished.of !== of) wished = { of, key: newKey() };
  return send("POST", path("studies", study.name, "next"), body, wished.key);
}

/**
 * Ask for a proposal with what is held. It is never sent later: by then somebody may have set the trial that "another"
 * would put aside. A press that was not heard is said to be so, and offered again.
 */
async function askNext(study, page, wish) {
  page.unasked.replaceChildren();
  try {
    const told = await sendNext(study, wish);
    say(`Here is what to set next.${told.let_go?.length ? ` No longer held: ${told.let_go.join(", ")}.` : ""}`);
    await page.renew();
  } catch (error) {
    if (error instanceof NoLine) {
      page.unasked.replaceChildren(h("p", { class: "wrong" }, "No line to the laptop, so nothing new is proposed."),
        h("p", {}, "It is not sent later by itself. Press again when the line is back; however often you press, you get one proposal."), button("Ask again", () => askNext(study, page, wish)));
      return;
    }
    const retried = await ask({ title: "No proposal", text: `${error.message} ${error.hint}`, confirm: "Try again", act: () => sendNext(study, wish) });
    if (retried) await page.renew();
  }
}

function waiting(study, proposal, page) {
  const before = study.last;
  const shownHere = study.settings.filter((setting) => setting.name in proposal.settings);
  const rows = shownHere.map((setting) => row(study, setting, proposal, before, page));
  const changes = before ? shownHere.filter((setting) => !alike(before.settings[setting.name], proposal.settings[setting.name])).length : shownHere.length;
  const gone = before ? study.settings.filter((setting) => setting.name in before.settings && !(setting.name in proposal.settings)) : [];
  return [
    h("div", { class: "lead-in" }, h("h1", {}, "Set now"), h("p", { class: "tag" }, trialOf(proposal.trial, study))),
    proposal.kind === "check" ? h("p", { class: "check" }, h("strong", {}, "Check trial. "), "These settings were measured before; making them again shows what today reads high or low by.") : null,
    h("p", { class: "lead" }, before
      ? `${changes ? count(changes, "thing changes", "things change") : "Nothing changes"} since trial ${before.trial}; ${minutes(proposal.effort_minutes)} of handling.`
      : `The first trial: set all of it; ${minutes(proposal.effort_minutes)} of handling.`),
    h("ul", { class: "settings" }, rows),
    gone.length ? h("p", { class: "quiet" }, `Not needed now: ${gone.map((setting) => setting.name).join(", ")}.`) : null,
    before && !alike(before.settings.mic, proposal.settings.mic) && shownHere.some((setting) => setting.kind === "mic") ? served("caution-ribbon") : null,
    held(study, page),
    page.unasked,
    h("div", { class: "actions" },
      h("a", { class: "button primary", href: to("s", study.name, "take", proposal.trial) }, "Hand over the take"),
      shownHere.some((setting) => setting.kind === "riff order") ? button("Learning reel in this order", () => learningReel(study, proposal)) : null,
      button("Give me another", () => askNext(study, page, { other: true })),
      button("I cannot set this", () => decline(study, proposal, page)),
      button("I set something else", () => { location.hash = to("s", study.name, "take", proposal.trial, "else"); }),
      button("The run failed", () => failRun(study, proposal.trial))),
    expected(study, proposal),
    why(study, proposal),
    others(study),
    served("caution-hearing"),
  ];
}

async function learningReel(study, proposal) {
  try {
    await fetchReel(study, { kind: "learning", trial: proposal.trial });
  } catch (error) {
    await ask({ title: "No reel", text: `${error.message} ${error.hint}`, confirm: "I see" });
  }
}

function row(study, setting, proposal, before, page) {
  const value = proposal.settings[setting.name];
  const was = before?.settings[setting.name];
  const same = before && alike(was, value);
  const { picture, body } = drawing(setting, value, was);
  const { word, arrow, from } = same ? { word: "leave", arrow: "=", from: "" } : move(setting, value, was);
  const isHeld = setting.name in heldOf(study.name);
  return h("li", { class: `setting ${same ? "same" : "moved"}` },
    h("div", { class: "picture" }, picture),
    h("div", { class: "what" },
      h("h2", {}, setting.name),
      body,
      h("p", { class: "move" }, h("span", { class: "way-word" }, arrow ? h("span", { class: "arrow", "aria-hidden": "true" }, arrow) : null, " ", h("strong", {}, word)), from ? ` from ${from}` : "")),
    button(isHeld ? "Held" : "Hold", () => holding(study, setting, value, was, page), { class: "hold", "aria-label": `Hold ${setting.name}`, "aria-pressed": String(isHeld), "data-hold": `hold-${setting.name}` }));
}

async function holding(study, setting, value, was, page) {
  if (setting.name in heldOf(study.name)) {
    letGo(study.name, setting.name);
    await page.renew();
    return;
  }
  const stands = was !== undefined && !alike(was, value) ? [{ value: "was", label: `as it stands: ${shown(setting, was)}`, selected: true }] : [];
  const asked = await ask({
    title: `Hold ${setting.name}`,
    text: "What is held does not change in further proposals, on this device, until you let it go.",
    fields: [field("Keep it", "at", { kind: "select", options: [...stands, { value: "now", label: `as proposed: ${shown(setting, value)}` }] })],
    confirm: "Hold it",
  });
  if (!asked) return;
  hold(study.name, setting.name, asked.told.at === "was" ? was : value);
  if (asked.told.at === "was") await askNext(study, page, {});
  else await page.renew();
}

function held(study, page) {
  const names = Object.entries(heldOf(study.name));
  const elsewhere = (study.proposals[0]?.held ?? []).filter((name) => !(name in heldOf(study.name)));
  if (!names.length) return elsewhere.length ? h("p", { class: "held" }, h("strong", {}, "Held in this proposal: "), `${elsewhere.join(", ")}. Another one asked for here does not keep that; to keep it, hold it.`) : null;
  const byName = Object.fromEntries(study.settings.map((setting) => [setting.name, setting]));
  return h("p", { class: "held" }, h("strong", {}, "Held: "), names.map(([name, value]) => `${name} at ${byName[name] ? shown(byName[name], value) : clock(value)}`).join(", "), ". ",
    button("Let go of all", async () => {
      for (const [name] of names) letGo(study.name, name);
      await page.renew();
    }));
}

async function decline(study, proposal, page) {
  const asked = await ask({
    title: `Trial ${proposal.trial} cannot be set`,
    text: "It is put aside with your reason, and another is proposed.",
    fields: declineFields(),
    confirm: "Give me another",
    act: ({ why: reason, more }) => sendNext(study, { other: true, reason: [reason, more].filter(Boolean).join(": ") }),
  });
  if (asked) await page.renew();
}

function expected(study, proposal) {
  const unknown = proposal.expected === null || proposal.expected === undefined;
  const facts = [
    ["Expected score", unknown ? "not known yet" : plusMinus(proposal.expected, proposal.expected_se)],
    ["Chance of a new best", percent(proposal.chance_best)],
    study.reading_band ? [`Chance of ${study.reading_band.accepted}`, percent(proposal.chance_in_band)] : null,
    ["Handling", minutes(proposal.effort_minutes)],
  ].filter((fact) => fact && fact[1] !== "–");
  return h("section", { class: "panel" }, h("h2", {}, "What to expect"),
    h("dl", { class: "facts" }, facts.map(([label, value]) => h("div", {}, h("dt", {}, label), h("dd", {}, value)))),
    unknown ? null : h("p", { class: "quiet" }, SPREAD));
}

function why(study, proposal) {
  const shares = Object.entries(proposal.by_setting ?? {}).filter(([, { gain, doubt }]) => gain || doubt).slice(0, DRAWN_SHARES);
  const easier = proposal.runner_up;
  return h("section", { class: "panel" }, h("h2", {}, "Why this one"),
    h("p", {}, sentence(proposal.reason)),
    shares.length ? h("details", { "data-hold": "shares" }, h("summary", {}, `What each setting brings, beside ${proposal.nearest ? `trial ${proposal.nearest}` : "the best so far"}`),
      h("dl", { class: "facts" }, shares.map(([name, { gain, doubt }]) => h("div", {}, h("dt", {}, name), h("dd", {}, signed(gain), h("span", { class: "quiet" }, `± ${doubt < 0 ? "shrinks" : "grows"} by ${number(Math.abs(INTERVAL_SDS * doubt))}`))))),
      h("p", { class: "quiet" }, "Points of the score that each change is expected to bring, and what it does to the ± of the expected score.")) : null,
    easier ? h("details", { "data-hold": "easier" }, h("summary", {}, "An easier one"),
      h("p", {}, `${sentence(easier.changes)} Expected ${plusMinus(easier.expected, easier.expected_se)}, ${minutes(easier.effort_minutes)} of handling.`),
      h("a", { class: "button", href: to("s", study.name, "take", "own", JSON.stringify(easier.settings)) }, "I make this one instead")) : null);
}

const signed = (points) => `${points < 0 ? "−" : "+"}${number(Math.abs(points))}`;

function sentence(text) {
  const whole = (text ?? "").replaceAll("->", "→").trim();
  return whole ? capital(whole) + (/[.!?]$/.test(whole) ? "" : ".") : "";
}

/** What changes from the trial before it, or the whole arrangement while none was made. */
function afterwards(proposal) {
  if (!proposal.changes) return Object.entries(proposal.shown).map(([name, said]) => `${name} ${said}`).join(", ");
  return `${sentence(proposal.changes)}${proposal.effort_minutes ? ` ${capital(minutes(proposal.effort_minutes))} of handling.` : ""}`;
}

function others(study) {
  if (study.proposals.length < 2) return null;
  return h("section", { class: "panel" }, h("h2", {}, "Then"), h("ol", {}, study.proposals.slice(1).map((proposal) => h("li", {}, `Trial ${proposal.trial}: ${afterwards(proposal)}`))));
}
