/** The buttons of a player: play, what is heard, where it is, whether it goes round. */

import { button, h } from "./dom.js";
import { Player } from "./player.js";
import { number } from "./words.js";

/** `names` are letter and word of the clips by name; gives `{node, key(event), player, close()}`. */
export function deck(clips, names, letters) {
  const player = new Player(clips, () => draw());
  const play = button("Play", () => (player.playing ? player.pause() : player.play()), { class: "primary play" });
  const switches = Object.entries(names).map(([name, label]) => h("button", { type: "button", class: "switch", "data-part": name, onclick: () => player.hear(name) }, h("b", {}, label[0]), label[1] ? h("span", {}, label[1]) : null));
  const place = h("input", { type: "range", min: 0, max: 1, step: "any", value: 0, id: "place", "aria-label": "Where in the excerpt" });
  place.addEventListener("input", () => player.seek(place.valueAsNumber * player.seconds));
  const clock = h("output", { for: "place" }, "0.0 s");
  const loop = h("label", { class: "choice" }, h("input", { type: "checkbox", checked: true, onchange: (event) => player.setLoop(event.target.checked) }), h("span", {}, "Repeat"));
  const back = (by, label, word) => h("button", { type: "button", class: "nudge", "aria-label": word, onclick: () => player.seek(player.now() + by) }, label);

  function draw() {
    play.textContent = player.playing ? "Pause" : "Play";
    for (const one of switches) one.setAttribute("aria-pressed", String(one.dataset.part === player.heard));
    tick();
  }
  function tick() {
    const now = player.now();
    if (player.seconds && document.activeElement !== place) place.value = now / player.seconds;
    place.setAttribute("aria-valuetext", `${number(now)} seconds`);
    clock.textContent = `${number(now)} s`;
  }
  const pulse = setInterval(() => { if (player.playing) tick(); }, 100);
  draw();
  const node = h("div", { class: "deck" }, h("div", { class: "switches", role: "group", "aria-label": "What is heard" }, switches), h("div", { class: "slide" }, back(-1, "−1 s", "One second back"), place, back(1, "+1 s", "One second on")), h("div", { class: "row" }, play, loop, clock));
  return {
    node,
    player,
    key(event) {
      if (event.key === " " && !event.target.closest("button, a, summary")) { play.click(); return true; }
      if (letters[event.key] && names[letters[event.key]]) { player.hear(letters[event.key]); return true; }
      if (event.key === "ArrowLeft" || event.key === "ArrowRight") { player.seek(player.now() + (event.key === "ArrowLeft" ? -1 : 1)); return true; }
      return false;
    },
    close() {
      clearInterval(pulse);
      player.close();
    },
  };
}
