/** Keys that work everywhere, and what to mind beside a loud amp. */

import { h, served } from "../dom.js";
import { KEYS, keysOff, setKeys } from "../keys.js";

export function make({ view }) {
  return view === "keys" ? keys() : { title: "Cautions", node: [h("h1", {}, "Cautions"), served("cautions")] };
}

function keys() {
  const off = h("input", { type: "checkbox", checked: !keysOff(), onchange: (event) => setKeys(event.target.checked) });
  return {
    title: "Keys",
    still: true,
    node: [
      h("h1", {}, "Keys"),
      h("p", { class: "lead" }, "Everything can be reached with Tab, Enter and Space. These single keys are quicker."),
      h("label", { class: "choice" }, off, h("span", {}, "Single keys are on")),
      h("dl", { class: "keys" }, KEYS.map(([key, what]) => h("div", {}, h("dt", {}, h("kbd", {}, key)), h("dd", {}, what)))),
    ],
  };
}
