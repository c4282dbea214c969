// The middle: one step, its numbers with their basis, its entries, its clock, its one filled button.

import { amountsTo } from "./acts.js";
import { h, replace } from "./dom.js";
import { Form } from "./form.js";
import { floorOf } from "./progress.js";
import { turnAt } from "./timer.js";
import { TroublePanel } from "./trouble.js";
import { showClock, showDuration, showQuantity } from "./words.js";

const FRONT = { floor: "at least", ceiling: "at most", aim: "aim at" };
const RANK = ["law", "IFU", "label", "policy", "default", "computed"];
const WHAT = { duration: "", count: "" };

function figure(target) {
  const unit = { times: "×", C: "°C" }[target.unit] ?? target.unit;
  const minutes = target.unit === "s" && target.value >= 120 && target.value <= 7200 && target.value % 60 === 0;
  if (minutes) return showQuantity(target.value / 60, "min");
  return target.unit === "s" ? showDuration(target.value) : showQuantity(target.value, unit);
}

// Of several numbers for the same thing the strictest decides, of equals the highest authority; a shipped default only alone.
export function deciding(targets) {
  const said = targets.filter((target) => target.basis !== "default");
  const pool = said.some((target) => target.basis !== "computed") ? said : targets;
  const sign = { floor: -1, ceiling: 1, aim: 0 }[targets[0].bound];
  const order = (a, b) => sign * (a.value - b.value) || RANK.indexOf(a.basis) - RANK.indexOf(b.basis);
  return [...pool].sort(order)[0];
}

function tile(targets, nameOf) {
  const first = deciding(targets);
  const sign = { floor: "≥ ", ceiling: "≤ ", aim: "" }[first.bound];
  const what = [FRONT[first.bound], WHAT[first.quantity] ?? first.quantity, first.channel ? nameOf(first.channel) : ""]
    .filter(Boolean)
    .join(", ");
  const others = new Set(
    targets.filter((target) => target !== first).map((target) => `${figure(target)} ${target.basis}`),
  );
  others.delete(`${figure(first)} ${first.basis}`);
  const also = others.size ? h("small", {}, `also said: ${[...others].slice(0, 3).join(", ")}`) : null;
  return h(
    "li",
    {},
    h("strong", {}, sign + figure(first)),
    h("span", {}, what),
    h("small", {}, `${first.basis}: ${first.source}`),
    also,
  );
}

// The number and its basis stand together; numbers for the same thing share a tile.
export function tiles(targets, nameOf) {
  const groups = new Map();
  for (const target of targets ?? []) {
    const key = [target.quantity, target.bound, target.unit, target.channel ?? ""].join("|");
    groups.set(key, [...(groups.get(key) ?? []), target]);
  }
  if (!groups.size) return null;
  return h(
    "ul",
    { class: "tiles", "aria-label": "Numbers and who says so" },
    [...groups.values()].slice(0, 6).map((group) => tile(group, nameOf)),
  );
}

export class Work {
  // page: the sink page (see page.js); step: the planned step; startedAct: the act that started its timer, or null.
  constructor(page, step, startedAct) {
    Object.assign(this, { page, step, startedAct });
    this.troubles = new TroublePanel({
      step,
      ask: (trouble) => page.askFor(step, trouble),
      onConfirm: (trouble, form) => this.confirmTrouble(trouble, form),
      onClose: () => this.draw(),
    });
    this.form = new Form({
      ...page.askFor(step),
      entries: step.entries ?? [],
      dosings: step.dosings ?? [],
      fixed: step.body ?? {},
      onChange: () => this.changed(),
    });
    this.release = step.kind === "released" ? page.releaseFor(step) : null;
    this.main = h("div", { class: "main-thing" });
    this.instead = h("div", { class: "instead", role: "status" });
    this.element = h("div", { class: "step" });
    this.troubles.element.addEventListener("opened", () => this.draw());
    this.draw();
  }

  get floor_s() {
    return floorOf(this.step.timer, this.startedAct?.body ?? {});
  }

  get timed() {
    return Boolean(this.step.timer);
  }

  draw() {
    this.heading = h("h1", { tabindex: "-1" }, this.step.title);
    const open = this.troubles.open;
    const { first, last } = open ? { first: null, last: null } : this.parts();
    replace(this.element, this.heading, first, this.troubles.element, last);
    if (!open) this.drawMain();
  }

  // Before its clock runs a timed step asks for one thing only; while it runs clock, entries and button stand first and
  // what was read before follows below.
  parts() {
    const { step } = this;
    const lines = step.say ?? [];
    const say =
      lines.length > 1
        ? h(
            "ul",
            { class: "say" },
            lines.map((line) => h("li", {}, line)),
          )
        : lines.map((line) => h("p", { class: "say" }, line));
    const cautions = step.cautions?.length
      ? h(
          "div",
          { class: "cautions" },
          step.cautions.map((line) => h("p", {}, line)),
        )
      : null;
    this.numbers = h("div", { class: "numbers" });
    this.drawNumbers();
    if (this.release) return { first: [say, cautions, this.release.element], last: null };
    const doing = [this.instead, this.main, this.others()];
    if (this.timed && this.startedAct)
      return {
        first: [this.clock(), cautions, this.form.element, doing],
        last: [h("div", { class: "below" }, say, this.numbers)],
      };
    const form = this.timed && !step.timer.since ? null : this.form.element;
    return { first: [say, cautions, this.numbers, form, doing], last: null };
  }

  drawNumbers() {
    const all = [...(this.step.targets ?? []), ...this.form.targets()];
    const shown = JSON.stringify(all);
    if (shown === this.numbers.dataset.shown) return;
    this.numbers.dataset.shown = shown;
    replace(
      this.numbers,
      tiles(all, (id) => this.page.channelName(id)),
    );
  }

  // The clock's place, once its timer runs.
  clock() {
    if (!this.timed || !this.startedAct) return null;
    this.face = h("span", { class: "face" });
    this.about = h("span", { class: "about" });
    const tones = this.page.tones;
    const label = () => (tones.silent ? "Sound is off: switch on" : "Sound is on: silence it");
    const quiet = h(
      "button",
      {
        type: "button",
        class: "plain sound",
        onclick: () => ((tones.silent = !tones.silent), (quiet.textContent = label())),
      },
      label(),
    );
    if (this.floor_s === null)
      return h("p", { class: "error" }, this.step.timer.no_row || "No stated time fits what was measured.");
    this.page.ticker.run(
      { started_at: this.startedAct.happened_at, floor_s: this.floor_s, ceiling_s: this.step.timer.ceiling_s ?? null },
      (now) => this.tick(now),
    );
    return h(
      "div",
      { class: "clock", role: "timer", "aria-label": "Time of this step" },
      this.face,
      h("div", {}, this.about, quiet),
      this.basis(),
    );
  }

  // Who asks for the time that runs, as far as somebody states just this time.
  basis() {
    const asked = [...(this.step.targets ?? []), ...this.form.targets()].filter(
      (target) => target.quantity === "duration" && target.bound === "floor" && target.value === this.floor_s,
    );
    if (!asked.length) return null;
    const { basis, source } = deciding(asked);
    return h("small", { class: "basis" }, `At least ${showDuration(this.floor_s)} — ${basis}: ${source}`);
  }

  tick(now) {
    if (!this.face.isConnected && this.shownOnce) return this.page.ticker.stop();
    this.shownOnce = true;
    this.now = now;
    const turn = turnAt(this.step.drawing?.turns, now.ran);
    this.turn(turn);
    this.face.textContent = turn && !turn.last ? showClock(Math.ceil(turn.left)) : now.clock;
    this.about.textContent = this.aboutClock(now, turn);
    this.face.classList.toggle("enough", now.enough);
    const why = this.main.querySelector("#why-not");
    if (why && now.why_not && !this.step.blocked) why.textContent = now.why_not;
    if (now.enough !== this.wasEnough) {
      this.wasEnough = now.enough;
      this.drawMain();
      if (now.enough) this.page.say(`Time is up. ${this.step.timer.ends}.`);
    }
  }

  // A new turn of the clamps is drawn, said and sounded once.
  turn(turn) {
    if (!turn || turn.place === this.turnShown) return;
    const before = this.step.drawing.turns[turn.place - 1]?.then;
    if (this.turnShown !== undefined && before) {
      this.page.ticker.turned();
      this.page.say(`Turn ${turn.place + 1}: ${before}.`);
    }
    this.turnShown = turn.place;
    this.page.showTurn(this.step, turn.turn);
  }

  aboutClock(now, turn) {
    const { running, ends, ceiling_s } = this.step.timer;
    if (now.over) return `It ran longer than ${showDuration(ceiling_s)}, the most that is allowed. ${ends}.`;
    if (turn && !turn.last) return `to go in turn ${turn.place + 1}${turn.turn.then ? `, then ${turn.turn.then}` : ""}`;
    if (now.enough && !this.floor_s) return `gone by. ${ends}.`;
    if (now.enough) return `gone by: at least ${showDuration(this.floor_s)} are done. ${ends}.`;
    return `to go of ${showDuration(this.floor_s)}. ${running}.`;
  }

  // What stands in the way of the one filled button; empty when nothing does.
  whyNot() {
    if (this.step.blocked) return this.step.blocked;
    if (this.timed && this.startedAct && this.floor_s === null)
      return this.step.timer.no_row || "No stated time fits what was measured.";
    if (this.timed && this.startedAct && this.now && !this.now.enough) return this.now.why_not;
    return "";
  }

  amounts() {
    return amountsTo(this.step.troubles, this.step.kind, this.form.known());
  }

  drawMain() {
    if (this.release) return;
    const start = this.timed && !this.startedAct;
    const trouble = this.amounts();
    replace(
      this.instead,
      trouble
        ? [
            h("p", { class: "strong" }, `${trouble.label}.`),
            h(
              "ul",
              { class: "say" },
              trouble.say.map((line) => h("li", {}, line)),
            ),
          ]
        : [],
    );
    const missingStart = start && this.step.timer.since;
    const why = missingStart
      ? "The act that starts this time is missing: go back one step."
      : trouble
        ? ""
        : this.whyNot();
    const label = start && !missingStart ? this.step.timer.start : (trouble?.confirm ?? this.step.confirm);
    const button = h(
      "button",
      {
        type: "button",
        class: "filled confirm",
        "aria-disabled": why ? "true" : null,
        "aria-describedby": why ? "why-not" : null,
        onclick: () => this.goOn(true),
      },
      h("span", {}, label),
      h("small", {}, "scan, pedal or touch"),
    );
    replace(this.main, button, why ? h("p", { id: "why-not", class: "why-not" }, why) : null);
  }

  others() {
    const { step } = this;
    const ways = [];
    if (step.instead)
      ways.push(h("button", { type: "button", onclick: () => this.page.goInstead(step.instead) }, step.instead_label));
    if (step.optional)
      ways.push(
        h("button", { type: "button", onclick: () => this.page.skip(step.key) }, step.skip_words || "Leave this out"),
      );
    return ways.length ? h("div", { class: "ways" }, ways) : null;
  }

  changed() {
    this.page.showDose(this.form);
    this.drawNumbers();
    const trouble = this.amounts()?.key ?? "";
    if (trouble !== this.lastTrouble || this.now) {
      this.lastTrouble = trouble;
      this.drawMain();
    }
  }

  // One press of the pedal, the bench card or the button: start the clock, say yes to the next thing, or go on.
  goOn(touched = false) {
    if (this.troubles.open) return this.page.say("Touch the screen: this says that something is wrong.");
    if (this.release) return this.release.sign();
    if (this.timed && !this.startedAct && !this.step.timer.since) return this.page.startTimer(this.step);
    const trouble = this.amounts();
    const tick = touched || trouble ? null : this.form.nextTick();
    if (tick && this.form.next() === tick) {
      tick.yes();
      (this.form.next()?.element ?? this.main).scrollIntoView({ block: "nearest" });
      return this.page.say(`Yes: ${tick.entry.label}`);
    }
    return trouble ? this.becomeTrouble(trouble) : this.confirm();
  }

  confirm() {
    const why = this.whyNot();
    const found = this.form.collect(this.now?.ran ?? null);
    if (!why && !found.problems.length)
      return this.page.record(this.step, this.step.kind, found, this.form, this.startedAct);
    this.form.show(found.problems);
    return this.page.say([why, ...found.problems.map((problem) => problem.why)].filter(Boolean).slice(0, 3).join(" "));
  }

  // The values given already say that something is wrong: what is still missing is asked, else it is recorded.
  becomeTrouble(trouble) {
    const given = this.form.known();
    const missing = (trouble.entries ?? []).filter((entry) => entry.required && given[entry.key] === undefined);
    if (missing.length) return this.troubles.choose(trouble, given);
    const needed = new Set((trouble.entries ?? []).map((entry) => entry.key));
    const found = this.form.collect(this.now?.ran ?? null);
    const problems = found.problems.filter((problem) => needed.has(problem.key) && given[problem.key] !== undefined);
    if (problems.length) return this.form.show(problems);
    return this.page.record(
      this.step,
      trouble.kind,
      { ...found, body: { ...trouble.body, ...found.body } },
      this.form,
      this.startedAct,
      trouble,
    );
  }

  confirmTrouble(trouble, form) {
    const found = form.collect(this.now?.ran ?? null);
    if (found.problems.length) {
      form.show(found.problems);
      return this.page.say(found.problems[0].why);
    }
    return this.page.record(this.step, trouble.kind, found, form, this.startedAct, trouble);
  }

  // The form that hears scans now.
  listening() {
    return this.troubles.open ? this.troubles.form : this.form;
  }
}
