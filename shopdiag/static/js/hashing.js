/* A worker that reads a file piece by piece and tells the SHA-256 of each and of the whole.

   The browser's own SHA-256 is missing on pages that come over plain HTTP, as in most workshops,
   and cannot go on from piece to piece. */
import { sha256 } from "../vendor/noble-hashes/sha2.js";

const GAP_BYTES = 4 * 1024 * 1024;
let file = null;
let whole = null;
let wholeDigest = null;
let fed = 0;
let before = Promise.resolve();

function base64(bytes) {
  return btoa(String.fromCharCode(...bytes));
}

async function read(from, to) {
  return new Uint8Array(await file.slice(from, to).arrayBuffer());
}

/* The whole's digest is fed in order, each byte once, however pieces are asked for. */
async function feed(piece, from) {
  while (fed < from) {
    const gap = await read(fed, Math.min(fed + GAP_BYTES, from));
    whole.update(gap);
    fed += gap.length;
  }
  if (fed < from + piece.length) {
    whole.update(piece.subarray(fed - from));
    fed = from + piece.length;
  }
  if (fed === file.size && !wholeDigest) {
    wholeDigest = base64(whole.digest());
  }
}

async function answer(asked) {
  if (asked.file) {
    file = asked.file;
    whole = sha256.create();
    return;
  }
  try {
    const piece = await read(asked.from, asked.to);
    if (!asked.alone) {
      await feed(piece, asked.from);
    }
    const last = !asked.alone && asked.to === file.size;
    self.postMessage({
      id: asked.id,
      digest: base64(sha256(piece)),
      whole: last ? wholeDigest : null,
    });
  } catch {
    self.postMessage({ id: asked.id, failed: true });
  }
}

self.addEventListener("message", function (event) {
  before = before.then(() => answer(event.data));
});
