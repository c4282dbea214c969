// What the page hears: scans, bench cards and the pedal. All of them do what a touch does.

import { h } from "./dom.js";
import { listen, readCard, resolve } from "./scan.js";

const NAMES = {
  endoscope: "an endoscope",
  person: "a badge",
  lot: "a lot",
  "connector-set": "a connector set",
  charge: "a charge of disinfectant",
  brush: "a brush",
  cabinet: "a cabinet",
  washer: "a washer-disinfector",
  meter: "a meter",
  kit: "a test kit",
  basin: "a basin",
  dryer: "a source of drying air",
  strip: "a bottle of test strips",
  container: "a container",
  case: "a case reference",
  water: "a water",
};

// References that belong to nobody's list here: any code that is nothing else may be one.
const FREE = new Set(["case", "container"]);
const UNKNOWN = new Set(["unknown-code", "unreachable"]);

export const named = (kind) => NAMES[kind] ?? `a code of the kind “${kind}”`;

const inDialog = () => document.querySelector("dialog[open]") !== null;

function typing(target) {
  if (target instanceof HTMLTextAreaElement) return true;
  return target instanceof HTMLInputElement && !["checkbox", "radio", "button"].includes(target.type);
}

const ownSpace = (target) =>
  target instanceof Element && target.closest("button:not(.confirm), a, input, summary, textarea") !== null;

function pedal(page, event) {
  if (event.defaultPrevented || event.repeat || inDialog() || event.ctrlKey || event.altKey || event.metaKey) return;
  const space = event.key === " " && !typing(event.target) && !ownSpace(event.target);
  if (event.key !== "PageDown" && !space) return;
  event.preventDefault();
  page.goOn();
}

// Enter in a field never sends anything: it leads to the next field that is still empty.
function enter(page, event) {
  if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement) || event.target.id === "pin") return;
  event.preventDefault();
  const next = page.work?.listening()?.next();
  if (next) next.focus();
  else document.querySelector("button.confirm")?.focus();
}

function card(page, said) {
  const form = page.work?.listening();
  if (said.go) return page.goOn();
  const release = page.work?.troubles.open ? null : page.work?.release;
  if (release && (said.digit || said.back)) return release.digit(said.back ? null : said.digit);
  if (!form) return page.say("There is nothing to fill in here.");
  if (said.yes) return form.nextTick()?.yes() ?? page.say("There is nothing to say yes to now.");
  if (said.digit || said.back) return digits(page, form, said);
  return choose(page, form, form.next(), said.choice);
}

// Digits go into the number that was begun, else into the next empty field that takes digits.
function digits(page, form, said) {
  const takes = form.fields.filter((field) => typeof field.digit === "function");
  const begun = takes.includes(form.begun) ? form.begun : null;
  const field = begun ?? takes.find((found) => found.empty());
  if (!field) return page.say("No number is asked for here.");
  form.begun = field;
  field.digit(said.back ? null : said.digit);
  return page.say(`${field.entry.label}: ${field.raw() || "empty"}`);
}

function choose(page, form, next, place) {
  form.begun = null;
  const field =
    next && typeof next.pickPlace === "function"
      ? next
      : form.fields.find((found) => typeof found.pickPlace === "function" && found.empty());
  if (!field?.pickPlace(place)) return page.say("There is no such choice here.");
  const chosen = field.chosen?.();
  return page.say(`${field.entry.label}: ${chosen?.label ?? field.raw()}`);
}

async function scanned(page, code) {
  const said = readCard(code);
  if (said) return card(page, said);
  const form = page.work?.listening() ?? null;
  if (form) form.begun = null;
  const direct = form?.byCode(code);
  if (direct) return take(page, direct.field, { id: direct.choice.value, label: direct.choice.label });
  try {
    return found(page, form, code, await resolve(code, page.plan, (text) => ask(page, text)));
  } catch (error) {
    const free = form?.fields.find((field) => FREE.has(field.entry.scans) && field.take && !field.choices.length);
    if (free && UNKNOWN.has(error.code)) return take(page, free, { id: code, label: code });
    return page.say([error.message, error.hint].filter(Boolean).join(" "));
  }
}

const ask = (page, code) => page.api("/api/v1/scan", { code, station: page.plan.station, expects: "" });

function take(page, field, thing) {
  const why = field.take
    ? field.take(thing)
    : field.pick(thing.id)
      ? ""
      : field.choices.find((choice) => choice.value === thing.id)?.why_not || "It does not fit here.";
  field.mark(why);
  page.say(why || `${field.entry.label}: ${thing.label}`);
}

function found(page, form, code, thing) {
  if (thing.kind === "endoscope") return endoscope(page, thing);
  const field = form?.wants(thing.kind);
  if (field && !(thing.kind === "person" && !field.empty())) return fitting(page, field, thing);
  if (thing.kind === "person") return badge(page, thing, code);
  const asked = form?.asksFor() ?? [];
  const wanted = asked.length ? `This step asks for ${asked.map(named).join(" or ")}.` : "This step asks for no scan.";
  return page.say(`That is ${named(thing.kind)}: ${thing.label}. ${wanted}`);
}

function fitting(page, field, thing) {
  if (thing.usable === false) {
    field.mark(thing.why_not);
    return page.say(thing.why_not);
  }
  return take(page, field, thing);
}

function badge(page, thing, code) {
  if (thing.usable === false) return page.say(thing.why_not);
  page.acting.take({ id: thing.id, name: thing.label, badge: code });
  page.render();
  return page.say(`${thing.label} acts here now.`);
}

function endoscope(page, thing) {
  if (thing.id === page.plan.endoscope) return page.say(`${thing.label}: the one on this page.`);
  page.say(`That is ${thing.label}. This page works on ${page.plan.endoscope_name}.`);
  const there = h(
    "a",
    { href: `${page.settings.station_address}${encodeURIComponent(thing.id)}/` },
    ` Go to ${thing.label}`,
  );
  return document.getElementById("heard").append(there);
}

export function hears(page) {
  listen({ onScan: (code) => scanned(page, code), onBroken: () => page.say("A scan broke off. Scan it again.") });
  document.addEventListener("keydown", (event) => pedal(page, event));
  document.addEventListener("keydown", (event) => enter(page, event));
}
