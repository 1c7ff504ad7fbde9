/** SHA-256 [FIPS 180-4] of a file in pieces; a browser's own is missing where the page comes over plain HTTP. */

const K = new Uint32Array(64);
const START = new Uint32Array(8);

for (let candidate = 2, found = 0; found < 64; candidate += 1) {
  let prime = true;
  for (let factor = 2; factor * factor <= candidate; factor += 1) if (candidate % factor === 0) { prime = false; break; }
  if (!prime) continue;
  K[found] = fraction(Math.cbrt(candidate));
  if (found < 8) START[found] = fraction(Math.sqrt(candidate));
  found += 1;
}

/** The first 32 bits of a root's fraction, of which the constants are made. */
function fraction(value) {
  return Math.floor((value - Math.floor(value)) * 0x100000000);
}

export class Sha256 {
  constructor() {
    this.state = START.slice();
    this.rest = new Uint8Array(64);
    this.held = 0;
    this.length = 0;
    this.words = new Uint32Array(64);
  }

  update(bytes) {
    this.length += bytes.length;
    let place = 0;
    if (this.held) {
      const take = Math.min(64 - this.held, bytes.length);
      this.rest.set(bytes.subarray(0, take), this.held);
      this.held += take;
      place = take;
      if (this.held < 64) return this;
      this.block(this.rest, 0);
      this.held = 0;
    }
    for (; place + 64 <= bytes.length; place += 64) this.block(bytes, place);
    this.rest.set(bytes.subarray(place));
    this.held = bytes.length - place;
    return this;
  }

  hex() {
    const bits = this.length * 8;
    const end = new Uint8Array((this.held < 56 ? 64 : 128) - this.held);
    end[0] = 0x80;
    const view = new DataView(end.buffer);
    view.setUint32(end.length - 8, Math.floor(bits / 0x100000000));
    view.setUint32(end.length - 4, bits >>> 0);
    this.update(end);
    return Array.from(this.state, (word) => word.toString(16).padStart(8, "0")).join("");
  }

  block(bytes, offset) {
    const w = this.words;
    for (let t = 0, i = offset; t < 16; t += 1, i += 4) {
      w[t] = (bytes[i] << 24) | (bytes[i + 1] << 16) | (bytes[i + 2] << 8) | bytes[i + 3];
    }
    for (let t = 16; t < 64; t += 1) {
      const x = w[t - 15];
      const y = w[t - 2];
      const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      w[t] = (w[t - 16] + s0 + w[t - 7] + s1) | 0;
    }
    const into = this.state;
    let a = into[0], b = into[1], c = into[2], d = into[3], e = into[4], f = into[5], g = into[6], h = into[7];
    for (let t = 0; t < 64; t += 1) {
      const S1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const t1 = (h + S1 + ((e & f) ^ (~e & g)) + K[t] + w[t]) | 0;
      const S0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const t2 = (S0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g; g = f; f = e; e = (d + t1) | 0; d = c; c = b; b = a; a = (t1 + t2) | 0;
    }
    into[0] += a; into[1] += b; into[2] += c; into[3] += d; into[4] += e; into[5] += f; into[6] += g; into[7] += h;
  }
}
