// The phone's own storage: IndexedDB with promises. A failure is told at once, never swallowed.

const NAME = "hearthledger-field";
const VERSION = 1;
const STORES = {
  facts: "name",
  drafts: "id",
  visits: "id",
  queue: "key",
  blobs: "key",
  log: "id",
};

export class StorageFailed extends Error {
  constructor(cause) {
    super("This phone cannot keep what you type.");
    this.cause = cause;
  }
}

let database = null;
let tellFailure = () => {};

export function onFailure(tell) {
  tellFailure = tell;
}

function failed(cause) {
  const failure = new StorageFailed(cause);
  tellFailure(failure);
  return failure;
}

function connect() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(NAME, VERSION);
    opening.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) {
        if (!opening.result.objectStoreNames.contains(name)) {
          opening.result.createObjectStore(name, { keyPath });
        }
      }
    };
    opening.onblocked = () => reject(new Error("Another window of this page is in the way."));
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => resolve(opening.result);
  });
}

/** Open the storage and prove that it keeps a value. */
export async function open() {
  try {
    database = await connect();
    database.onversionchange = () => database.close();
    await change([["facts", "put", { name: "probe", at: Date.now() }]]);
  } catch (cause) {
    throw cause instanceof StorageFailed ? cause : failed(cause);
  }
}

/** Ask the browser not to clear this storage when the phone runs short; true when it promised. */
export async function askToPersist() {
  try {
    return (await navigator.storage?.persist?.()) === true;
  } catch {
    return false;
  }
}

/** Several changes that stand or fall together: [store, "put" | "delete" | "clear", value]. */
export function change(steps) {
  return new Promise((resolve, reject) => {
    try {
      const names = [...new Set(steps.map(([name]) => name))];
      // Strict: written to the disk before we are told, so that a dead battery loses nothing.
      const transaction = database.transaction(names, "readwrite", { durability: "strict" });
      transaction.oncomplete = () => resolve();
      transaction.onabort = () => reject(failed(transaction.error));
      for (const [name, verb, value] of steps) {
        const store = transaction.objectStore(name);
        verb === "clear" ? store.clear() : store[verb](value);
      }
    } catch (cause) {
      reject(failed(cause));
    }
  });
}

function ask(name, question) {
  return new Promise((resolve, reject) => {
    try {
      const request = question(database.transaction(name).objectStore(name));
      request.onsuccess = () => resolve(request.result ?? null);
      request.onerror = () => reject(failed(request.error));
    } catch (cause) {
      reject(failed(cause));
    }
  });
}

export const get = (name, key) => ask(name, (store) => store.get(key));
export const all = (name) => ask(name, (store) => store.getAll());
