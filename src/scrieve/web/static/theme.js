// Paper or night, before the page is drawn: as chosen on this device, else as the device itself has it. The page has a
// button for each; the one that would change something is shown.
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
  const set = (theme = chosen() ?? (dark.matches ? "night" : "paper")) => {
    root.dataset.theme = theme;
    for (const button of document.querySelectorAll("button.theme")) button.hidden = button.value === theme;
  };
  set();
  dark.addEventListener("change", () => set());
  addEventListener("DOMContentLoaded", () => {
    set();
    for (const button of document.querySelectorAll("button.theme")) {
      button.addEventListener("click", () => {
        const had = document.activeElement === button;
        try {
          localStorage.setItem("theme", button.value);
        } catch { /* chosen for this page only */ }
        set(button.value);
        if (had) document.querySelector("button.theme:not([hidden])").focus();
      });
    }
  });
})();
