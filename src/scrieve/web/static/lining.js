// While butts or stealers are looked for, the page asks again by itself; not while something is being typed into it.
let typed = false;
document.addEventListener("input", () => { typed = true; });
setInterval(() => { if (!typed) location.reload(); }, 1500);
