/* What sending an upload (upload_sending.js) needs: digests from a worker, what was begun before,
   and how fast it goes. */
import { gettext } from "./words.js";

const SPEED_OVER_MS = 8000;
const UNREADABLE = gettext(
  "The file cannot be read any more: it was moved, changed or its drive is gone. Choose it again.",
);

/* There is nothing more to be done; the message is a sentence for the person. */
export class Failed extends Error {}
/* Not now, but perhaps in a moment. */
export class Later extends Error {}

export function hasherFor(address, file) {
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

/* What this browser has under way outlives the page: tus-js-client keeps it. */
export const storage = () => window.tus.defaultOptions.urlStorage;

/* Everything that this browser began in this form and did not finish: offered on another job's
   page, the file would land on the wrong job. */
export async function remembered(where) {
  const all = await storage().findAllUploads();
  return all.filter((kept) => kept.uploadUrl && kept.metadata?.where === where);
}

export function speedometer() {
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
