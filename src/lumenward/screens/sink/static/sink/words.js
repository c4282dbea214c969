// Numbers, durations and times as people read them: the same words as lumenward.quantities.

export const THIN = "\u202f";

// Decimals as the server cuts them: an exact half goes to the even figure.
function fixed(value, decimals) {
  const scaled = value * 10 ** decimals;
  const below = Math.floor(scaled);
  const half = scaled - below === 0.5 && scaled / 10 ** decimals === value && below % 2 === 0;
  return half ? (below / 10 ** decimals).toFixed(decimals) : value.toFixed(decimals);
}

function threeFigures(value) {
  if (value === 0) return "0";
  const decimals = Math.max(0, Math.min(12, 2 - Math.floor(Math.log10(value))));
  const text = fixed(value, decimals);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

export function showNumber(value, digits = null) {
  if (!Number.isFinite(value)) return Number.isNaN(value) ? "unknown" : value > 0 ? "∞" : "−∞";
  const text = digits === null ? threeFigures(Math.abs(value)) : fixed(Math.abs(value), digits);
  const [whole, rest] = text.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  const minus = value < 0 && /[1-9]/.test(text) ? "−" : "";
  return minus + grouped + (rest === undefined ? "" : "." + rest);
}

const SYMBOLS = { C: "°C", times: "times" };

export function showQuantity(value, unit, digits = null) {
  if (!unit) return showNumber(value, digits);
  return `${showNumber(value, digits)}${THIN}${SYMBOLS[unit] ?? unit}`;
}

export function showDuration(seconds) {
  if (!Number.isFinite(seconds)) return "unknown";
  if (seconds < 0) return seconds <= -1 ? "−" + showDuration(-seconds) : showDuration(0);
  const whole = Math.floor(seconds);
  const minutes = Math.floor(whole / 60);
  if (whole < 120) return `${whole}${THIN}s`;
  if (whole < 3600) return `${minutes}${THIN}min` + (whole % 60 && minutes < 10 ? ` ${whole % 60}${THIN}s` : "");
  const hours = Math.floor(whole / 3600);
  const rest = Math.floor((whole % 3600) / 60);
  if (whole < 2 * 86400) return `${hours}${THIN}h` + (rest ? ` ${String(rest).padStart(2, "0")}${THIN}min` : "");
  const days = Math.floor(whole / 86400);
  const left = Math.floor((whole % 86400) / 3600);
  return `${days}${THIN}days` + (left && days < 7 ? ` ${left}${THIN}h` : "");
}

export function showClock(seconds) {
  const whole = Math.floor(Math.abs(seconds));
  const two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const text = hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
  return (seconds <= -1 ? "−" : "") + text;
}

export function showTime(instant, zone) {
  return new Date(instant).toLocaleTimeString("en-GB", {
    hour: "numeric",
    minute: "2-digit",
    timeZone: zone || undefined,
  });
}

// A typed number: decimal comma or point, never both, no unit, no group marks that could be read two ways.
export function readNumber(text) {
  const typed = text.trim().replace(/[\u2212]/g, "-");
  if (typed === "") return { why: "empty" };
  if (!/^-?(\d+([.,]\d*)?|[.,]\d+)$/.test(typed)) return { why: `“${typed.slice(0, 20)}” is not a number` };
  if (typed.length > 15) return { why: "That number is too long" };
  return { value: Number(typed.replace(",", ".")) };
}

// The instant with this station's own offset, as the ledger wants it: 2031-05-07T10:42:03.120+02:00
export function withOffset(date) {
  const pad = (n, width = 2) => String(Math.floor(Math.abs(n))).padStart(width, "0");
  const offset = -date.getTimezoneOffset();
  const sign = offset < 0 ? "-" : "+";
  const day = `${pad(date.getFullYear(), 4)}-${pad(date.getMonth() + 1)}-${pad(date.getDate())}`;
  const time = `${pad(date.getHours())}:${pad(date.getMinutes())}:${pad(date.getSeconds())}.${pad(date.getMilliseconds(), 3)}`;
  return `${day}T${time}${sign}${pad(offset / 60)}:${pad(offset % 60)}`;
}

// A body key as a word: "seen_leaving" -> "seen leaving".
export const plain = (key) => key.replaceAll("_", " ");
