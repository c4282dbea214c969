// The last step: the verdict with every finding, those against first, and a signature by a competent person.

import { h, replace } from "./dom.js";
import { uuid7 } from "./uuid7.js";
import { showTime, withOffset } from "./words.js";

const ORDER = { broken: 0, unknown: 1, met: 2, "not applicable": 3 };
const WORD = { broken: "Broken", unknown: "Not known", met: "Met", "not applicable": "Does not apply" };

export class Release {
  // api(path, body?) -> parsed answer, throws {message, hint, field}.
  constructor({ plan, step, cycle, person, api, onReleased, say, pins = {} }) {
    Object.assign(this, { plan, step, cycle, person, api, onReleased, say, pins, busy: false });
    this.element = h("div", { class: "release" }, h("p", {}, "Asking for the verdict …"));
    this.load();
  }

  async load() {
    try {
      this.show(await this.api(`/api/v1/endoscopes/${encodeURIComponent(this.plan.endoscope)}/verdict`));
    } catch (error) {
      const again = h("button", { type: "button", onclick: () => this.load() }, "Ask again");
      replace(
        this.element,
        h("p", { class: "error" }, error.message),
        h("p", {}, "The verdict and the signature need the server."),
        again,
      );
    }
  }

  show(verdict) {
    const findings = [...verdict.findings].sort((a, b) => ORDER[a.answer] - ORDER[b.answer]);
    const against = findings.filter((finding) => ORDER[finding.answer] < 2);
    const ready = verdict.ready ?? (findings.length > 0 && against.length === 0);
    replace(
      this.element,
      h(
        "p",
        { class: "verdict" },
        ready
          ? `${this.plan.endoscope_name} can be released. Every rule is met.`
          : notReady(this.plan.endoscope_name, against.length),
      ),
      against.length ? h("ul", { class: "findings" }, against.map(line)) : null,
      ready ? this.signature() : this.again(),
      h(
        "details",
        {},
        h("summary", {}, `Every finding: ${findings.length}`),
        h("ul", { class: "findings" }, findings.filter((found) => !against.includes(found)).map(line)),
      ),
    );
  }

  again() {
    return h("button", { type: "button", onclick: () => this.load() }, "Ask for the verdict again");
  }

  signature() {
    this.pin = h("input", {
      id: "pin",
      type: "password",
      inputmode: "numeric",
      autocomplete: "off",
      maxlength: 8,
      "aria-describedby": "pin-error",
      onkeydown: (event) => event.key === "Enter" && this.sign(),
    });
    this.error = h("p", { class: "error", id: "pin-error", hidden: true });
    return h(
      "div",
      { class: "sign" },
      h("p", {}, "Signing says: released for patient use. The verdict of this moment is kept with the signature."),
      h("label", { for: "pin" }, `PIN of ${this.person().name}`),
      this.pin,
      this.pins[this.person().id]
        ? h(
            "p",
            { class: "hint" },
            `This house is invented; the PIN of this invented person is ${this.pins[this.person().id]}.`,
          )
        : null,
      this.error,
      h(
        "button",
        { type: "button", class: "filled confirm", onclick: () => this.sign() },
        h("span", {}, this.step.confirm),
        h("small", {}, "signed with your PIN"),
      ),
    );
  }

  digit(digit) {
    if (this.pin) this.pin.value = digit === null ? this.pin.value.slice(0, -1) : this.pin.value + digit;
  }

  fail(sentence) {
    this.error.textContent = sentence;
    this.error.hidden = false;
    this.pin.setAttribute("aria-invalid", "true");
    this.pin.value = "";
    this.pin.focus();
    this.say(sentence);
  }

  // An answer may still say no: the verdict can have changed since it was shown.
  taken({ verdict, answer }) {
    if (COUNTS.has(answer.answer)) return this.onReleased({ verdict });
    this.actId = null;
    if (verdict) this.show(verdict);
    const sentence = [answer.error?.message, answer.error?.hint].filter(Boolean).join(" ") || "It was not released.";
    if (this.pin?.isConnected) this.fail(sentence);
    else this.say(sentence);
  }

  async sign() {
    if (!this.pin?.isConnected) return this.say("It cannot be released: read what stands in the way.");
    if (this.busy) return;
    if (!this.pin.value) return this.fail("Type your PIN.");
    this.busy = true;
    this.actId ??= uuid7();
    const { id, badge } = this.person();
    const asked = {
      endoscope: this.plan.endoscope,
      cycle: this.cycle,
      station: this.plan.station,
      person: id,
      pin: this.pin.value,
      act_id: this.actId,
      happened_at: withOffset(new Date()),
    };
    try {
      this.taken(await this.api("/api/v1/release", badge ? { ...asked, badge } : asked));
    } catch (error) {
      this.actId = error.code === "unreachable" ? this.actId : null;
      this.fail([error.message, error.hint].filter(Boolean).join(" "));
    } finally {
      this.busy = false;
    }
  }
}

const COUNTS = new Set(["recorded", "already recorded"]);
const notReady = (name, count) =>
  `${name} is not ready. ${count === 1 ? "One thing stands" : `${count} things stand`} in the way.`;

function line(finding) {
  return h(
    "li",
    { class: `finding ${finding.answer.replace(" ", "-")}` },
    h("span", { class: "answer" }, WORD[finding.answer]),
    h("strong", {}, finding.title),
    h("p", {}, finding.sentence),
    finding.fix ? h("p", { class: "fix" }, `What would help: ${finding.fix}`) : null,
    h("p", { class: "quiet small" }, `${finding.authority}: ${finding.source}`),
  );
}

export function releasedWords(answer, name, zone) {
  const until = answer?.verdict?.ready_until;
  if (!until) return `${name} is released.`;
  const day = new Date(until).toLocaleDateString("en-GB", {
    weekday: "long",
    day: "numeric",
    month: "long",
    timeZone: zone || undefined,
  });
  return `${name} is released. Ready until ${showTime(until, zone)}, ${day}.`;
}
