// What this phone keeps: entries until they are saved, the last state of each job, and who this phone is.
// Where the browser refuses, the same things are kept in memory for as long as the page is open, and `isLasting` says so.
const NAME = "sludgebook-phone";
const TABLES = { entries: { keyPath: "seq", autoIncrement: true }, states: { keyPath: "name" }, facts: { keyPath: "name" } };

export async function openStore() {
  try {
    const base = await opened();
    const store = lasting(base);
    await store.put("facts", { name: "tried", at: Date.now() });
    navigator.storage?.persist?.().catch(() => false);
    return store;
  } catch {
    return inMemory();
  }
}

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      for (const [table, options] of Object.entries(TABLES)) asked.result.createObjectStore(table, options);
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = asked.onblocked = () => reject(asked.error);
  });
}

function lasting(base) {
  const run = (table, mode, work) => new Promise((resolve, reject) => {
    const turn = base.transaction(table, mode, { durability: "strict" });
    const asked = work(turn.objectStore(table));
    turn.oncomplete = () => resolve(asked.result);
    turn.onerror = turn.onabort = () => reject(turn.error);
  });
  return {
    isLasting: true,
    put: (table, value) => run(table, "readwrite", (rows) => rows.put(value)),
    get: (table, key) => run(table, "readonly", (rows) => rows.get(key)),
    all: (table) => run(table, "readonly", (rows) => rows.getAll()),
    remove: (table, key) => run(table, "readwrite", (rows) => rows.delete(key)),
  };
}

function inMemory() {
  const tables = Object.fromEntries(Object.keys(TABLES).map((name) => [name, new Map()]));
  let last = 0;
  return {
    isLasting: false,
    put: async (table, value) => {
      const { keyPath } = TABLES[table];
      const key = value[keyPath] ?? ++last;
      tables[table].set(key, { ...value, [keyPath]: key });
      return key;
    },
    get: async (table, key) => tables[table].get(key),
    all: async (table) => [...tables[table].values()],
    remove: async (table, key) => tables[table].delete(key),
  };
}

export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID is there over https only
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export async function deviceId(store) {
  const known = await store.get("facts", "device");
  if (known) return known.id;
  const id = newId().slice(0, 8);
  await store.put("facts", { name: "device", id });
  return id;
}
