// Uploading with progress, and following a submission while it is processed. Both pages work without it.
const form = document.querySelector("form[data-upload]");
if (form) {
  const input = form.querySelector("input[type=file]");
  const drop = form.querySelector("[data-drop]");
  const trial = document.querySelector("[data-trial]");
  form.querySelector("[data-drop-hint]").hidden = false;
  for (const type of ["dragenter", "dragover"]) {
    drop.addEventListener(type, event => { event.preventDefault(); drop.classList.add("over"); });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", event => {
    event.preventDefault();
    drop.classList.remove("over");
    if (event.dataTransfer.files.length > 0) input.files = event.dataTransfer.files;
  });

  form.addEventListener("submit", event => {
    event.preventDefault();
    const box = form.querySelector("[data-progress]");
    const bar = box.querySelector("progress");
    const words = box.querySelector("[data-progress-words]");
    const buttons = form.querySelectorAll("button[type=submit]");
    const trying = event.submitter?.dataset.try !== undefined;
    const enable = on => { for (const button of buttons) button.disabled = !on; };
    const request = new XMLHttpRequest();
    box.hidden = false;
    enable(false);
    trial.replaceChildren();
    const failed = reason => { enable(true); words.textContent = reason; };
    request.upload.addEventListener("progress", e => {
      if (!e.lengthComputable) return;
      bar.value = 100 * e.loaded / e.total;
      words.textContent = e.loaded < e.total ? `${Math.floor(bar.value)} % sent` : (trying ? "Sent. The rows are being tried." : "Sent. The rows are being stored.");
    });
    request.addEventListener("load", () => {
      if (request.status < 400 && trying) {
        const tried = new DOMParser().parseFromString(request.responseText, "text/html").querySelector("[data-trial]");
        if (!tried) { failed("You are no longer signed in. Nothing was stored; sign in in another tab, and try the file again here."); return; }
        for (const place of form.querySelectorAll("[data-valmsg-for]")) place.textContent = "";
        failed("");
        box.hidden = true;
        // What is said of the file is announced when it changes: it is put in once the place is there.
        const said = tried.querySelector("[role=status]");
        const words = said ? [...said.childNodes] : [];
        said?.replaceChildren();
        trial.replaceChildren(...tried.children);
        requestAnimationFrame(() => said?.replaceChildren(...words));
        return;
      }
      if (request.status < 400) { location.assign(request.responseURL); return; }
      if (request.status === 429) { failed("Too much is being sent at once. Nothing was stored; wait a moment and send the file again."); return; }
      if (request.status !== 422) { failed("The upload was refused. Nothing was stored."); return; }
      const answer = new DOMParser().parseFromString(request.responseText, "text/html");
      for (const place of form.querySelectorAll("[data-valmsg-for]")) {
        const said = answer.querySelector(`[data-valmsg-for="${place.dataset.valmsgFor}"]`);
        place.textContent = said ? said.textContent : "";
      }
      failed("");
      box.hidden = true;
    });
    request.addEventListener("error", () => failed("The connection was lost. Nothing was stored; upload the file again."));
    request.open("POST", trying ? event.submitter.formAction : form.action);
    request.send(new FormData(form));
  });
}

const follow = document.querySelector("[data-follow]");
if (follow) {
  const bar = follow.querySelector("progress");
  const words = follow.querySelector("[data-follow-words]");
  const look = async () => {
    try {
      const answer = await fetch(follow.dataset.follow, { headers: { Accept: "application/json" } });
      if (answer.ok) {
        const status = await answer.json();
        if (status.state === "done" || status.state === "refused") { location.reload(); return; }
        bar.max = Math.max(1, status.rows);
        bar.value = status.rowsDone;
        words.textContent = `${status.rowsDone} of ${status.rows} rows done`
          + (status.accepted === undefined ? "" : `: ${status.accepted} accepted, ${status.unchanged} changed nothing, ${status.rejected} rejected, ${status.held} held`);
      }
    } catch {
      words.textContent = "The connection was lost; trying again.";
    }
    setTimeout(look, 1500);
  };
  setTimeout(look, 500);
}
