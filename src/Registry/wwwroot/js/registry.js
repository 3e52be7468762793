// Small behaviours. Every page works without them.
"use strict";

document.addEventListener("click", event => {
  const filler = event.target.closest("[data-fill]");
  if (filler) {
    const form = document.querySelector(filler.dataset.fill);
    form.elements.Email.value = filler.dataset.fillEmail;
    form.elements.Password.value = filler.dataset.fillPassword;
    form.querySelector("button[type=submit]").focus();
  }

  const copier = event.target.closest("[data-copy]");
  if (copier) {
    navigator.clipboard.writeText(document.querySelector(copier.dataset.copy).textContent);
    copier.textContent = "Copied";
  }

  const printer = event.target.closest("[data-print]");
  if (printer) window.print();
});

// "/" goes to the search, unless something is being typed.
document.addEventListener("keydown", event => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, [contenteditable]")) return;
  const search = document.querySelector("[data-find]");
  if (!search) return;
  event.preventDefault();
  search.focus();
  search.select();
});

// In a grid of levels the arrow keys and Enter go from cell to cell.
document.addEventListener("keydown", event => {
  const grid = event.target.closest?.("[data-levels]");
  const step = { ArrowUp: [-1, 0], ArrowDown: [1, 0], Enter: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
  if (!grid || !step || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (step[1] < 0 && at.selectionEnd > 0) return;
  if (step[1] > 0 && at.selectionStart < at.value.length) return;
  event.preventDefault();
  const rows = [...grid.tBodies[0].rows];
  let row = at.closest("tr").sectionRowIndex;
  let column = at.closest("td").cellIndex;
  for (;;) {
    [row, column] = [row + step[0], column + step[1]];
    const cell = rows[row]?.cells[column];
    if (!cell || column < 1) return;
    const next = cell.querySelector("input");
    if (!next) continue;
    next.focus();
    next.select();
    return;
  }
});

// The list a record is opened from is remembered in this tab, as addresses only: the way back, to the one before and to the next.
const opened = "registry.list";
const infant = address => /^\/infants\/[0-9a-f-]{36}$/.exec(new URL(address, location.href).pathname)?.[0];
const steps = document.querySelector("[data-steps]");
document.addEventListener("click", event => {
  const link = event.target.closest("main a[href]");
  if (steps || !link || !infant(link.href)) return;
  const links = [...document.querySelectorAll("main a[href]")].filter(a => infant(a.href)).map(a => a.getAttribute("href"));
  sessionStorage.setItem(opened, JSON.stringify({ list: location.pathname + location.search, infants: [...new Set(links)] }));
});
document.addEventListener("submit", event => {
  if (event.target.matches("[action='/sign-out']")) sessionStorage.removeItem(opened);
});

// What the ward list keeps on a phone (ward.js) is deleted at sign-out, and its keys where nobody is signed in.
document.addEventListener("submit", event => {
  if (!event.target.matches("[action='/sign-out']")) return;
  const waiting = Number(localStorage.getItem("registry.waiting"));
  if (waiting > 0 && !window.confirm(`Results on this phone are not sent yet: ${waiting}. Signing out deletes them.`)) {
    event.preventDefault();
    return;
  }
  localStorage.removeItem("registry.waiting");
  window.indexedDB?.deleteDatabase("registry-ward");
});
if (location.pathname === "/sign-in" && window.crypto?.subtle && window.indexedDB) import("/js/kept.js").then(kept => kept.endAll());
if (steps) {
  const { list, infants } = JSON.parse(sessionStorage.getItem(opened)) ?? {};
  const at = infants?.findIndex(address => infant(address) === infant(location.href)) ?? -1;
  if (at >= 0) {
    steps.hidden = false;
    steps.querySelector("[data-back]").href = list;
    steps.querySelector("[data-place]").textContent = `${at + 1} of ${infants.length}`;
    for (const [name, address] of [["previous", infants[at - 1]], ["next", infants[at + 1]]]) {
      const step = steps.querySelector(`[data-${name}]`);
      if (address) step.href = address;
      else step.hidden = true;
    }
  }
}

// A menu closes with Escape, and when something else is pressed.
document.addEventListener("keydown", event => {
  const menu = event.key === "Escape" && event.target.closest("details:is(.menu, .as-of)[open]");
  if (!menu) return;
  menu.open = false;
  menu.querySelector("summary").focus();
});
document.addEventListener("click", event => {
  for (const menu of document.querySelectorAll("details:is(.menu, .as-of)[open]")) if (!menu.contains(event.target)) menu.open = false;
});

// Copying needs a browser that lets a page do it.
for (const copier of document.querySelectorAll("[data-copy]")) copier.hidden = !navigator.clipboard;

// A form marked data-confirm asks before it is sent.
document.addEventListener("submit", event => {
  const question = event.submitter?.dataset.confirm ?? event.target.dataset.confirm;
  if (question && !window.confirm(question)) event.preventDefault();
});

// A filter marked data-submit-on-change is applied as soon as it is chosen.
document.addEventListener("change", event => {
  if (event.target.matches("[data-submit-on-change]")) event.target.form.requestSubmit();
});

// The box in a list's head ticks every row of the page, or none.
for (const all of document.querySelectorAll("[data-tick-all]")) {
  const boxes = () => all.form.querySelectorAll("tbody input[type=checkbox]");
  all.hidden = false;
  all.addEventListener("change", () => { for (const box of boxes()) box.checked = all.checked; });
  all.form.addEventListener("change", () => { all.checked = [...boxes()].every(box => box.checked); });
}
