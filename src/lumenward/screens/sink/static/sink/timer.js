// A timed stretch, computed from the recorded instant of its start: reload, sleep and restart cannot change it.

import { showClock, showDuration } from "./words.js";

const WARN_S = 5;

// What the clock says at `now` (ms): seconds run, seconds to the floor, whether it may be confirmed and if not why.
export function reading({ started_at, floor_s, ceiling_s = null }, now) {
  const ran = Math.max(0, (now - Date.parse(started_at)) / 1000);
  const left = floor_s - ran;
  const over = ceiling_s !== null && ran > ceiling_s;
  return {
    ran,
    left,
    enough: left <= 0,
    over,
    clock: left > 0 ? showClock(Math.ceil(left)) : showClock(ran),
    why_not: left > 0 ? `Not yet: ${showDuration(Math.ceil(left))} to go of at least ${showDuration(floor_s)}.` : "",
  };
}

// The turn of the clamps that is on after `ran` seconds: {turn, place, left, last}; null when there are no turns. The
// last turn lasts as long as the step.
export function turnAt(turns, ran) {
  let begun = 0;
  for (const [place, turn] of (turns ?? []).entries()) {
    const last = place === turns.length - 1;
    if (ran < begun + turn.seconds || last) return { turn, place, left: Math.max(0, begun + turn.seconds - ran), last };
    begun += turn.seconds;
  }
  return null;
}

// Soft tones: one shortly before the end, another at it. Silence can be chosen and is remembered.
export class Tones {
  constructor(store = localStorage) {
    this.store = store;
    this.context = null;
  }

  get silent() {
    return this.store.getItem("lumenward.silent") === "yes";
  }

  set silent(wanted) {
    this.store.setItem("lumenward.silent", wanted ? "yes" : "no");
  }

  play(frequency_hz, length_s) {
    if (this.silent || !window.AudioContext) return;
    this.context ??= new AudioContext();
    const start = this.context.currentTime;
    const tone = this.context.createOscillator();
    const loudness = this.context.createGain();
    tone.frequency.value = frequency_hz;
    loudness.gain.setValueAtTime(0, start);
    loudness.gain.linearRampToValueAtTime(0.18, start + 0.06);
    loudness.gain.exponentialRampToValueAtTime(0.001, start + length_s);
    tone.connect(loudness).connect(this.context.destination);
    tone.start(start);
    tone.stop(start + length_s);
  }
}

// Runs a clock's view: calls `show(reading)` four times a second and sounds the two tones once each.
export class Ticker {
  constructor(tones) {
    this.tones = tones;
    this.timer = null;
    this.before = null;
  }

  run(timing, show) {
    this.stop();
    const tick = () => {
      const now = reading(timing, Date.now());
      this.sound(now);
      show(now);
    };
    tick();
    this.timer = setInterval(tick, 250);
  }

  sound(now) {
    const crossed = (limit) => this.before !== null && this.before > limit && now.left <= limit;
    if (crossed(WARN_S)) this.tones.play(520, 0.5);
    if (crossed(0)) this.tones.play(780, 1.2);
    this.before = now.left;
  }

  // The clamps are to be turned: the same soft tone as shortly before an end.
  turned() {
    this.tones.play(520, 0.5);
  }

  stop() {
    clearInterval(this.timer);
    this.timer = null;
    this.before = null;
  }
}
