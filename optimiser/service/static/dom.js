/** Building pages from values. Text is always text: nothing a person typed is ever read as markup. */

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" && "value" in element) element.value = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat(3)) {
    if (child === null || child === undefined || child === false || child === "") continue;
    element.append(child instanceof Node ? child : String(child));
  }
  return element;
}

/** An HTML element: `h("p", {class: "quiet"}, "text", child)`; attributes that start with `on` are listeners. */
export function h(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** The same for SVG. */
export function s(tag, attributes, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** A link to a place of the page, its parts written as they may stand in an address. */
export function to(...parts) {
  return `#/${parts.map((part) => encodeURIComponent(part)).join("/")}`;
}

/** Say something to those who do not look at the screen. */
export function say(text) {
  const said = document.getElementById("said");
  said.textContent = "";
  setTimeout(() => { said.textContent = text; }, 50);
}

/** A copy of a sentence that the page was served with. */
export function served(id) {
  return document.getElementById(id).content.cloneNode(true);
}

/** A button that cannot be pressed twice while what it started still runs. */
export function button(label, action, attributes) {
  const made = h("button", { type: "button", ...attributes }, label);
  made.addEventListener("click", async () => {
    if (made.getAttribute("aria-disabled") === "true") return;
    made.setAttribute("aria-disabled", "true");
    try {
      await action(made);
    } finally {
      made.removeAttribute("aria-disabled");
    }
  });
  return made;
}

/** A table that scrolls sideways where the page is too narrow, also by keyboard. */
export function table(caption, head, rows) {
  return h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption },
    h("table", {},
      h("thead", {}, h("tr", {}, head.map((name) => h("th", { scope: "col" }, name)))),
      h("tbody", {}, rows.map((row) => h("tr", {}, row.map((cell, place) =>
        place === 0 ? h("th", { scope: "row" }, cell) : h("td", {}, cell)))))));
}
