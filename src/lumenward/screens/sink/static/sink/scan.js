// A scan works whatever has focus. A keyboard-wedge scanner types fast and ends with Enter or Tab; a person does not.
//
// What the scanner typed into a focused field is taken out again, its Enter or Tab reaches nothing else on the page,
// and scans are handed on one after the other. A person's own typing is never touched.

const FAST_MS = 45; // between two characters of one scan
const SHORTEST = 3;
const GROUP = "\u001d"; // the separator of GS1 element strings, sent by scanners as Ctrl+]
const DOUBLE_MS = 1200;

export class Burst {
  constructor() {
    this.clear();
  }

  clear() {
    this.text = "";
    this.last = 0;
    this.field = null;
    this.before = "";
  }

  // Takes one character; a pause starts a new burst, which remembers the focused field as it was.
  take(character, at, field) {
    if (!this.text || at - this.last > FAST_MS) {
      this.clear();
      this.field = field;
      this.before = field ? field.value : "";
    }
    this.text += character;
    this.last = at;
  }

  fast(at) {
    return this.text.length > 0 && at - this.last <= FAST_MS;
  }

  isScan(at) {
    return this.text.length >= SHORTEST && this.fast(at);
  }
}

const typedInto = (target) =>
  target instanceof HTMLTextAreaElement || (target instanceof HTMLInputElement && !/^(checkbox|radio|button)$/.test(target.type))
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
    idle = setTimeout(onBroken, 4 * FAST_MS);
  }

  function ending(event) {
    if (!burst.isScan(event.timeStamp)) return burst.clear();
    event.preventDefault();
    event.stopImmediatePropagation();
    clearTimeout(idle);
    putBack(burst);
    const code = burst.text;
    burst.clear();
    hand(code, event.timeStamp);
  }

  function keydown(event) {
    if (event.key === "Enter" || event.key === "Tab") return ending(event);
    const character = characterOf(event);
    if (!character || event.repeat) return;
    const inBurst = burst.fast(event.timeStamp);
    if (character === " " && !inBurst && !typedInto(event.target)) return;
    burst.take(character, event.timeStamp, typedInto(event.target));
    if (inBurst && !typedInto(event.target)) {
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
