/** Letting a phone or tablet in, and shutting devices out. */

import { get, path, raw, send } from "../api.js";
import { ask } from "../dialogs.js";
import { button, h } from "../dom.js";

export async function make(_, page) {
  const { paired, sessions } = await get("sessions");
  const node = [h("h1", {}, "Devices")];
  if (!paired) {
    node.push(h("p", { class: "lead" }, "This service answers to this machine alone."),
      h("p", {}, "To let a phone or tablet in, stop it and start it anew with ", h("code", {}, "optimiser serve --lan"), ". It then shows a code to be scanned."));
    return { title: "Devices", node };
  }
  const place = h("div", {});
  node.push(h("p", { class: "lead" }, "Each device is let in once, by a code that works once."),
    h("section", { class: "panel" }, h("h2", {}, "Let one more in"), place, button("Show a code", () => showCode(place), { class: "primary" })),
    h("section", { class: "panel" }, h("h2", {}, "Let in already"), h("ul", { class: "devices" }, sessions.map((session) => one(session, page)))),
    h("p", { class: "caution" }, h("strong", {}, "Mind: "), "plain HTTP hides nothing. Whoever can listen on this network can read and change what passes. Use it on a network that you trust."));
  return { title: "Devices", node, still: true };
}

async function showCode(place) {
  const made = await send("POST", "pairing/codes", {}).catch((error) => {
    place.replaceChildren(h("p", { class: "wrong", role: "alert" }, `${error.message} ${error.hint}`));
    return null;
  });
  if (!made) return;
  place.replaceChildren(
    h("img", { class: "code", src: made.picture, alt: "Code to be scanned with the other device's camera", width: 280, height: 280 }),
    h("p", {}, "Scan it with the other device's camera within ten minutes, or open this there:"), h("p", { class: "link" }, made.link));
}

function one(session, page) {
  return h("li", {}, h("span", {}, h("strong", {}, session.label), session.own ? " (this one)" : "", h("span", { class: "quiet" }, ` until ${session.ends_at.slice(0, 10)}`)),
    button("Shut out", async () => {
      const asked = await ask({ title: `Shut ${session.label} out`, text: session.own ? "This is the device you are using: it will need a new code." : "It will need a new code to come back.", confirm: "Shut out",
        act: () => raw("DELETE", path("sessions", session.id)) });
      if (asked) await page.renew();
    }, { "aria-label": `Shut ${session.label} out` }));
}
