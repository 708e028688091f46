/* Files of drafts: pictures that were chosen and not sent yet. They lie in the browser's database,
   since its other store takes texts only. */
const DATABASE = "draft-files";
const STORE = "files";

function openDatabase() {
  return new Promise(function (resolve, reject) {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

/* What `act` asked of the store; nothing where the browser keeps none: no room, or a private window. */
async function within(mode, act) {
  let database;
  try {
    database = await openDatabase();
    return await new Promise(function (resolve, reject) {
      const transaction = database.transaction(STORE, mode);
      const asked = act(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve({ found: asked.result });
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  } catch {
    return null;
  } finally {
    database?.close();
  }
}

/* Files of a form with the names of their fields. */
export function filesOf(form) {
  return [...form.elements]
    .filter((control) => control.type === "file" && control.name)
    .flatMap((control) => [...control.files].map((file) => ({ name: control.name, file })));
}

/* Returns whether they are kept. */
export async function keepFiles(key, files) {
  return (await within("readwrite", (store) => store.put(files, key))) !== null;
}

export async function readFiles(key) {
  return (await within("readonly", (store) => store.get(key)))?.found ?? [];
}

export async function forgetFiles(key) {
  await within("readwrite", (store) => store.delete(key));
}

/* Drops what no draft holds any more. */
export async function forgetFilesBeside(keys) {
  const all = (await within("readonly", (store) => store.getAllKeys()))?.found ?? [];
  await Promise.all(all.filter((key) => !keys.includes(key)).map(forgetFiles));
}

/* Puts kept files back into their fields; returns whether there were any. */
export async function putFilesBack(form, key) {
  const kept = await readFiles(key);
  for (const control of form.elements) {
    const own = kept.filter(({ name }) => control.type === "file" && control.name === name);
    if (own.length) {
      const files = new DataTransfer();
      own.forEach(({ file }) => files.items.add(file));
      control.files = files.files;
    }
  }
  return kept.length > 0;
}
