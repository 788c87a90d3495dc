// UUIDv7 made on this device: the record's own key, so that sending it twice
// stores it once (RFC 9562).
export function uuidv7(now: number = Date.now()): string {
  const b = crypto.getRandomValues(new Uint8Array(16));
  let t = now;
  for (let i = 5; i >= 0; i--) {
    b[i] = t % 256;
    t = Math.floor(t / 256);
  }
  b[6] = (b[6]! & 0x0f) | 0x70;
  b[8] = (b[8]! & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// idAt is the id of the n-th record that belongs to one act: its first, counted
// on in the last 32 bits.
export function idAt(first: string, n: number): string {
  const tail = (parseInt(first.slice(-8), 16) + n) % 2 ** 32;
  return first.slice(0, -8) + tail.toString(16).padStart(8, "0");
}

// actOf is what the ids of one act share.
export const actOf = (id: string): string => id.slice(0, -8);
