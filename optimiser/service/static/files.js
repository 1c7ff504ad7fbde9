/** Choosing two WAV files: dropped together, picked together, or one after the other. */

import { h } from "./dom.js";
import { bytes } from "./words.js";

const KINDS = ".wav,.wave,.w64,.rf64,.aif,.aiff,.flac,audio/*";
const PARTS = [["reference", "Reference", "the real chain"], ["capture", "Capture", "through the model"]];

/** An input for files that looks like every other button. */
function chooser(attributes) {
  const input = h("input", { type: "file", ...attributes });
  return { input, node: h("span", { class: "pick" }, input, h("span", { class: "button", "aria-hidden": "true" }, "Choose")) };
}

/** One file, chosen by a button that says which one it is. */
export function filePicker(id, label, accept = KINDS) {
  const name = h("span", { class: "quiet", id: `${id}-name` }, "none yet");
  const { input, node } = chooser({ id, accept, "aria-describedby": `${id}-name`, onchange: () => {
    name.textContent = input.files[0] ? `${input.files[0].name}, ${bytes(input.files[0].size)}` : "none yet";
  } });
  return { node: h("div", { class: "field" }, h("label", { for: id }, label), node, name), input };
}

/** Gives `{node, files()}` with `files()` as `{reference, capture}`, null where none is chosen. */
export function filePair() {
  const chosen = { reference: null, capture: null };
  const lines = {};
  const draw = () => {
    for (const [part] of PARTS) lines[part].textContent = chosen[part] ? `${chosen[part].name}, ${bytes(chosen[part].size)}` : "none yet";
    swap.hidden = !chosen.reference || !chosen.capture;
  };
  const swap = h("button", { type: "button", onclick: () => {
    [chosen.reference, chosen.capture] = [chosen.capture, chosen.reference];
    draw();
  } }, "Swap the two");
  const take = (part, files) => {
    if (files.length >= 2) Object.assign(chosen, sorted([...files].slice(0, 2)));
    else if (files.length === 1) chosen[part] = files[0];
    draw();
  };
  const pickers = PARTS.map(([part, label, hint]) => {
    lines[part] = h("span", { class: "quiet", id: `${part}-name` });
    return h("div", { class: "field" }, h("label", { for: `file-${part}` }, `${label}, ${hint}`),
      chooser({ id: `file-${part}`, accept: KINDS, multiple: true, "aria-describedby": `${part}-name`, onchange: (event) => take(part, event.target.files) }).node, lines[part]);
  });
  const node = h("div", { class: "drop" }, pickers, h("p", { class: "quiet" }, "Both may be dropped here or picked together. Up to 2 GB each; they go up in small pieces and carry on after a cut."), swap);
  for (const kind of ["dragover", "dragenter"]) {
    node.addEventListener(kind, (event) => {
      event.preventDefault();
      node.classList.add("over");
    });
  }
  for (const kind of ["dragleave", "drop"]) node.addEventListener(kind, () => node.classList.remove("over"));
  node.addEventListener("drop", (event) => {
    event.preventDefault();
    take(chosen.reference ? "capture" : "reference", event.dataTransfer.files);
  });
  draw();
  return { node, files: () => ({ ...chosen }) };
}

/** Two files by what their names say: a capture is called so, or comes second. */
function sorted(files) {
  const isCapture = (file) => /capt|model|clone|\bcap\b/i.test(file.name);
  const isReference = (file) => /ref|amp|chain/i.test(file.name);
  const turned = (isCapture(files[0]) && !isCapture(files[1])) || (isReference(files[1]) && !isReference(files[0]));
  return turned ? { reference: files[1], capture: files[0] } : { reference: files[0], capture: files[1] };
}
