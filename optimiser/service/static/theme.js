/* Dark or light as was chosen; runs before anything is drawn. */
"use strict";
(function () {
  const KEY = "optimiser.theme";
  const root = document.documentElement;
  const light = window.matchMedia("(prefers-color-scheme: light)");
  const stored = () => {
    try { return localStorage.getItem(KEY); } catch { return null; }
  };
  const isLight = () => (root.dataset.theme ? root.dataset.theme === "light" : light.matches);
  const chosen = stored();
  if (chosen === "light" || chosen === "dark") root.dataset.theme = chosen;
  document.addEventListener("DOMContentLoaded", () => {
    const button = document.getElementById("theme");
    const say = () => { button.textContent = isLight() ? "Dark theme" : "Light theme"; };
    say();
    light.addEventListener("change", say);
    button.addEventListener("click", () => {
      root.dataset.theme = isLight() ? "dark" : "light";
      try { localStorage.setItem(KEY, root.dataset.theme); } catch { /* it holds until the page is closed */ }
      say();
    });
  });
})();
