// The ward list: a result is entered in place, kept on this phone until the registry has it, and sent once. Without this script, and where
// a browser encrypts nothing (an address without TLS), the list's links lead to the forms.

const ward = document.querySelector("[data-ward]");
if (window.isSecureContext && window.crypto?.subtle && window.indexedDB) await start();

async function start() {
  const phone = await import("./kept.js");
  const online = "session" in ward.dataset;
  const place = document.querySelector("[data-kept]");
  const dialog = document.querySelector("[data-entry]");
  const form = dialog.querySelector("form");
  const state = { lock: null, list: null, entries: [], altered: [], others: 0, late: 0, sent: [], offline: !online, ended: false, says: "" };

  const token = () => document.querySelector("[name=__RequestVerificationToken]").value;
  const post = (address, fields) => fetch(address, {
    method: "POST", redirect: "manual", headers: { Accept: "application/json", "X-Registry-Form": token() }, body: new URLSearchParams(fields),
  });
  const count = (n, one, more) => `${n} ${n === 1 ? one : more}`;
  const time = at => new Date(at + (state.list?.skew ?? 0)).toISOString().slice(11, 16);

  // What is kept.

  const list = () => ({
    html: ward.innerHTML, seen: ward.dataset.seen, made: Date.now(), skew: Date.parse(`${ward.dataset.now}Z`) - Date.now(),
    method: form.querySelector("#typed-method").value, instrument: form.querySelector("#typed-instrument").value,
  });

  async function keepList() {
    state.list = list();
    await phone.keep(state.lock, "list", state.list);
  }

  async function read() {
    [state.entries, state.altered, state.others] = [[], [], 0];
    for (const kept of await phone.all("kept")) {
      if (kept.session !== state.lock?.session) { state.others++; continue; }
      const value = await phone.open(state.lock, kept);
      if (kept.id === "list") state.list = value ?? state.list;
      else if (value?.id === kept.id) state.entries.push(value);
      else state.altered.push(kept.id);
    }
    state.entries.sort((a, b) => a.made - b.made);
    localStorage.setItem("registry.waiting", state.entries.length + state.altered.length + state.others);
  }

  async function over() {
    await phone.end(state.lock);
    [state.lock, state.list, state.ended] = [null, null, true];
    dialog.close();
    ward.replaceChildren();
    await read();
    show();
  }

  // Sending: one page at a time, one entry after the other, the same key every time.

  async function send() {
    if (!online || !state.lock) return;
    await navigator.locks.request("registry-ward", async () => {
      await read();
      const before = state.sent.length;
      const ready = state.entries.filter(e => !e.problems && !e.look);
      for (const entry of ready) if (!await sendOne(entry)) break;
      if (state.lock && (state.sent.length > before || (state.offline && ready.length === 0))) await renewList();
    });
    show();
  }

  async function sendOne(entry) {
    let answer;
    try {
      answer = await post(`/infants/${entry.infant}/screen`, [...entry.fields,
        ["Form.Key", entry.id], ["Form.Seen", entry.seen], ["Form.Confirmed", entry.confirmed ? "true" : "false"]]);
    } catch {
      state.offline = true;
      return false;
    }
    state.offline = false;
    if (answer.type === "opaqueredirect" || answer.status === 401) { await over(); return false; }
    if (answer.status === 429 || answer.status >= 500) return false; // later
    const told = answer.headers.get("Content-Type")?.startsWith("application/json") ? await answer.json() : {
      problems: [answer.status === 404 ? "This infant is not shown to you any more." : "The registry refused it. Open the ward list again, and look at it there."],
    };
    if (told.saved) {
      await phone.remove("kept", entry.id);
      state.sent.push({ called: entry.called, id: told.saved });
      // Of the same infant, what waits behind it has seen this one.
      for (const next of state.entries.filter(e => e.infant === entry.infant && e !== entry)) await rekeep(next, { seen: told.seen });
    } else {
      await rekeep(entry, { problems: told.problems, look: told.problems.length > 0 ? undefined : told.look, seen: told.seen ?? entry.seen });
    }
    return true;
  }

  const rekeep = (entry, changes) => phone.keep(state.lock, entry.id, Object.assign(entry, changes));

  async function renewList() {
    try {
      const answer = await fetch("/ward", { redirect: "manual" });
      state.offline = false;
      if (answer.type === "opaqueredirect") { await over(); return; }
      const made = answer.ok && new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-ward]");
      if (!made) return;
      ward.replaceChildren(...made.childNodes);
      Object.assign(ward.dataset, made.dataset);
      await read();
      await keepList();
    } catch {
      state.offline = true;
    }
  }

  // What is seen.

  const element = (name, text, more = {}) => Object.assign(document.createElement(name), { textContent: text ?? "" }, more);
  const button = (text, act) => element("button", text, { type: "button", onclick: act });

  function lines(title, entries, of) {
    const items = entries.map(entry => {
      const item = element("li");
      item.append(element("strong", entry.called), ` ${entry.words}, ${time(entry.made)}`, ...of(entry));
      return item;
    });
    const listed = element("ul");
    listed.append(...items);
    return [element("p", title), listed];
  }

  const reasons = of => {
    const listed = element("ul", null, { className: "field-problem" });
    listed.append(...of.map(reason => element("li", reason)));
    return listed;
  };
  const buttons = (...all) => {
    const row = element("div", null, { className: "actions" });
    row.append(...all);
    return row;
  };

  function show() {
    const waiting = state.entries.filter(e => !e.problems?.length && !e.look);
    const wrong = state.entries.filter(e => e.problems?.length);
    const unsure = state.entries.filter(e => e.look);
    const parts = [];
    if (state.ended || (!online && !state.lock)) {
      const line = element("p", state.ended ? "Your sign-in has ended. " : "Nothing can be shown here without a connection and a sign-in. ");
      if (state.others > 0) line.append(`${count(state.others, "result waits", "results wait")} on this phone, not sent yet, locked until its person signs in. `);
      line.append(element("a", "Sign in", { href: "/sign-in?returnTo=%2Fward" }));
      parts.push(line);
    } else if (state.offline) {
      parts.push(element("p", `No connection. The list is of ${state.list ? time(state.list.made) : "earlier"}. What you enter waits on this phone, encrypted, and is sent once the connection is back.`));
    }
    if (waiting.length > 0) parts.push(...lines(`Waits on this phone, not sent yet: ${waiting.length}`, waiting, () => []));
    if (wrong.length > 0) parts.push(...lines(`Not recorded, to be corrected: ${wrong.length}`, wrong, entry => [reasons(entry.problems),
      buttons(button("Correct", () => fill(entry)), button("Remove", () => drop(entry)))]));
    if (unsure.length > 0) parts.push(...lines(`Not recorded yet, look at this first: ${unsure.length}`, unsure, entry => [reasons(entry.look),
      buttons(button("Save it all the same", () => confirmed(entry)), button("Correct", () => fill(entry)), button("Remove", () => drop(entry)))]));
    if (state.altered.length > 0) {
      const line = element("p", `Kept on this phone, but altered or unreadable: ${state.altered.length}. Not sent; enter it again. `);
      line.append(button("Remove", async () => { for (const id of state.altered) await phone.remove("kept", id); await read(); show(); }));
      parts.push(line);
    }
    if (state.lock && state.others > 0) {
      parts.push(element("p", `Results of another person wait on this phone, locked: ${state.others}. They are sent when that person signs in here.`));
    }
    if (state.late > 0) parts.push(element("p", `Waited on this phone too long to be opened: ${state.late}. They were not sent; enter them again.`));
    for (const sent of state.sent) {
      const line = element("p", `Sent: ${sent.called}. `);
      line.append(element("a", "See what became of it, or undo", { href: `/entered/${sent.id}` }));
      parts.push(line);
    }
    if (state.says) parts.push(element("p", state.says));
    place.replaceChildren(...parts);
    place.classList.toggle("waits", state.offline || state.entries.length + state.altered.length + state.others > 0);
    for (const row of ward.querySelectorAll("[data-infant]")) {
      row.querySelector("[data-waits]")?.remove();
      if (!state.entries.some(e => e.infant === row.dataset.infant)) continue;
      const tag = element("span", "Entered, not sent yet", { className: "tag" });
      tag.dataset.waits = "";
      row.firstElementChild.append(tag);
    }
  }

  // Entering.

  let at = null;
  function fill(entry) {
    at = entry;
    form.reset();
    const now = new Date(Date.now() + state.list.skew).toISOString();
    const day = form.querySelector("#typed-day");
    day.max = now.slice(0, 10);
    const fields = new Map(entry.fields ?? [["Form.Columns[day]", now.slice(0, 10)], ["Form.Columns[time]", now.slice(11, 16)],
      ["Form.Columns[method]", state.list.method], ["Form.Columns[instrument]", state.list.instrument]]);
    for (const field of form.elements) {
      if (!field.name) continue;
      if (field.type === "radio") field.checked = fields.get(field.name) === field.value;
      else field.value = fields.get(field.name) ?? "";
    }
    document.querySelector("#entry-name").textContent = entry.called;
    problems(entry.problems ?? []);
    require();
    dialog.showModal();
  }

  function problems(said) {
    const listed = form.querySelector("[data-problems]");
    listed.replaceChildren(...said.map(problem => element("li", problem)));
    listed.hidden = said.length === 0;
  }

  // A reason is wanted only where there is no result.
  function require() {
    for (const ear of form.querySelectorAll(".ear")) {
      const outcome = ear.querySelector("input:checked")?.value;
      ear.querySelector("select").required = outcome === "no_valid_result" || outcome === "not_performed";
    }
  }

  const wordsOf = () => [...form.querySelectorAll(".ear")].flatMap(ear => {
    const chosen = ear.querySelector("input:checked");
    return chosen ? [`${ear.querySelector("legend").textContent}: ${chosen.labels[0].textContent.trim().toLowerCase()}`] : [];
  }).join(", ");

  async function save() {
    const words = wordsOf();
    if (words === "") { problems(["Choose an outcome for an ear at least."]); return; }
    const entry = { ...at, words, fields: [...new FormData(form)], made: Date.now(), problems: undefined, look: undefined, confirmed: false };
    if (!state.lock || !await phone.keep(state.lock, entry.id, entry)) {
      problems(["You signed in anew, or out, in another tab. Nothing was kept: note it down, and open the ward list again."]);
      return;
    }
    dialog.close();
    await read();
    show();
    await send();
  }

  async function drop(entry) {
    if (!window.confirm(`Remove what was entered for ${entry.called}? It was not recorded.`)) return;
    await phone.remove("kept", entry.id);
    await read();
    show();
  }

  async function confirmed(entry) {
    await rekeep(entry, { look: undefined, confirmed: true });
    await send();
  }

  // The page.

  if (online) {
    const milliseconds = { idle: ward.dataset.idleMinutes * 60_000, longest: ward.dataset.longestHours * 3_600_000, days: Number(ward.dataset.days) };
    try {
      const claimed = await phone.claim(ward.dataset.session, milliseconds, async sealed => {
        const answer = await post("/ward?handler=Key", { sealed });
        return answer.ok ? answer.json() : null;
      });
      [state.lock, state.late] = [claimed.lock, claimed.late];
    } catch { /* the connection was lost again: the links lead to the forms */ }
    if (!state.lock) return;
    await keepList();
    navigator.serviceWorker?.register("/ward-worker.js", { scope: "/ward" }).then(worker => worker.active?.postMessage("renew"), () => {});
  } else {
    state.lock = await phone.found();
  }
  await read();
  if (!online && state.list) ward.innerHTML = state.list.html;
  const clear = document.querySelector("[data-clear]");
  if (clear) {
    clear.hidden = false;
    clear.addEventListener("click", () => {
      const waiting = Number(localStorage.getItem("registry.waiting"));
      if (!window.confirm(waiting > 0 ? `Results on this phone are not sent yet: ${waiting}. Clearing deletes them.` : "Delete what is kept on this phone?")) return;
      localStorage.removeItem("registry.waiting");
      indexedDB.deleteDatabase("registry-ward").onsuccess = () => location.reload();
    });
  }

  ward.addEventListener("click", event => {
    const link = event.target.closest("a[href]");
    if (!link || !state.lock) return;
    const row = link.closest("[data-infant]");
    if (row && "enter" in link.dataset) {
      event.preventDefault();
      fill({ id: crypto.randomUUID(), infant: row.dataset.infant, called: row.dataset.called, seen: state.list.seen });
    } else if (state.offline) {
      event.preventDefault();
      state.says = "That needs the connection.";
      show();
    }
  });
  form.addEventListener("change", require);
  form.addEventListener("submit", event => { event.preventDefault(); save(); });
  form.querySelector("[data-close]").addEventListener("click", () => dialog.close());
  for (const used of ["pointerdown", "keydown"]) document.addEventListener(used, () => { if (state.lock) phone.use(state.lock); });

  async function look() {
    if (state.lock && !phone.lasts(state.lock)) { await over(); return; }
    if (online) {
      if (state.offline || state.entries.some(e => !e.problems && !e.look)) await send();
    } else if (!dialog.open) {
      const answer = await fetch("/ward", { method: "HEAD", redirect: "manual" }).catch(() => null);
      if (answer?.type === "opaqueredirect") {
        if (state.lock) await over();
        else if (state.others > 0 || !state.ended) { state.ended = true; show(); }
      } else if (answer?.ok) location.reload();
    }
  }
  window.addEventListener("online", look);
  window.addEventListener("offline", () => { state.offline = true; show(); });
  setInterval(look, 15_000);
  show();
  await send();
}
