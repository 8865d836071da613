// The phone's own memory: one database that all pages and the service worker share.
//
//   items   what is to be sent, in order; queue.js says what an item is
//   drafts  what is typed into a form and not sent
//   facts   small things by name: who is signed in

const stores = {
  items: { keyPath: "id", autoIncrement: true },
  drafts: { keyPath: "key" },
  facts: { keyPath: "key" },
};

let opening;

function database() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("delaybook", 1);
    request.onupgradeneeded = () => {
      for (const [name, options] of Object.entries(stores)) request.result.createObjectStore(name, options);
    };
    request.onsuccess = () => {
      const db = request.result;
      // Another tab brings a newer one, or the browser takes it away: open it anew next time.
      db.onclose = db.onversionchange = () => { db.close(); opening = undefined; };
      resolve(db);
    };
    request.onerror = () => { opening = undefined; reject(request.error); };
  });
  return opening;
}

// within runs work on a store, all or nothing, and resolves with what work
// passed to done when it is safely on the disk.
async function within(name, mode, work) {
  const db = await database();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(name, mode, { durability: "strict" });
    let result;
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(transaction.error);
    work(transaction.objectStore(name), (value) => { result = value; });
  });
}

const asked = (ask) => (store, done) => {
  const request = ask(store);
  request.onsuccess = () => done(request.result);
};

// get returns a record, undefined if there is none.
export const get = (name, key) => within(name, "readonly", asked((store) => store.get(key)));

// all returns the records of a store in the order of their keys.
export const all = (name) => within(name, "readonly", asked((store) => store.getAll()));

// put keeps a record and returns its key.
export const put = (name, record) => within(name, "readwrite", asked((store) => store.put(record)));

// forget removes a record.
export const forget = (name, key) => within(name, "readwrite", asked((store) => store.delete(key)));

// change replaces a record by what change makes of it, in one step that no other
// tab can come between. It returns the new record, undefined where there is
// none or change returns nothing.
export const change = (name, key, make) => within(name, "readwrite", (store, done) => {
  const request = store.get(key);
  request.onsuccess = () => {
    const next = request.result && make(request.result);
    if (!next) return;
    store.put(next);
    done(next);
  };
});

// changeAll is change for every record of a store.
export const changeAll = (name, make) => within(name, "readwrite", (store) => {
  const request = store.openCursor();
  request.onsuccess = () => {
    const cursor = request.result;
    if (!cursor) return;
    const next = make(cursor.value);
    if (next) cursor.update(next);
    else if (next === null) cursor.delete();
    cursor.continue();
  };
});

const channel = globalThis.BroadcastChannel && new BroadcastChannel("delaybook");
const listeners = new Set();
channel?.addEventListener("message", () => { for (const tell of listeners) tell(); });

// changed tells all pages that something in the memory is not as it was.
export function changed() {
  channel?.postMessage("changed");
  for (const tell of listeners) tell();
}

// onChange calls tell whenever this or another page changed the memory, until
// the function that it returns is called.
export function onChange(tell) {
  listeners.add(tell);
  return () => listeners.delete(tell);
}
