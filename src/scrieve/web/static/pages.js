// What the pages do beyond plain HTML: drawings that can be enlarged, and workings that open before printing.
import { boards } from "./drawing.js";

boards(document);

// on a narrow screen the row of pages is longer than the screen: the one that is open is brought into sight
const row = document.querySelector(".head nav");
const open = row?.querySelector("[aria-current]");
if (open && row.scrollWidth > row.clientWidth) row.scrollLeft = open.offsetLeft - (row.clientWidth - open.offsetWidth) / 2;

// where a page stands: the tab that is open is part of it
const crumb = document.querySelector(".crumbs [data-tab]");
if (crumb) {
  const label = crumb.textContent;
  const say = () => {
    const tab = [...document.querySelectorAll(".tabs a")].find((each) => location.hash && each.hash === location.hash);
    crumb.textContent = tab ? `${label} › ${tab.textContent.toLowerCase()}` : label;
  };
  say();
  addEventListener("hashchange", say);
}

// a link to what is folded away unfolds it
const unfold = () => {
  const aim = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (aim instanceof HTMLDetailsElement) aim.open = true;
};
addEventListener("hashchange", unfold);
unfold();

addEventListener("beforeprint", () => {
  for (const details of document.querySelectorAll("details:not([open], .why-rows)")) details.open = true;
});
