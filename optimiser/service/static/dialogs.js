/** Short questions in front of the page. */

import { button, h } from "./dom.js";

/** A labelled field: text, number or choice. */
export function field(label, name, attributes = {}, hint = "") {
  const id = `field-${name}`;
  const kinds = { textarea: "textarea", select: "select" };
  const { kind, options, ...rest } = attributes;
  const control = h(kinds[kind] ?? "input", { id, name, autocomplete: "off", ...rest, ...(hint ? { "aria-describedby": `${id}-hint` } : {}) },
    (options ?? []).map((option) => h("option", { value: option.value, selected: option.selected }, option.label)));
  return h("div", { class: "field" }, h("label", { for: id }, label), control, hint ? h("p", { id: `${id}-hint`, class: "quiet" }, hint) : null);
}

const REACHED = "a[href], button, input, select, textarea, summary";

/** Tab goes round in a dialog, and leaves it by none of its ends. */
function keepInside(event, dialog) {
  if (event.key !== "Tab") return;
  const isShut = (one) => one.tagName !== "SUMMARY" && one.closest("details:not([open])") !== null;
  const reached = [...dialog.querySelectorAll(REACHED)].filter((one) => !isShut(one) && (one.type !== "radio" || one.checked));
  const [last, first] = event.shiftKey ? [reached[0], reached.at(-1)] : [reached.at(-1), reached[0]];
  if (document.activeElement !== last) return;
  event.preventDefault();
  first.focus();
}

/**
 * Ask something. `act` gets what was entered, by name, and may throw: what went wrong is said in the dialog, which
 * stays open. Gives what `act` gave, or null when it was left.
 */
export function ask({ title, text = "", fields = [], confirm, act = (entered) => entered }) {
  return new Promise((done) => {
    const wrong = h("p", { class: "wrong", role: "alert" });
    let outcome = null;
    const form = h("form", { method: "dialog" },
      h("h2", { id: "dialog-title" }, title),
      text ? h("p", {}, text) : null,
      fields,
      wrong,
      h("div", { class: "actions" },
        h("button", { type: "submit", class: "primary" }, confirm),
        button("Leave it", () => dialog.close())));
    const dialog = h("dialog", { "aria-labelledby": "dialog-title" }, form);
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (form.dataset.busy) return;
      form.dataset.busy = "yes";
      wrong.textContent = "";
      try {
        outcome = { told: await act(Object.fromEntries(new FormData(form))) };
        dialog.close();
      } catch (error) {
        wrong.replaceChildren(error.message, h("br"), error.hint ?? "");
      } finally {
        delete form.dataset.busy;
      }
    });
    dialog.addEventListener("keydown", (event) => keepInside(event, dialog));
    dialog.addEventListener("close", () => {
      dialog.remove();
      done(outcome);
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}
