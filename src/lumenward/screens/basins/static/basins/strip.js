// The clock of a test strip: from the press "the strip is in" to the result, computed from the instant of the press,
// which outlives a reload. The result's press fills in after how many seconds it was read.

import { Ticker, Tones } from "../sink/timer.js";

const panel = document.querySelector("[data-strip]");
if (panel) run(panel);

function run(panel) {
  const [low, high] = [Number(panel.dataset.low), Number(panel.dataset.high)];
  const key = `lumenward.strip.${panel.dataset.charge}`;
  const time = panel.querySelector("[data-time]");
  const say = panel.querySelector("[data-say]");
  const read = document.querySelector("#id_read_after_s");
  const ticker = new Ticker(new Tones());
  panel.hidden = false;

  function show(now) {
    time.textContent = now.clock;
    const words = now.over ? `Too late: it must be read by ${high} s. Test again with a new strip.` : now.enough ? "Read it now." : `Wait until ${low} s.`;
    if (say.textContent !== words) say.textContent = words;
  }

  function start(started_at) {
    ticker.run({ started_at, floor_s: low, ceiling_s: high }, show);
  }

  panel.querySelector("[data-dip]").addEventListener("click", () => {
    const started_at = new Date().toISOString();
    sessionStorage.setItem(key, started_at);
    read.value = "";
    start(started_at);
  });

  document.querySelectorAll('input[name="result"]').forEach((choice) =>
    choice.addEventListener("change", () => {
      const started_at = sessionStorage.getItem(key);
      if (!started_at || read.value) return;
      read.value = String(Math.round((Date.now() - Date.parse(started_at)) / 1000));
      ticker.stop();
      sessionStorage.removeItem(key);
      say.textContent = `Read after ${read.value} s.`;
    }),
  );

  const begun = sessionStorage.getItem(key);
  if (begun) start(begun);
}
