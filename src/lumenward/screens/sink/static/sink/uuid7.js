// UUID version 7 (RFC 9562): the instant in milliseconds first, so that ids made at one station sort as the acts happened.

let lastInstant = 0;
let counter = 0;

export function uuid7(now = Date.now()) {
  counter = now <= lastInstant ? counter + 1 : 0;
  lastInstant = Math.max(now, lastInstant) + (counter > 0xfff ? 1 : 0);
  counter &= 0xfff;
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let left = lastInstant;
  for (let place = 5; place >= 0; place--) {
    bytes[place] = left % 256;
    left = Math.floor(left / 256);
  }
  bytes[6] = 0x70 | (counter >> 8);
  bytes[7] = counter & 0xff;
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
