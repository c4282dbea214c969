// Making acts: what the person gave, what the plan fixes, what earlier acts of the cycle carry over.

import { agrees, asCorrected } from "./progress.js";
import { uuid7 } from "./uuid7.js";
import { withOffset } from "./words.js";

const OPENING = new Set(["patient_use_ended", "reprocessing_required"]);

function taken(act, key) {
  if (key === "id" || key === "subject") return act[key];
  return act.body[key];
}

// The values that `carry` of a step or trouble takes over; keys for which no act was found are left out.
export function carried(carry, acts, doneIds) {
  const found = {};
  const counted = asCorrected(acts).filter((act) => doneIds.has(act.id));
  for (const [key, from] of Object.entries(carry ?? {})) {
    const many = from.endsWith("[]");
    const [kind, field] = from.replace("[]", "").split(".");
    const values = counted.filter((act) => act.kind === kind).map((act) => taken(act, field));
    if (many && values.length) found[key] = values;
    else if (!many && values.at(-1) !== undefined) found[key] = values.at(-1);
  }
  return found;
}

// The trouble that the values given already amount to ("leak", "debris seen"), or null.
export function amountsTo(troubles, kind, body) {
  const fits = (trouble) => {
    const keys = trouble.match?.length ? trouble.match : Object.keys(trouble.body ?? {});
    return trouble.kind === kind && keys.length > 0 && agrees(keys, trouble.body, body);
  };
  return (troubles ?? []).find(fits) ?? null;
}

// One act. `at` is a Date; `subject` only where it is not the endoscope itself.
export function makeAct({ kind, body, plan, cycle, person, badge, at = new Date(), subject, about = "endoscope" }) {
  const id = uuid7();
  const inCycle = about === "endoscope";
  const act = {
    id,
    kind,
    version: 1,
    subject: subject ?? plan.endoscope,
    cycle: inCycle ? (OPENING.has(kind) ? id : cycle) : "",
    person,
    station: plan.station,
    happened_at: withOffset(at),
    body,
  };
  return badge ? { ...act, badge } : act;
}

// The cycle under way: the one opened last, be it on this tablet and not yet on the server.
export const cycleOf = (plan, acts) => acts.findLast((act) => OPENING.has(act.kind))?.id ?? plan.cycle;
