// The only place that posts acts. Every act waits here, on the tablet, until the server has answered for it.
//
// An entry: {act, say, hold_until, sent, error} and what the page wants to find again. `hold_until` is the end of the
// undo time; `sent` says that the act may have reached the server, so that it can no longer be taken back; `error` is
// the server's refusal.

const QUEUE = "lumenward.outbox";
const BATCH = 25;
const PATIENCE = [1, 2, 4, 8, 15, 30, 60];

export const WORDS = {
  saved: "Saved on this tablet and on the server",
  waiting: (count) => `Saved on this tablet, not yet on the server: ${count}`,
  signIn: (count) => `Saved on this tablet, not yet on the server: ${count}. Sign in again to send`,
};

export class Outbox extends EventTarget {
  constructor({ address, token, store = localStorage, undo_s = 10, fetcher = (...all) => fetch(...all) }) {
    super();
    Object.assign(this, { address, token, store, undo_s, fetcher });
    this.failures = 0;
    this.signedOut = false;
    this.busy = false;
    this.alarm = null;
  }

  read() {
    return JSON.parse(this.store.getItem(QUEUE) ?? "[]");
  }

  write(entries) {
    this.store.setItem(QUEUE, JSON.stringify(entries));
    this.dispatchEvent(new Event("change"));
  }

  start() {
    addEventListener("online", () => this.soon(0));
    addEventListener("storage", (event) => event.key === QUEUE && this.dispatchEvent(new Event("change")));
    addEventListener("pagehide", () => this.leave());
    this.soon(0);
  }

  // Throws when the tablet cannot store: then nothing may be called saved.
  add(act, say, about = {}) {
    const entry = { ...about, act, say, hold_until: Date.now() + this.undo_s * 1000, sent: false, error: null };
    this.write([...this.read(), entry]);
    this.soon(this.undo_s * 1000 + 20);
    return entry;
  }

  takeBack(id) {
    const entries = this.read();
    const found = entries.find((entry) => entry.act.id === id && !entry.sent);
    if (found) this.write(entries.filter((entry) => entry !== found));
    return found ?? null;
  }

  dismiss(id) {
    this.write(this.read().filter((entry) => entry.act.id !== id || !entry.error));
  }

  undoable() {
    return this.read().findLast((entry) => !entry.sent && !entry.error && entry.hold_until > Date.now()) ?? null;
  }

  waiting() {
    return this.read().filter((entry) => !entry.error);
  }

  refused() {
    return this.read().filter((entry) => entry.error);
  }

  status() {
    const count = this.waiting().length;
    if (!count) return { state: "saved", words: WORDS.saved };
    if (this.signedOut) return { state: "sign-in", words: WORDS.signIn(count) };
    return { state: this.failures ? "waiting" : "going", words: WORDS.waiting(count) };
  }

  soon(wait_ms) {
    const due = Date.now() + wait_ms;
    if (this.alarm && this.alarm.due <= due && this.alarm.due > Date.now()) return;
    if (this.alarm) clearTimeout(this.alarm.timer);
    this.alarm = { due, timer: setTimeout(() => this.flush(), wait_ms) };
  }

  async flush() {
    this.alarm = null;
    if (this.busy) return this.soon(200);
    this.busy = true;
    try {
      if (navigator.locks) await navigator.locks.request(QUEUE, () => this.sendDue());
      else await this.sendDue();
    } catch (error) {
      this.dispatchEvent(new CustomEvent("full", { detail: error }));
    } finally {
      this.busy = false;
    }
    this.plan();
  }

  plan() {
    const left = this.waiting();
    if (!left.length) return;
    const backOff = PATIENCE[Math.min(this.failures, PATIENCE.length) - 1] * 1000 * (0.8 + 0.4 * Math.random());
    const held = Math.max(0, Math.min(...left.map((entry) => entry.hold_until)) - Date.now()) + 20;
    this.soon(this.failures ? backOff : held);
  }

  // Acts go in the order in which they happened: nothing overtakes an act that can still be taken back.
  due() {
    const entries = this.waiting().sort((a, b) => Date.parse(a.act.happened_at) - Date.parse(b.act.happened_at));
    const firstHeld = entries.findIndex((entry) => !entry.sent && entry.hold_until > Date.now());
    return (firstHeld < 0 ? entries : entries.slice(0, firstHeld)).slice(0, BATCH);
  }

  mark(ids, change) {
    this.write(this.read().map((entry) => (ids.has(entry.act.id) ? { ...entry, ...change(entry) } : entry)));
  }

  async sendDue() {
    for (let due = this.due(); due.length; due = this.due()) {
      this.mark(new Set(due.map((entry) => entry.act.id)), () => ({ sent: true }));
      if (!(await this.post(due))) return;
    }
  }

  request(due, keepalive = false) {
    return this.fetcher(this.address, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json", "X-CSRFToken": this.token, Accept: "application/json" },
      body: JSON.stringify({ acts: due.map((entry) => entry.act) }),
      keepalive,
    });
  }

  // True when every act of the batch has its answer.
  async post(due) {
    let response;
    let answer;
    try {
      response = await this.request(due);
      answer = await response.json();
    } catch {
      return this.failed();
    }
    if (response.ok) return this.settle(answer.answers ?? []);
    if (response.status === 401 || response.status === 403) return this.failed(true);
    if (response.status >= 500 || response.status === 429 || response.status === 408) return this.failed();
    if (due.length > 1) return this.oneByOne(due);
    return this.settle([{ id: due[0].act.id, answer: "refused", error: answer.error ?? null }]);
  }

  async oneByOne(due) {
    for (const entry of due) if (!(await this.post([entry]))) return false;
    return true;
  }

  failed(signedOut = false) {
    this.failures += 1;
    this.signedOut = signedOut;
    this.dispatchEvent(new Event("change"));
    return false;
  }

  settle(answers) {
    this.failures = 0;
    this.signedOut = false;
    const byId = new Map(answers.map((answer) => [answer.id, answer]));
    const kept = [];
    for (const entry of this.read()) {
      const answer = byId.get(entry.act.id);
      if (answer) this.dispatchEvent(new CustomEvent("answer", { detail: { ...answer, act: entry.act } }));
      if (!answer) kept.push(entry);
      else if (answer.answer === "refused" || answer.answer === "conflict")
        kept.push({ ...entry, error: told(answer) });
    }
    this.write(kept);
    return true;
  }

  // Leaving the page ends the undo time. The answer is not waited for: the acts stay queued and are sent again later.
  leave() {
    const entries = this.waiting().slice(0, BATCH);
    if (!entries.length) return;
    try {
      this.mark(new Set(entries.map((entry) => entry.act.id)), () => ({ sent: true, hold_until: 0 }));
    } catch (error) {
      this.dispatchEvent(new CustomEvent("full", { detail: error }));
    }
    this.request(entries, true).catch(() => this.failed());
  }
}

function told(answer) {
  const plain = { code: answer.answer, message: "The server did not take this act.", field: "", hint: "" };
  return answer.error ?? plain;
}
