/* Sends one file by the tus protocol and goes on where it was when the connection comes back.

   sendUpload(file, { endpoint, where, partBytes, hashing, csrf, finish, tell }) gives
   { outcome, cancel, again }: a promise of {next} or {errors}, and two functions.

   The protocol is tus-js-client's work. Ours are the digests of every part and of the whole, how
   long to wait and what to say meanwhile, and smaller parts on a narrow or shaky line.
   `finish(token)` gives address and body of the form that makes the upload a capture. `tell` hears
   how it goes. */
import { Failed, Later, hasherFor, speedometer, storage } from "./upload_tools.js";
import { gettext } from "./words.js";

const SMALLEST_PART = 256 * 1024;
const HEAD_BYTES = 1024 * 1024;
const SILENT_MS = 45000;
/* Of a long file the server reads two gigabytes before it answers. */
const CHECKING_MS = 600000;
const LONGEST_WAIT_S = 30;
const MOST_TRIES = 5;
const SIGNED_OUT = gettext(
  "You are signed out, or may not send this. Sign in on another page of this browser, then " +
    "press “Try now”.",
);
const WENT_WRONG = gettext("The server could not take this file; try again, or tell the owner.");
const HELD_UP = gettext(
  "Something between this browser and the server lets no parts of this size through; tell the " +
    "owner.",
);


class Cancelled extends Error {}

/* The sentence in an answer's body: the API's, or a form's. */
function sentenceIn(text) {
  try {
    const { detail, errors } = JSON.parse(text);
    return detail || (errors || []).join(" ");
  } catch {
    /* Not ours: an error page, or one of somebody in between. */
    return "";
  }
}

/* What any answer may say, whatever was asked; null where it says nothing of that kind. */
function putOff(status, said) {
  if (status === 401 || status === 403) {
    return new Later(SIGNED_OUT);
  }
  if (status === 507) {
    return new Later(said);
  }
  return [0, 408, 409, 429, 502, 503, 504].includes(status) ? new Later("") : null;
}

export function sendUpload(file, options) {
  const { endpoint, where, partBytes, hashing, csrf, finish, tell } = options;
  const hasher = hasherFor(hashing, file);
  const speed = speedometer();
  let largest = Math.max(SMALLEST_PART, partBytes);
  let cancelled = false;
  let wake = null;
  let settle = null;
  let head = null;
  let received = 0;
  let triesLeft = MOST_TRIES;
  let begunAnew = 0;
  let ahead = { from: -1, to: -1, hash: null };

  const upload = new window.tus.Upload(file, {
    endpoint,
    chunkSize: partBytes,
    retryDelays: null,
    metadata: { filename: file.name, where },
    /* The first megabyte's digest, so that another file of that name is not taken for it. */
    fingerprint: async () => ["upload", file.name, file.size, file.lastModified, head].join(" "),
    onBeforeRequest: prepare,
    onAfterResponse(_, answer) {
      const offset = parseInt(answer.getHeader("Upload-Offset"), 10);
      received = offset >= 0 ? offset : received;
    },
    onProgress(bytes) {
      speed.note(bytes);
      const perSecond = speed.perSecond;
      const left = perSecond ? (file.size - bytes) / perSecond : null;
      tell({ kind: "sending", sent: bytes, perSecond, left });
    },
    onChunkComplete() {
      resize(upload.options.chunkSize * 2);
      triesLeft = MOST_TRIES;
    },
    onSuccess: () => settle.resolve(),
    onError: (error) => missed(error),
  });

  function check() {
    if (cancelled) {
      throw new Cancelled();
    }
  }

  function resize(size) {
    const least = Math.min(SMALLEST_PART, largest);
    upload.options.chunkSize = Math.min(largest, Math.max(least, Math.floor(size)));
  }

  /* The digest of a part, and of the next one while this one is on its way. */
  function digestOf(from, to) {
    const known = ahead.from === from && ahead.to === to;
    const hash = known ? ahead.hash : hasher.of(from, to);
    const end = Math.min(to + upload.options.chunkSize, file.size);
    ahead = { from: to, to: end, hash: to < end ? hasher.of(to, end) : null };
    return hash;
  }

  async function prepare(request) {
    request.setHeader("X-CSRFToken", csrf());
    if (request.getMethod() === "PATCH") {
      const from = Number(request.getHeader("Upload-Offset"));
      const to = Math.min(from + upload.options.chunkSize, file.size);
      const hash = await digestOf(from, to);
      check();
      request.setHeader("Upload-Checksum", "sha256 " + hash.digest);
      if (hash.whole) {
        request.setHeader("Repr-Digest", "sha-256=:" + hash.whole + ":");
      }
    }
    watch(request.getUnderlyingObject());
  }

  /* A line that is silent for long is given up, as one that broke. */
  function watch(request) {
    let silent = null;
    function restart() {
      clearTimeout(silent);
      silent = setTimeout(function () {
        upload.abort();
        resize(upload.options.chunkSize / 2);
        settle.reject(new Later(""));
      }, SILENT_MS);
    }
    request.upload.addEventListener("progress", restart);
    request.addEventListener("loadend", () => clearTimeout(silent));
    restart();
  }

  /* What an error means: wait, begin anew, or give up. */
  function missed(error) {
    const cause = error.causingError;
    if (cause instanceof Failed || cause instanceof Later || cause instanceof Cancelled) {
      settle.reject(cause);
      return;
    }
    const method = error.originalRequest?.getMethod();
    const status = error.originalResponse?.getStatus() || 0;
    const said = sentenceIn(error.originalResponse?.getBody());
    if ([404, 410].includes(status) && method !== "POST") {
      lookAgain(method);
      return;
    }
    settle.reject(verdictOn(method, status, said));
  }

  function verdictOn(method, status, said) {
    const later = putOff(status, said);
    if (method !== "PATCH") {
      return later || new Failed(said || WENT_WRONG);
    }
    if (status === 413) {
      if (upload.options.chunkSize <= SMALLEST_PART) {
        return new Failed(HELD_UP);
      }
      largest = Math.max(SMALLEST_PART, upload.options.chunkSize / 2);
    }
    resize(upload.options.chunkSize / 2);
    if (later || status === 413) {
      return later || new Later("");
    }
    triesLeft -= 1;
    const worthAnother = [400, 460].includes(status) || status >= 500;
    return worthAnother && triesLeft ? new Later("") : new Failed(said || WENT_WRONG);
  }

  /* It is not there any more: asked for its state it is forgotten, and then begun anew, once. */
  function lookAgain(method) {
    if (method !== "PATCH") {
      begunAnew += 1;
      upload.url = null;
    }
    if (begunAnew > 1) {
      settle.reject(new Failed(WENT_WRONG));
    } else {
      begin();
    }
  }

  function begin() {
    /* With an endpoint, an upload that cannot be asked just now would be begun anew. */
    upload.options.endpoint = upload.url ? null : endpoint;
    upload.start();
  }

  function attempt() {
    return new Promise(function (resolve, reject) {
      settle = { resolve, reject };
      begin();
    });
  }

  function pause(seconds) {
    return new Promise(function (resolve) {
      const timer = setTimeout(resolve, seconds * 1000);
      wake = function () {
        clearTimeout(timer);
        resolve();
      };
    });
  }

  /* Does something until it is done or hopeless; waits longer each time it is put off. */
  async function persist(what) {
    for (let wait = 1; ; wait = Math.min(wait * 2, LONGEST_WAIT_S)) {
      check();
      const before = received;
      try {
        return await what();
      } catch (error) {
        if (!(error instanceof Later)) {
          throw error;
        }
        wait = received > before ? 1 : wait;
        speed.reset();
        tell({ kind: "later", sentence: error.message, received, wait });
        await pause(wait);
        wake = null;
      }
    }
  }

  async function take() {
    tell({ kind: "checking" });
    const { address, body } = finish(upload.url.split("/").at(-2));
    const answer = await fetch(address, {
      method: "POST",
      body,
      headers: { Accept: "application/json", "X-CSRFToken": csrf() },
      signal: AbortSignal.timeout(CHECKING_MS),
    }).catch(() => ({ status: 0, text: () => "" }));
    const text = await answer.text();
    const said = sentenceIn(text);
    const later = putOff(answer.redirected ? 401 : answer.status, said);
    if (later) {
      throw later;
    }
    if (!answer.ok) {
      throw new Failed(said || WENT_WRONG);
    }
    const { next, already } = JSON.parse(text);
    return { next, already };
  }

  async function run() {
    tell({ kind: "placing" });
    head = (await persist(() => hasher.of(0, Math.min(HEAD_BYTES, file.size), true))).digest;
    const [previous] = await upload.findPreviousUploads();
    if (previous) {
      upload.resumeFromPreviousUpload(previous);
    }
    await persist(attempt);
    const taken = await persist(take);
    for (const one of await upload.findPreviousUploads()) {
      await storage().removeUpload(one.urlStorageKey);
    }
    return taken;
  }

  function again() {
    if (wake) {
      wake();
    }
  }

  async function outcome() {
    window.addEventListener("online", again);
    try {
      return await run();
    } catch (error) {
      if (error instanceof Cancelled) {
        /* Where that does not reach the server, the page offers to give it up later. */
        await upload.abort(true).catch(() => undefined);
        return { errors: [gettext("Cancelled.")], cancelled: true };
      }
      return { errors: [error instanceof Failed ? error.message : WENT_WRONG] };
    } finally {
      window.removeEventListener("online", again);
      hasher.end();
    }
  }

  return {
    outcome: outcome(),
    again,
    cancel() {
      cancelled = true;
      again();
      upload.abort();
      if (settle) {
        settle.reject(new Cancelled());
      }
    },
  };
}
