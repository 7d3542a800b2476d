// Paper or night, before the page is drawn: as chosen on this device, else as the device itself has it.
(() => {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const chosen = () => {
    try {
      return localStorage.getItem("theme");
    } catch {
      return null; // a browser that keeps nothing
    }
  };
  const set = () => {
    root.dataset.theme = chosen() ?? (dark.matches ? "night" : "paper");
  };
  set();
  dark.addEventListener("change", set);
  addEventListener("DOMContentLoaded", () => {
    const button = document.querySelector(".theme");
    if (!button) return;
    const say = () => {
      button.textContent = root.dataset.theme === "night" ? "paper" : "night";
      button.setAttribute("aria-label", `Show the pages as ${button.textContent}`);
    };
    button.hidden = false;
    say();
    button.addEventListener("click", () => {
      try {
        localStorage.setItem("theme", button.textContent);
      } catch { /* chosen for this page only */ }
      root.dataset.theme = button.textContent;
      say();
    });
  });
})();
