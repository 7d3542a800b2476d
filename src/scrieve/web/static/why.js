// A figure pressed in a table opens its own working in a row below it; pressed again, it closes. Without this the
// workings of all rows stand below the table. Where they stand on a page of their own (data-own) they come from there.
async function there(worked) {
  if (worked.querySelector(".why-rows") || !worked.dataset.own) return true;
  try {
    const reply = await fetch(worked.dataset.own);
    const found = new DOMParser().parseFromString(await reply.text(), "text/html").querySelector(".why-rows");
    if (found) worked.lastElementChild.replaceWith(found);
    return Boolean(found);
  } catch {
    return false;
  }
}

function own(cell) {
  const row = cell.parentElement;
  const before = [...row.parentElement.rows].filter((each) => !each.matches(".own"));
  const column = cell.closest(".worked").querySelector(`.why-rows [data-column="${cell.cellIndex}"]`);
  const at = before.indexOf(row);
  const mine = column?.querySelector(`[data-row="${at}"]`);
  if (!mine) return null;
  const below = document.createElement("tr");
  below.className = "own";
  const whole = below.insertCell();
  whole.colSpan = row.cells.length;
  const box = document.createElement("div");
  for (const part of column.querySelectorAll("h4, .formula")) box.append(part.cloneNode(true));
  const list = document.createElement("ul");
  list.className = "put-in";
  list.append(mine.cloneNode(true));
  box.append(list);
  for (const part of column.querySelectorAll(".inputs, .note")) box.append(part.cloneNode(true));
  whole.append(box);
  return below;
}

addEventListener("click", async (event) => {
  const cell = event.target.closest(".worked tbody td.fig, .worked:has(> .why-rows) tbody td");
  if (!cell || cell.closest(".own") || event.target.closest("a, button, input") || getSelection().type === "Range") return;
  const table = cell.closest("table");
  const again = cell.matches(".asked");
  for (const each of table.querySelectorAll(".asked")) each.classList.remove("asked");
  for (const each of table.querySelectorAll("tr.own")) each.remove();
  const worked = cell.closest(".worked");
  if (!again && !(await there(worked))) location.assign(`${worked.dataset.own}#workings`);
  const below = again ? null : own(cell);
  if (!below) return;
  cell.classList.add("asked");
  cell.parentElement.after(below);
  below.firstElementChild.firstElementChild.style.setProperty("width", `${cell.closest(".scroll").clientWidth}px`);
  below.scrollIntoView({ block: "nearest" });
});
