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
