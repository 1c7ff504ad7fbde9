/** Files that wait for the line: kept in the browser's own database, or in memory where there is none. */

const memory = new Map();

function open() {
  return new Promise((done, failed) => {
    const asked = indexedDB.open("optimiser", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("files");
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
}

async function at(mode, act) {
  const database = await open();
  try {
    return await new Promise((done, failed) => {
      const change = database.transaction("files", mode);
      const asked = act(change.objectStore("files"));
      change.oncomplete = () => done(asked.result);
      change.onerror = () => failed(change.error);
      change.onabort = () => failed(change.error);
    });
  } finally {
    database.close();
  }
}

/** Keep a file; true when it outlives a reload. */
export async function keep(id, file) {
  memory.set(id, file);
  try {
    await at("readwrite", (files) => files.put(file, id));
    return true;
  } catch {
    return false;
  }
}

export async function fetchKept(id) {
  if (memory.has(id)) return memory.get(id);
  try {
    return (await at("readonly", (files) => files.get(id))) ?? null;
  } catch {
    return null;
  }
}

export async function drop(id) {
  memory.delete(id);
  try {
    await at("readwrite", (files) => files.delete(id));
  } catch {
    /* it was in memory alone */
  }
}
