// What a phone keeps while there is no connection: in the browser's own database, encrypted (AES-GCM), each thing bound to its name and to
// the sign-in it was kept under. A key cannot be read out of the browser. It ends with its sign-in; what waits stays behind with the
// key sealed by the registry, which opens it for the same person only.

const database = await new Promise((resolve, reject) => {
  const asked = indexedDB.open("registry-ward", 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore("locks", { keyPath: "session" });
    asked.result.createObjectStore("kept", { keyPath: "id" });
  };
  asked.onsuccess = () => {
    asked.result.onversionchange = () => asked.result.close(); // signing out deletes it
    resolve(asked.result);
  };
  asked.onerror = () => reject(asked.error);
});

const within = (stores, mode, act) => new Promise((resolve, reject) => {
  const transaction = database.transaction(stores, mode, { durability: "strict" });
  const asked = act(transaction);
  transaction.oncomplete = () => resolve(asked.result);
  transaction.onabort = () => reject(transaction.error);
});

export const all = store => within(store, "readonly", t => t.objectStore(store).getAll());
export const remove = (store, key) => within(store, "readwrite", t => t.objectStore(store).delete(key));
const put = (store, value) => within(store, "readwrite", t => t.objectStore(store).put(value));

const bytes = text => new TextEncoder().encode(text);
const bound = (lock, id) => bytes(`${lock.session} ${id}`);

/** What is written while a lock is in force here; false when its sign-in ended meanwhile, in another tab. */
const whileInForce = async (lock, write) => {
  const found = await within(["locks", "kept"], "readwrite", transaction => {
    const asked = transaction.objectStore("locks").get(lock.session);
    asked.onsuccess = () => { if (asked.result?.key) write(transaction, asked.result); };
    return asked;
  });
  return !!found?.key;
};

/** Keeps a value under a name. */
export async function keep(lock, id, value) {
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const data = await crypto.subtle.encrypt({ name: "AES-GCM", iv, additionalData: bound(lock, id) }, lock.key, bytes(JSON.stringify(value)));
  return whileInForce(lock, transaction => transaction.objectStore("kept").put({ id, session: lock.session, iv, data }));
}

/** What was kept; undefined when it was altered, or put in the place of another. */
export async function open(lock, kept) {
  try {
    const data = await crypto.subtle.decrypt(
      { name: "AES-GCM", iv: kept.iv, additionalData: bound(lock, kept.id) }, lock.key, kept.data);
    return JSON.parse(new TextDecoder().decode(data));
  } catch {
    return undefined;
  }
}

const keyOf = text => crypto.subtle.importKey(
  "raw", Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), c => c.charCodeAt(0)), "AES-GCM", false, ["encrypt", "decrypt"]);

/** Whether a key may still be used here: its sign-in is not over, by all this device knows. */
export const lasts = lock => lock.key && Date.now() < lock.ends && Date.now() - lock.used < lock.idle;

/** The device was used just now. */
export async function use(lock) {
  if (Date.now() - lock.used < 60_000) return;
  lock.used = Date.now();
  await whileInForce(lock, (transaction, now) => transaction.objectStore("locks").put({ ...now, used: lock.used }));
}

/** A sign-in ended: its key goes, and the list; what waits stays, sealed. */
export async function end(lock) {
  lock.key = null;
  await put("locks", lock);
  await remove("kept", "list");
}

/** Nobody is signed in: no key stays. */
export async function endAll() {
  for (const lock of await all("locks")) if (lock.key) await end(lock);
}

/** The lock of the sign-in the page was made for, with what the same person left waiting in an earlier one. What waited too long is
 * counted, and gone. */
export async function claim(session, { idle, longest, days }, ask) {
  const locks = await all("locks");
  let lock = locks.find(l => l.session === session && l.key);
  if (!lock) {
    const made = await ask("");
    if (!made) return { lock: null, late: 0 };
    const now = Date.now();
    lock = { session, key: await keyOf(made.key), sealed: made.sealed, made: now, used: now, ends: now + longest, idle, days };
    await put("locks", lock);
  }
  let late = 0;
  for (const before of locks.filter(l => l.session !== session)) late += await take(before, lock, ask);
  await use(lock);
  return { lock, late };
}

async function take(before, lock, ask) {
  await end(before);
  const waiting = (await all("kept")).filter(k => k.session === before.session);
  const late = Date.now() - before.made > before.days * 86_400_000 ? waiting.length : 0;
  if (late > 0) for (const kept of waiting) await remove("kept", kept.id);
  else if (waiting.length > 0) {
    const answer = await ask(before.sealed).catch(() => null);
    if (!answer) return 0; // another person's: it waits for them; or the connection was lost again
    const opener = { ...before, key: await keyOf(answer.key) };
    for (const kept of waiting) {
      const value = await open(opener, kept);
      if (value) await keep(lock, kept.id, value);
      else await put("kept", { ...kept, session: lock.session }); // unreadable now as before: it is said, not lost from sight
    }
  }
  await remove("locks", before.session);
  return late;
}

/** The lock that a page without a connection goes by: the last one used, while it lasts. */
export async function found() {
  const locks = (await all("locks")).filter(l => l.key).sort((a, b) => b.used - a.used);
  for (const lock of locks) {
    if (lock === locks[0] && lasts(lock)) continue;
    await end(lock);
  }
  return locks[0]?.key ? locks[0] : null;
}
