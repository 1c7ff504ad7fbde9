/** What waits for the line, shown on every page until the service has it. */

import { ask } from "./dialogs.js";
import { button, h, say } from "./dom.js";
import { capital } from "./words.js";
import { discard, onChange, retry, waiting } from "./outbox.js";

export function showUnsaved(renew) {
  const place = document.getElementById("unsaved");
  const draw = (entries) => {
    place.hidden = entries.length === 0;
    place.replaceChildren(...(entries.length ? panel(entries) : []));
  };
  onChange(draw);
  draw(waiting());
  document.addEventListener("stored", (event) => {
    const { entry, answer } = event.detail;
    say(`Saved: ${entry.label}`);
    if (answer?.remark) ask({ title: "Nothing changed", text: answer.remark, confirm: "I see" });
    renew();
  });
  if (waiting().length) retry();
}

function panel(entries) {
  const lost = entries.some((entry) => Object.values(entry.files ?? {}).some((file) => !file.lasting));
  return [
    h("h2", {}, "Not yet saved"),
    h("ul", {}, entries.map((entry) => h("li", {}, h("span", {}, capital(entry.label)), entry.refused ? refused(entry) : h("span", { class: "quiet" }, " is on its way, and is sent again until it is saved.")))),
    lost ? h("p", { class: "wrong" }, "This browser cannot keep files: leave this page open until they are saved.") : null,
    entries.some((entry) => !entry.refused) ? button("Send now", retry) : null,
  ].filter(Boolean);
}

function refused(entry) {
  return h("div", { class: "wrong" }, h("p", {}, `Refused: ${entry.refused.message} ${entry.refused.hint}`), button("Drop it", () => discard(entry.key)));
}
