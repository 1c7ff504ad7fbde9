/** Recordings in pieces that go on where a bad line cut them. */

import { Problem, path, raw, send } from "./api.js";
import { Sha256 } from "./sha256.js";

const READ_BYTES = 4 << 20;
const SMALLEST_BYTES = 32 << 10;

async function sumOf(blob, tell) {
  const sum = new Sha256();
  for (let place = 0; place < blob.size; place += READ_BYTES) {
    sum.update(new Uint8Array(await blob.slice(place, place + READ_BYTES).arrayBuffer()));
    tell(Math.min(1, (place + READ_BYTES) / blob.size));
    await new Promise((go) => setTimeout(go));
  }
  return sum.hex();
}

/**
 * Send a file and give the id of its upload. The same key goes on with the same upload.
 * `tell` hears the share that has arrived, 0 to 1. Throws NoLine when the line is cut: call again.
 */
export async function upload(blob, name, key, tell = () => {}) {
  const announced = { name: label(name), bytes: blob.size, sha256: await sumOf(blob, (share) => tell(0.1 * share)) };
  const begun = await send("POST", "uploads", announced, key);
  let { offset, whole } = begun;
  let piece = begun.piece_bytes;
  while (!whole) {
    const headers = { "Upload-Offset": String(offset), "Content-Type": "application/octet-stream" };
    try {
      const body = blob.slice(offset, offset + piece);
      const answer = await raw("PATCH", path("uploads", begun.upload), { headers, body });
      ({ offset, whole } = await answer.json());
    } catch (error) {
      if (error instanceof Problem && error.status === 409 && error.offset !== null) offset = error.offset;
      else if (error instanceof Problem && error.status === 413 && piece > SMALLEST_BYTES) piece = Math.ceil(piece / 2);
      else throw error;
      if (offset >= blob.size) whole = true;
    }
    tell(0.1 + (0.9 * offset) / blob.size);
  }
  tell(1);
  return begun.upload;
}

/** A file's name as a label of one line. */
function label(name) {
  return (name || "recording.wav").replace(/[^\x20-\x7e\u00a1-\u024f]/g, "_").slice(0, 200).trim() || "recording.wav";
}
