/* Dark, or light where that was chosen; runs before anything is drawn. */
"use strict";
(function () {
  const KEY = "optimiser.theme";
  const root = document.documentElement;
  const isLight = () => root.dataset.theme === "light";
  try { if (localStorage.getItem(KEY) === "light") root.dataset.theme = "light"; } catch { /* nothing was kept */ }
  document.addEventListener("DOMContentLoaded", () => {
    const button = document.getElementById("theme");
    const say = () => { button.textContent = isLight() ? "Dark theme" : "Light theme"; };
    say();
    button.addEventListener("click", () => {
      root.dataset.theme = isLight() ? "dark" : "light";
      try { localStorage.setItem(KEY, root.dataset.theme); } catch { /* it holds until the page is closed */ }
      say();
    });
  });
})();
