/* Sends one file in parts and goes on where it was when the connection comes back.

   window.sendInParts(file, { begin, where, hashing, csrf, finish, tell }) gives
   { outcome, cancel, again }: a promise of {next} or {errors}, and two functions.

   The address `begin` takes name and size and gives a token; parts go to begin + token with
   Content-Range, Content-Digest and, with the last one, Repr-Digest. `finish(token)` gives
   address and body of the form that makes it a capture. `tell` hears how it goes. */
(function () {
  "use strict";
  const SMALLEST_PART = 256 * 1024;
  const HEAD_BYTES = 1024 * 1024;
  const SILENT_MS = 45000;
  /* Of a long file the server reads two gigabytes before it answers. */
  const CHECKING_MS = 600000;
  const LONGEST_WAIT_S = 30;
  const MOST_TRIES = 5;
  const SIGNED_OUT =
    "You are signed out, or may not send this. Sign in on another page of this browser, then " +
    "press “Try now”.";
  const WENT_WRONG = "The server could not take this file; try again, or tell the owner.";
  const HELD_UP =
    "Something between this browser and the server lets no parts of this size through; tell the owner.";

  const { Failed, Later, hasherFor, memoryOf, speedometer } = window.uploadTools;

  class Cancelled extends Error {}

  window.sendInParts = function (file, { begin, where, hashing, csrf, finish, tell }) {
    const hasher = hasherFor(hashing, file);
    const memory = memoryOf(begin, file, where);
    const speed = speedometer();
    let request = null;
    let wake = null;
    let cancelled = false;
    let token = null;
    let received = 0;
    let largest = SMALLEST_PART;
    let size = SMALLEST_PART;

    function check() {
      if (cancelled) {
        throw new Cancelled();
      }
    }

    function ask(method, address, { headers = {}, body = null, progress = null, answerMs = SILENT_MS } = {}) {
      return new Promise(function (resolve, reject) {
        request = new XMLHttpRequest();
        const mine = request;
        let silent = null;
        function watch(ms) {
          clearTimeout(silent);
          silent = setTimeout(() => mine.abort(), ms);
        }
        function lost() {
          clearTimeout(silent);
          reject(cancelled ? new Cancelled() : new Later(""));
        }
        mine.upload.addEventListener("progress", function (event) {
          watch(event.loaded < event.total ? SILENT_MS : answerMs);
          if (progress) {
            progress(event.loaded);
          }
        });
        mine.upload.addEventListener("load", () => watch(answerMs));
        for (const name of ["error", "timeout", "abort"]) {
          mine.addEventListener(name, lost);
        }
        mine.addEventListener("load", function () {
          clearTimeout(silent);
          let answer = {};
          try {
            answer = JSON.parse(mine.responseText) || {};
          } catch {
            /* Not ours: an error page, or one of somebody in between. */
          }
          const elsewhere = new URL(mine.responseURL).pathname !== new URL(address, location).pathname;
          resolve({ status: elsewhere ? 401 : mine.status, answer });
        });
        mine.open(method, address);
        for (const [name, value] of Object.entries({
          Accept: "application/json",
          "X-CSRFToken": csrf(),
          "X-Requested-With": "XMLHttpRequest",
          ...headers,
        })) {
          mine.setRequestHeader(name, value);
        }
        watch(SILENT_MS);
        mine.send(body);
      });
    }

    /* What every answer may say, whatever was asked. */
    function judge({ status, answer }) {
      const said = Array.isArray(answer.errors) ? answer.errors.join(" ") : "";
      if (status === 401 || status === 403) {
        throw new Later(SIGNED_OUT);
      }
      if (status === 507) {
        throw new Later(said);
      }
      if ([0, 408, 429, 502, 503, 504].includes(status)) {
        throw new Later("");
      }
      return said;
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
        try {
          return await what();
        } catch (error) {
          if (!(error instanceof Later)) {
            throw error;
          }
          speed.reset();
          tell({ kind: "later", sentence: error.message, received, wait });
          await pause(wait);
          wake = null;
        }
      }
    }

    async function place(head) {
      token = memory.recall(head);
      if (token) {
        const { status, answer } = await persist(async function () {
          const found = await ask("GET", begin + token + "/");
          judge(found);
          return found;
        });
        if (status === 200 && answer.size === file.size) {
          received = answer.received;
          largest = answer.part_bytes;
          return;
        }
        memory.forget();
      }
      const body = new URLSearchParams({ name: file.name, size: file.size });
      await persist(async function () {
        const begun = await ask("POST", begin, { body });
        const said = judge(begun);
        if (begun.status !== 201) {
          throw new Failed(said || WENT_WRONG);
        }
        token = begun.answer.token;
        received = begun.answer.received;
        largest = begun.answer.part_bytes;
      });
      memory.keep(token, head);
    }

    function progress(bytes) {
      speed.note(bytes);
      const perSecond = speed.perSecond;
      tell({
        kind: "sending",
        sent: bytes,
        perSecond,
        left: perSecond ? (file.size - bytes) / perSecond : null,
      });
    }

    /* The part from `received` on; gives false when the upload is not there any more. */
    async function one(ahead, tries) {
      const from = received;
      const to = Math.min(from + size, file.size);
      const known = ahead.from === from && ahead.to === to;
      const hash = await (known ? ahead.hash : hasher.of(from, to));
      check();
      const next = { from: to, to: Math.min(to + size, file.size) };
      ahead.from = next.from;
      ahead.to = next.to;
      ahead.hash = next.from < next.to ? hasher.of(next.from, next.to) : null;
      const headers = {
        "Content-Type": "application/octet-stream",
        "Content-Range": "bytes " + from + "-" + (to - 1) + "/" + file.size,
        "Content-Digest": "sha-256=:" + hash.digest + ":",
      };
      if (hash.whole) {
        headers["Repr-Digest"] = "sha-256=:" + hash.whole + ":";
      }
      let sent;
      try {
        sent = await ask("PUT", begin + token + "/", {
          headers,
          body: file.slice(from, to),
          progress: (loaded) => progress(from + Math.min(loaded, to - from)),
        });
        const said = judge(sent);
        if (sent.status === 400 || sent.status >= 500) {
          tries.left -= 1;
          if (!tries.left) {
            throw new Failed(said || WENT_WRONG);
          }
          throw new Later("");
        }
      } catch (error) {
        if (error instanceof Later) {
          /* A narrow or shaky line gets through with less at once. */
          size = Math.min(largest, Math.max(SMALLEST_PART, Math.floor(size / 2)));
        }
        throw error;
      }
      if (sent.status === 404) {
        return false;
      }
      if (sent.status === 413) {
        if (size <= SMALLEST_PART) {
          throw new Failed(HELD_UP);
        }
        largest = size = Math.max(SMALLEST_PART, Math.floor(size / 2));
      } else if ([200, 409].includes(sent.status) && Number.isInteger(sent.answer.received)) {
        received = sent.answer.received;
        size = Math.min(size * 2, largest);
        tries.left = MOST_TRIES;
      } else {
        throw new Failed(WENT_WRONG);
      }
      return true;
    }

    async function parts() {
      const ahead = { from: -1, to: -1, hash: null };
      const tries = { left: MOST_TRIES };
      size = largest;
      while (received < file.size) {
        progress(received);
        if (!(await persist(() => one(ahead, tries)))) {
          return false;
        }
      }
      return true;
    }

    async function run() {
      tell({ kind: "placing" });
      const { digest: head } = await persist(() =>
        hasher.of(0, Math.min(HEAD_BYTES, file.size), true)
      );
      await place(head);
      if (!(await parts())) {
        memory.forget();
        await place(head);
        if (!(await parts())) {
          throw new Failed(WENT_WRONG);
        }
      }
      return persist(async function () {
        tell({ kind: "checking" });
        const form = finish(token);
        const taken = await ask("POST", form.address, {
          body: form.body,
          answerMs: CHECKING_MS,
        });
        const said = judge(taken);
        if (!taken.answer.next) {
          throw new Failed(said || WENT_WRONG);
        }
        memory.forget();
        return { next: taken.answer.next, already: taken.answer.already };
      });
    }

    function giveUp() {
      memory.forget();
      if (token) {
        fetch(begin + token + "/", {
          method: "DELETE",
          headers: { "X-CSRFToken": csrf() },
          keepalive: true,
        }).catch(() => undefined);
      }
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
          giveUp();
          return { errors: ["Cancelled."], cancelled: true };
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
        if (request) {
          request.abort();
        }
      },
    };
  };
})();
