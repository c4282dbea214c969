// The sink page: the plan, the acts so far, who acts; draws path, work and drawing, and turns gestures into acts.

import { carried, cycleOf, makeAct } from "./acts.js";
import { drawingFor } from "./draw.js";
import { h, replace } from "./dom.js";
import { hears } from "./hears.js";
import { Outbox } from "./outbox.js";
import { drawPath } from "./path.js";
import { Acting } from "./people.js";
import { inOrder, progress, same, troubleOf } from "./progress.js";
import { Release, releasedWords } from "./release.js";
import { talk } from "./talk.js";
import { Ticker, Tones } from "./timer.js";
import { Work } from "./work.js";
import { showDuration } from "./words.js";

const $ = (id) => document.getElementById(id);

class SinkPage {
  constructor() {
    this.plan = JSON.parse($("plan").textContent);
    this.settings = JSON.parse($("settings").textContent);
    this.token = document.querySelector("meta[name=csrf-token]").content;
    this.api = talk(this.token);
    this.tones = new Tones();
    this.ticker = new Ticker(this.tones);
    this.acting = new Acting({ station: this.plan.station, session: this.settings.person, element: $("who") });
    this.outbox = new Outbox({ address: "/api/v1/acts", token: this.token });
    this.answered = new Map();
    this.skipped = new Set();
    this.lastPress = 0;
    this.wire();
    this.render(true);
    this.outbox.start();
    hears(this);
  }

  wire() {
    this.outbox.addEventListener("change", () => this.outboxChanged());
    this.outbox.addEventListener("full", (event) => this.cannotKeep(event.detail));
    this.outbox.addEventListener("answer", (event) => this.answerCame(event.detail));
    setInterval(() => this.everySecond(), 1000);
    setInterval(() => this.render(), 20000);
  }

  // --- what is known

  ours(entry) {
    return entry.endoscope === this.plan.endoscope;
  }

  acts() {
    const waiting = this.outbox
      .waiting()
      .filter((entry) => this.ours(entry))
      .map((entry) => entry.act);
    const all = inOrder([...this.answered.values(), ...waiting, ...this.plan.acts]);
    const cycle = cycleOf(this.plan, all);
    return all.filter((act) => !act.cycle || act.cycle === cycle);
  }

  channelName(id) {
    return this.plan.channels?.channels?.find((channel) => channel.id === id)?.name ?? id;
  }

  step(key) {
    return this.plan.steps.find((step) => step.key === key) ?? null;
  }

  currentKey() {
    if (this.state.stopped || this.plan.held) return "";
    if (this.insteadOf && this.insteadOf.next === this.state.next) return this.insteadOf.key;
    const out = new Set([...this.state.left_out, ...this.skipped, ...Object.keys(this.state.done)]);
    return this.plan.steps.find((step) => !out.has(step.key))?.key ?? "";
  }

  // What a form of a step or trouble starts from.
  askFor(step, trouble = null) {
    const doneIds = new Set(Object.values(this.state.done));
    const stem = `${this.acting.person.id}.${this.plan.endoscope}.${cycleOf(this.plan, this.acts()) || "new"}.${step.key}`;
    return {
      onFull: (error) => this.cannotKeep(error),
      carried: carried((trouble ?? step).carry, this.acts(), doneIds),
      draftKey: `lumenward.draft.${stem}${trouble ? `.${trouble.key}` : ""}`,
      lastKey: `lumenward.last.${this.plan.station}.${(trouble ?? step).key}`,
    };
  }

  // --- drawing

  render(force = false) {
    this.state = progress(this.plan.steps, this.acts(), Date.now(), this.plan.lifted ?? "");
    const key = this.currentKey();
    const where = drawPath($("path"), this.plan.steps, this.state, this.acts(), key);
    $("here").textContent = where;
    const started = key ? (this.state.started[key] ?? "") : "";
    this.drawClocks();
    const shown = JSON.stringify([
      key,
      started,
      this.state.stopped,
      this.plan.held,
      this.acting.person.id,
      this.step(key),
    ]);
    if (!force && shown === this.shown) return;
    this.shown = shown;
    this.drawWork(key, started);
  }

  drawWork(key, started) {
    this.ticker.stop();
    this.work = null;
    const step = this.step(key);
    if (!step) replace($("work"), this.ending());
    else {
      this.work = new Work(this, step, started ? (this.acts().find((act) => act.id === started) ?? null) : null);
      replace($("work"), this.work.element);
    }
    if (!this.work || this.work.turnShown === undefined)
      replace($("drawing"), drawingFor(this.plan.channels, step?.drawing ?? {}, step?.drawing?.turns?.[0] ?? null));
    if (this.work) this.showDose(this.work.form);
    this.drawRefusals();
  }

  // The clocks that run out: the delay before cleaning, a connector set's life.
  drawClocks() {
    const now = Date.now();
    const cleaning = this.acts().some((act) => act.kind === "cleaning_started");
    const running = (this.plan.clocks ?? []).filter(
      (clock) => clock.sense !== "floor" && !(cleaning && clock.name.startsWith("delay")),
    );
    const pressing = (clock) => clock.name.startsWith("delay") || now >= Date.parse(clock.soon_at);
    const lines = running.filter(pressing).map((clock) => {
      const left = (Date.parse(clock.limit_at) - now) / 1000;
      const word = left < 0 ? "late" : now >= Date.parse(clock.soon_at) ? "soon" : "quiet";
      const said = left < 0 ? `late by ${showDuration(-left)}` : `${showDuration(left)} left`;
      return h("span", { class: word, title: `${clock.basis}: ${clock.source}` }, `${clock.name}: ${said}`);
    });
    replace($("clocks"), lines);
  }

  releaseFor(step) {
    return new Release({
      plan: this.plan,
      step,
      pins: this.settings.demo_pins,
      cycle: cycleOf(this.plan, this.acts()),
      person: () => this.acting.person,
      api: this.api,
      say: (words) => this.say(words),
      onReleased: (answer) => this.releasedNow(answer),
    });
  }

  releasedNow(answer) {
    this.releasedSentence = releasedWords(answer, this.plan.endoscope_name, this.settings.zone);
    this.say(this.releasedSentence);
    this.refreshPlan();
  }

  // Nothing more to do: held, stopped, or ready.
  ending() {
    const next = h("a", { class: "button filled", href: this.settings.station_address }, "Take the next endoscope");
    const record = cycleOf(this.plan, this.acts())
      ? h(
          "a",
          { class: "button", href: `/records/${cycleOf(this.plan, this.acts())}/` },
          "See the record of this cycle",
        )
      : null;
    if (this.plan.held)
      return [
        h("h1", { tabindex: "-1" }, `${this.plan.endoscope_name} is held`),
        h("p", { class: "say" }, this.plan.held),
        next,
        record,
      ];
    if (this.state.stopped) {
      const act = this.acts().find((found) => found.id === this.state.stopped);
      const trouble = act ? troubleOf(this.plan.steps, act) : null;
      const say = trouble?.attempts ? trouble.say_stop : trouble?.say;
      return [
        h("h1", { tabindex: "-1" }, `Stopped: ${trouble?.label ?? "this endoscope is held"}`),
        h(
          "ul",
          { class: "say" },
          (say ?? []).map((line) => h("li", {}, line)),
        ),
        next,
        record,
      ];
    }
    const sentence = this.releasedSentence ?? `Everything is done for ${this.plan.endoscope_name}.`;
    const standing = this.plan.standing ? h("p", { class: "say" }, this.plan.standing) : null;
    const again = this.plan.again ? h("a", { class: "button", href: "?again" }, "Begin its next cycle") : null;
    return [h("h1", { tabindex: "-1" }, sentence), standing, h("div", { class: "ways" }, next, again, record)];
  }

  // The drawing of one turn of the clamps: which ports are shut, what to expect at each outlet.
  showTurn(step, turn) {
    replace($("drawing"), drawingFor(this.plan.channels, step.drawing, turn));
  }

  // The vessel with its water as high as it was said to stand.
  showDose(form) {
    const dosing = form.dosing();
    if (dosing)
      replace(
        $("drawing"),
        drawingFor(null, {
          show: "vessel",
          marks: dosing.marks,
          name: dosing.vessel_name,
          level: form.dosed?.row?.[0] ?? null,
        }),
      );
  }

  say(words) {
    $("heard").textContent = words;
  }

  // --- going on

  press() {
    const now = performance.now();
    if (now - this.lastPress < 450) return false;
    this.lastPress = now;
    return true;
  }

  goOn() {
    if (!this.press()) return;
    if (this.work) return void this.work.goOn();
    const next = $("work").querySelector("a.filled");
    if (next) next.click();
  }

  goInstead(key) {
    this.insteadOf = { key, next: this.state.next };
    this.render(true);
    this.toTop();
  }

  skip(key) {
    this.skipped.add(key);
    this.render(true);
    this.toTop();
  }

  startTimer(step) {
    this.enqueue(step, () => [this.act("step_started", { step: step.key })], step.timer.start, null);
  }

  act(kind, body, extra = {}) {
    const { id, badge } = this.acting.person;
    return makeAct({
      kind,
      body,
      plan: this.plan,
      cycle: cycleOf(this.plan, this.acts()),
      person: id,
      badge: id === this.settings.person.id ? "" : badge,
      ...extra,
    });
  }

  // Confirms a step or a trouble: makes its act and puts it into the outbox.
  record(step, kind, found, form, startedAct, trouble = null) {
    const timed = kind === step.kind && step.timer && !step.timer.since && step.timer.recorded !== false && startedAct;
    const body = timed ? { ...found.body, started: startedAct.id } : found.body;
    const extra = {};
    if (kind === step.kind && step.about && step.about !== "endoscope")
      Object.assign(extra, { about: step.about, subject: found.subject ?? body.subject });
    delete body.subject;
    const draft = { key: form.draftKey, text: localStorage.getItem(form.draftKey) };
    this.insteadOf = null;
    const make = () => {
      const act = this.act(kind, body, { ...extra, at: found.at ?? new Date() });
      return [act, ...this.holding(act, trouble)];
    };
    if (this.enqueue(step, make, trouble ? trouble.label : step.title, draft)) form.finish();
  }

  // A trouble that stops the work for good holds the endoscope by an act of its own.
  holding(act, trouble) {
    if (!trouble?.holds) return [];
    const after = progress(this.plan.steps, inOrder([...this.acts(), act]), Date.now(), this.plan.lifted ?? "");
    return after.stopped === act.id ? [this.act("held", { reason: trouble.holds })] : [];
  }

  // A second person goes on half-way: the hand-over is an act of its own.
  handOver() {
    const latest = this.acts()
      .filter((act) => act.cycle)
      .at(-1);
    const { id } = this.acting.person;
    return latest && latest.person !== id ? [this.act("handed_over", { from_person: latest.person })] : [];
  }

  enqueue(step, make, say, draft) {
    try {
      for (const act of [...this.handOver(), ...make()])
        this.outbox.add(act, say, { endoscope: this.plan.endoscope, step: step.key, draft });
    } catch (error) {
      this.cannotKeep(error);
      return false;
    }
    this.say(`Noted: ${say}`);
    this.render();
    this.toTop();
    return true;
  }

  cannotKeep(error) {
    this.say(`This tablet cannot keep what was done (${error.message}). Do not go on here: use another tablet.`);
  }

  toTop() {
    scrollTo({ top: 0 });
    $("work").querySelector("h1")?.focus({ preventScroll: true });
  }

  undo() {
    const entry = this.outbox.undoable();
    if (!entry) return;
    if (!this.outbox.takeBack(entry.act.id)) return this.say("It is on the server already. Correct it in the record.");
    if (entry.draft?.text) localStorage.setItem(entry.draft.key, entry.draft.text);
    this.say(`Taken back: ${entry.say}`);
    this.render(true);
    this.toTop();
  }

  // --- what the outbox says

  everySecond() {
    const entry = this.outbox.undoable();
    const button = $("undo");
    const left = entry ? Math.ceil((entry.hold_until - Date.now()) / 1000) : 0;
    button.hidden = !entry || !this.ours(entry);
    if (entry) replace(button, h("span", {}, `Take back: ${entry.say}`), h("small", {}, `${left} s`));
    document.body.classList.toggle("can-undo", Boolean(entry));
  }

  outboxChanged() {
    const { state, words } = this.outbox.status();
    $("saved").textContent = words;
    $("saved").dataset.state = state;
    $("sign-in").hidden = state !== "sign-in";
    this.everySecond();
    this.render();
    this.drawRefusals();
  }

  answerCame(answer) {
    if (answer.answer === "recorded" || answer.answer === "already recorded") {
      this.answered.set(answer.id, answer.act);
    }
    clearTimeout(this.refreshing);
    this.refreshing = setTimeout(() => this.refreshPlan(), 600);
  }

  // Asks on for the next cycle of a ready endoscope until its first act is on the server.
  again() {
    return this.plan.cycle ? "" : "&again=true";
  }

  async refreshPlan() {
    if (this.outbox.waiting().some((entry) => this.ours(entry))) return;
    try {
      const plan = await this.api(
        `/api/v1/stations/${encodeURIComponent(this.plan.station)}/plan?endoscope=${encodeURIComponent(this.plan.endoscope)}${this.again()}`,
      );
      const changed = !same({ ...plan, made_at: "" }, { ...this.plan, made_at: "" });
      this.plan = plan;
      for (const act of plan.acts) this.answered.delete(act.id);
      if (changed) this.render();
    } catch (error) {
      if (error.code !== "unreachable") this.say(error.message);
    }
  }

  drawRefusals() {
    const refused = this.outbox.refused();
    const lines = refused.map((entry) => {
      const about = this.ours(entry) ? "" : ` (${entry.endoscope})`;
      const seen = h("button", { type: "button", onclick: () => this.outbox.dismiss(entry.act.id) }, "Understood");
      return h(
        "li",
        {},
        h("p", {}, h("strong", {}, `Not recorded: ${entry.say}${about}. `), entry.error.message, " ", entry.error.hint),
        seen,
      );
    });
    replace($("refused"), lines);
    if (refused.length && $("heard").textContent.startsWith("Noted: ")) this.say(""); // it was not
    for (const entry of refused.filter((found) => this.ours(found))) this.markRefused(entry);
  }

  // What was typed is kept: the draft comes back, and the sentence stands beside its field.
  markRefused(entry) {
    if (entry.draft?.text && !localStorage.getItem(entry.draft.key) && !this.restored?.has(entry.act.id)) {
      (this.restored ??= new Set()).add(entry.act.id);
      localStorage.setItem(entry.draft.key, entry.draft.text);
      this.render(true);
      return;
    }
    const key = entry.error.field?.replace(/^body\./, "").split(".")[0];
    if (this.work?.step.key === entry.step && key) this.work.form.field(key)?.mark(entry.error.message);
  }
}

const page = new SinkPage();
$("undo").addEventListener("click", () => page.undo());
