/** Small steps that several places offer. */

import { at, newKey, path, send } from "./api.js";
import { ask, field } from "./dialogs.js";
import { h } from "./dom.js";
import { submit } from "./outbox.js";

const WHYS = ["cannot be reached", "not safe for the gear or the ears", "sounds wrong already", "takes too long today", "another reason"];

export function declineFields() {
  return [
    field("Why", "why", { kind: "select", options: WHYS.map((why) => ({ value: why, label: why })) }),
    field("More, if you like", "more", { maxlength: 500 }),
  ];
}

/** Make a dry reel for a study and let the browser keep it; gives what is told of it. */
export async function fetchReel(study, wish) {
  const made = await send("POST", path("studies", study.name, "reels"), wish, newKey());
  const link = h("a", { href: at(`${path("studies", study.name)}/${made.file}`), download: `${study.name}-${wish.kind}.wav` });
  document.body.append(link);
  link.click();
  link.remove();
  return made;
}

/** Put down that a run gave no capture. */
export function failRun(study, trial) {
  return ask({
    title: `The run of trial ${trial} failed`,
    text: "Choose this when the device gave no capture. The trial is kept as failed, and the next one is proposed.",
    fields: [field("What happened, if you like", "note", { maxlength: 1000 })],
    confirm: "It failed",
    act: ({ note }) => submit({
      method: "POST", path: path("studies", study.name, "trials"), body: { trial, failed: true, note }, study: study.name, label: `trial ${trial} failed`,
    }),
  });
}
