// The path on the left: what is done with its measured result, where the work is, what is still to come.

import { h, replace } from "./dom.js";
import { showDuration, showQuantity } from "./words.js";

// Steps in a row with the same group are one place on the path.
export function places(steps, leftOut) {
  const found = [];
  for (const step of steps) {
    if (leftOut.includes(step.key)) continue;
    if (found.at(-1)?.group === step.group) found.at(-1).steps.push(step);
    else found.push({ group: step.group, steps: [step] });
  }
  return found;
}

function took(step, act, acts) {
  const before = acts.filter(
    (other) => other.kind === step.timer?.since && Date.parse(other.happened_at) <= Date.parse(act.happened_at),
  );
  const started = before.at(-1) ?? acts.find((other) => other.id === act.body.started);
  if (!started) return null;
  return (Date.parse(act.happened_at) - Date.parse(started.happened_at)) / 1000;
}

const AFTER_USE = new Set(["received", "cleaning_started"]);

// What an act measured, in a few words: numbers, and choices that are more than yes or no.
export function result(step, act, acts) {
  const opened = acts.find((other) => other.kind === "patient_use_ended");
  if (AFTER_USE.has(act.kind) && opened)
    return `${showDuration((Date.parse(act.happened_at) - Date.parse(opened.happened_at)) / 1000)} after the case`;
  const words = [];
  for (const entry of step.entries ?? []) {
    const value = act.body[entry.key];
    if (value === undefined || value === null || typeof value === "boolean" || entry.key === "happened_at") continue;
    if (entry.kind === "number") words.push(showQuantity(value, entry.unit === "times" ? "×" : entry.unit));
    if (entry.kind === "choice")
      words.push(entry.choices.find((choice) => choice.value === value)?.label ?? String(value));
  }
  return words.slice(0, 3).join(", ");
}

// The line under a place: what came out of it, or how far it is.
export function under(place, state, acts) {
  const done = place.steps.filter((step) => step.key in state.done);
  if (!done.length) return "";
  if (done.length < place.steps.length) return `${done.length} of ${place.steps.length} done`;
  const pairs = done
    .map((step) => [step, acts.find((act) => act.id === state.done[step.key])])
    .filter(([, act]) => act);
  const seconds = pairs.map(([step, act]) => took(step, act, acts)).filter((found) => found !== null);
  const time = seconds.length ? showDuration(seconds.reduce((sum, found) => sum + found, 0)) : "";
  const said = pairs.map(([step, act]) => result(step, act, acts)).find(Boolean) ?? "";
  const many = pairs.length > 1 && seconds.length > 1 ? `${pairs.length} channels` : said;
  return [many, time].filter(Boolean).join(", ");
}

export function drawPath(element, steps, state, acts, current) {
  const found = places(steps, state.left_out);
  const here = found.findIndex((place) => place.steps.some((step) => step.key === current));
  const items = found.map((place, at) => {
    const done = place.steps.every((step) => step.key in state.done);
    const kind = at === here ? "here" : done ? "done" : "to-come";
    const spoken = { here: "now: ", done: "done: ", "to-come": "to come: " }[kind];
    const words = under(place, state, acts);
    return h(
      "li",
      { class: kind, "aria-current": kind === "here" ? "step" : null },
      h("span", { class: "dot", "aria-hidden": "true" }),
      h("span", { class: "group" }, h("span", { class: "unseen" }, spoken), place.group),
      words ? h("small", {}, words) : null,
    );
  });
  replace(element, items);
  keepInSight(element, items[here]);
  return here < 0 ? "" : `${found[here].group}: ${here + 1} of ${found.length}`;
}

function keepInSight(element, item) {
  const frame = element.parentElement;
  if (!item || frame.scrollHeight <= frame.clientHeight) return;
  frame.scrollTop = item.offsetTop - frame.clientHeight / 2;
}
