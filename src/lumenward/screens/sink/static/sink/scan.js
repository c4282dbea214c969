// A scan works whatever has focus. A keyboard-wedge scanner types fast and ends with Enter or Tab; a person does not.
//
// What the scanner typed into a focused field is taken out again, its Enter or Tab reaches nothing else on the page,
// and scans are handed on one after the other. A person's own typing is never touched.

const SHORTEST = 3;
const GROUP = "\u001d"; // the separator of GS1 element strings, sent by scanners as Ctrl+]
const DOUBLE_MS = 1200;

// A pause this long ends a run of characters; a run this fast on average came from a scanner. Nobody types where no
// field has focus, so there a slow scanner (or a busy tablet) is given more time.
const LIMITS = { field: { pause_ms: 150, mean_ms: 50 }, open: { pause_ms: 400, mean_ms: 130 } };

export class Burst {
  constructor() {
    this.clear();
    this.brokeAt = -Infinity;
  }

  clear() {
    this.text = "";
    this.first = 0;
    this.last = 0;
    this.field = null;
    this.before = "";
  }

  get limits() {
    return this.field ? LIMITS.field : LIMITS.open;
  }

  going(at) {
    return this.text.length > 0 && at - this.last <= this.limits.pause_ms;
  }

  // Takes one character; after a pause a new run begins, which remembers the focused field as it was.
  take(character, at, field) {
    if (!this.going(at)) {
      if (this.likeAScan()) this.brokeAt = at;
      this.clear();
      this.field = field;
      this.first = at;
      this.before = field ? field.value : "";
    }
    this.text += character;
    this.last = at;
  }

  likeAScan() {
    const gaps = this.text.length - 1;
    return this.text.length >= SHORTEST && (this.last - this.first) / gaps <= this.limits.mean_ms;
  }

  isScan(at) {
    return this.going(at) && this.likeAScan();
  }

  // The beginning of this scan was cut off by a pause: what is left of it must not be taken for a code.
  isRest() {
    return this.first - this.brokeAt < 1;
  }
}

const typedInto = (target) =>
  target instanceof HTMLTextAreaElement ||
  (target instanceof HTMLInputElement && !/^(checkbox|radio|button)$/.test(target.type))
    ? target
    : null;

function characterOf(event) {
  if (event.ctrlKey && (event.key === "]" || event.code === "BracketRight")) return GROUP;
  if (event.key === GROUP) return GROUP;
  return event.key.length === 1 && !event.ctrlKey && !event.metaKey ? event.key : "";
}

function putBack(burst) {
  if (!burst.field) return;
  burst.field.value = burst.before;
  burst.field.dispatchEvent(new Event("input", { bubbles: true }));
}

// onScan(code) may be async; onBroken() hears of a scan whose ending never came.
export function listen({ onScan, onBroken = () => {} }) {
  const burst = new Burst();
  const queue = [];
  let working = false;
  let idle = 0;
  let latest = { code: "", at: 0 };

  async function work() {
    if (working) return;
    working = true;
    while (queue.length) await onScan(queue.shift());
    working = false;
  }

  function hand(code, at) {
    const twice = code === latest.code && at - latest.at < DOUBLE_MS && !code.startsWith("LW-");
    latest = { code, at };
    if (twice) return;
    queue.push(code);
    work();
  }

  function watchForBreak() {
    clearTimeout(idle);
    if (burst.text.length < 2 * SHORTEST || burst.field) return;
    idle = setTimeout(() => burst.likeAScan() && onBroken(), LIMITS.open.pause_ms + 100);
  }

  function ending(event) {
    const at = event.timeStamp;
    if (!burst.isScan(at)) return burst.clear();
    event.preventDefault();
    event.stopImmediatePropagation();
    clearTimeout(idle);
    putBack(burst);
    const code = burst.text;
    const rest = burst.isRest();
    burst.clear();
    return rest ? onBroken() : hand(code, at);
  }

  function keydown(event) {
    if (event.key === "Enter" || event.key === "Tab") return ending(event);
    const character = characterOf(event);
    if (!character || event.repeat) return;
    const field = typedInto(event.target);
    const going = burst.going(event.timeStamp);
    if (character === " " && !going && !field) return;
    burst.take(character, event.timeStamp, field);
    if (going && !field) {
      event.preventDefault();
      event.stopImmediatePropagation();
    }
    if (character === GROUP) event.preventDefault();
    watchForBreak();
  }

  document.addEventListener("keydown", keydown, { capture: true });
  return () => document.removeEventListener("keydown", keydown, { capture: true });
}

export const CARD = "LW-";

// What a bench card says: {go: true}, {digit: "3"}, {back: true}, {yes: true}, {choice: 0}; null for any other code.
export function readCard(code) {
  if (!code.startsWith(CARD)) return null;
  const word = code.slice(CARD.length);
  if (word === "GO-ON") return { go: true };
  if (word === "YES") return { yes: true };
  if (word === "BACK") return { back: true };
  if (word === "POINT") return { digit: "." };
  if (/^\d$/.test(word)) return { digit: word };
  if (/^[A-H]$/.test(word)) return { choice: word.charCodeAt(0) - 65 };
  return null;
}

// Finds what a code is: on the plan first, so that it works without a network; then the server.
export async function resolve(code, plan, ask) {
  const found = plan.codes?.[code];
  if (found) return { usable: true, why_not: "", ...found };
  return ask(code);
}
