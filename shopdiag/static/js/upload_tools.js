/* What sending in parts (parts.js) needs: digests from a worker, a memory that outlives the page,
   and how fast it goes. */
(function () {
  "use strict";
  const SPEED_OVER_MS = 8000;
  const UNREADABLE =
    "The file cannot be read any more: it was moved, changed or its drive is gone. Choose it again.";

  /* There is nothing more to be done; the message is a sentence for the person. */
  class Failed extends Error {}
  /* Not now, but perhaps in a moment. */
  class Later extends Error {}

  function hasherFor(address, file) {
    const waiting = new Map();
    let worker = null;
    let asked = 0;
    let works = false;
    function start() {
      worker = new Worker(address, { type: "module" });
      worker.addEventListener("error", function () {
        worker = null;
        /* Before its first answer its script may just not have come through. */
        waiting.forEach((one) => one.reject(works ? new Failed(UNREADABLE) : new Later("")));
        waiting.clear();
      });
      worker.addEventListener("message", function ({ data }) {
        const one = waiting.get(data.id);
        waiting.delete(data.id);
        works = true;
        if (one && data.failed) {
          one.reject(new Failed(UNREADABLE));
        } else if (one) {
          one.resolve(data);
        }
      });
      worker.postMessage({ file });
    }
    return {
      of(from, to, alone = false) {
        if (!worker) {
          start();
        }
        asked += 1;
        const id = asked;
        const told = new Promise((resolve, reject) => waiting.set(id, { resolve, reject }));
        worker.postMessage({ id, from, to, alone });
        /* One that was asked for ahead may never be waited for. */
        told.catch(() => undefined);
        return told;
      },
      end: () => worker && worker.terminate(),
    };
  }

  function quietly(what) {
    try {
      return what(window.localStorage);
    } catch {
      return null;
    }
  }

  /* What this browser has under way outlives the page: name, size and date, and the first
     megabyte's digest so that another file of that name is not taken for it. */
  const KEPT = "upload ";

  function memoryOf(begin, file, where) {
    const key = KEPT + [begin, file.name, file.size, file.lastModified].join(" ");
    return {
      recall(head) {
        const kept = quietly((store) => JSON.parse(store.getItem(key)));
        return kept && kept.head === head ? kept.token : null;
      },
      keep: (token, head) =>
        quietly((store) =>
          store.setItem(key, JSON.stringify({ token, head, name: file.name, where }))
        ),
      forget: () => quietly((store) => store.removeItem(key)),
    };
  }

  /* Everything that this browser began in this form and did not finish: offered on another job's
     page, the file would land on the wrong job. */
  function remembered(begin, where) {
    const found = quietly((store) =>
      Object.keys(store)
        .filter((key) => key.startsWith(KEPT + begin + " "))
        .map((key) => ({ ...JSON.parse(store.getItem(key)), forget: () => store.removeItem(key) }))
    );
    return (found || []).filter(
      (kept) => kept.token && kept.name && [undefined, where].includes(kept.where)
    );
  }

  function speedometer() {
    let seen = [];
    return {
      note(bytes) {
        const now = performance.now();
        seen.push({ now, bytes });
        seen = seen.filter((one) => now - one.now < SPEED_OVER_MS || one === seen[seen.length - 1]);
      },
      reset: () => (seen = []),
      get perSecond() {
        const first = seen[0];
        const last = seen[seen.length - 1];
        const seconds = first ? (last.now - first.now) / 1000 : 0;
        return seconds > 0.2 ? (last.bytes - first.bytes) / seconds : null;
      },
    };
  }

  window.uploadTools = { Failed, Later, hasherFor, memoryOf, remembered, speedometer };
})();
