// Where the work stands in its plan: the same logic, function for function, as `progress` in journey/plan.py.

const known = (value) => (value === undefined ? null : typeof value === "boolean" ? Number(value) : value);

export function same(left, right) {
  const a = known(left);
  const b = known(right);
  if (a === null || b === null || typeof a !== "object" || typeof b !== "object") return a === b;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  const keys = Object.keys(a);
  if (keys.length !== Object.keys(b).length) return false;
  return keys.every((key) => key in b && same(a[key], b[key]));
}

export const agrees = (keys, planned, found) => keys.every((key) => same(found[key], planned[key]));

export function asCorrected(acts) {
  const found = new Map();
  for (const act of acts) {
    const named = String(act.body.event ?? "");
    if (act.kind === "corrected" && found.has(named)) {
      const body = act.body.new_body ?? null;
      if (body === null) found.delete(named);
      else found.set(named, { ...found.get(named), body });
    }
    found.set(act.id, act);
  }
  return [...found.values()];
}

export function troubleOf(steps, act) {
  for (const step of steps) {
    for (const trouble of step.troubles ?? []) {
      const keys = trouble.match?.length ? trouble.match : Object.keys(trouble.body ?? {});
      if (trouble.new_cycle || !keys.length || trouble.kind !== act.kind) continue;
      if (agrees(keys, trouble.body, act.body)) return trouble;
    }
  }
  return null;
}

function complete(steps, done, started, act) {
  for (const step of steps) {
    if (!(step.key in done) && step.kind === act.kind && agrees(step.match ?? [], step.body ?? {}, act.body)) {
      done[step.key] = act.id;
      delete started[step.key];
      break;
    }
  }
  for (const step of steps) {
    if (step.timer && step.timer.since && step.timer.since === act.kind && !(step.key in done))
      started[step.key] = act.id;
  }
}

function takeBack(done, started, order, backTo) {
  const from = order.indexOf(backTo);
  if (from < 0) return;
  for (const key of order.slice(from)) {
    delete done[key];
    delete started[key];
  }
}

function wayOf(step) {
  const cut = step.route.indexOf(":");
  return [step.route.slice(0, cut), step.route.slice(cut + 1)];
}

function otherWay(step, taken) {
  if (!step.route) return false;
  const [fork, way] = wayOf(step);
  return (taken[fork] ?? way) !== way;
}

function calledFor(condition, acts, now) {
  const begun = acts.find((act) => act.kind === condition.since);
  if (!begun) return false;
  const orIf = Object.keys(condition.or_if ?? {});
  if (orIf.length && agrees(orIf, condition.or_if, begun.body)) return true;
  const until = acts.find((act) => act.kind === condition.until);
  const over = until ? Date.parse(until.happened_at) : now;
  return over !== null && (over - Date.parse(begun.happened_at)) / 1000 > condition.limit_s;
}

function leftOut(steps, done, started, acts, now) {
  const taken = {};
  for (const step of steps) {
    if (step.route && (step.key in done || step.key in started)) {
      const [fork, way] = wayOf(step);
      taken[fork] = way;
    }
  }
  const lastDone = steps.reduce((last, step, place) => (step.key in done ? place : last), -1);
  const out = (step, place) =>
    otherWay(step, taken) ||
    (step.optional && place < lastDone) ||
    (step.only_after && !calledFor(step.only_after, acts, now));
  return steps.filter((step, place) => !(step.key in done) && out(step, place)).map((step) => step.key);
}

// `now` in milliseconds, or null, decides about steps that are called for only when a time is over; `lifted` is the id of
// a stopping act whose hold was lifted since.
export function progress(steps, acts, now = null, lifted = "") {
  const done = {};
  const started = {};
  let stopped = "";
  let failures = 0;
  const order = steps.map((step) => step.key);
  const counted = asCorrected(acts);
  for (const act of counted) {
    const trouble = troubleOf(steps, act);
    if (act.kind === "held") {
      stopped = act.id;
    } else if (trouble !== null) {
      const attempts = trouble.attempts ?? 0;
      failures += attempts ? 1 : 0;
      stopped = trouble.stops || (attempts > 0 && attempts <= failures) ? act.id : stopped;
      takeBack(done, started, order, trouble.back_to ?? "");
    } else if (act.kind === "step_started") {
      started[String(act.body.step ?? "None")] = act.id;
    } else if (act.kind === "work_interrupted") {
      delete started[String(act.body.step ?? "None")];
    } else if (act.kind === "hold_lifted") {
      stopped = "";
    } else {
      complete(steps, done, started, act);
    }
    if (act.id === lifted) stopped = "";
  }
  const left_out = leftOut(steps, done, started, counted, now);
  const next = stopped ? undefined : steps.find((step) => !(step.key in done) && !left_out.includes(step.key));
  return { done, started, next: next ? next.key : "", stopped, left_out };
}

// The floor of a timer, given the body of the act it runs since; null where no stated time is valid.
export function floorOf(timer, since) {
  if (!timer.rows?.length) return timer.floor_s;
  const between = (row) => Number(since[row.between] ?? -1000);
  const fitting = timer.rows.filter(
    (row) => same(since[row.key], row.value) && row.low <= between(row) && between(row) <= row.high,
  );
  if (!fitting.length) return null;
  return fitting.reduce((best, row) =>
    row.low > best.low || (row.low === best.low && row.floor_s > best.floor_s) ? row : best,
  ).floor_s;
}

// The lower bound of a number entry, given the body so far; null where there is none.
export const lowOf = (entry, body) => entry.lows?.[String(body[entry.low_by] ?? "")] ?? entry.low ?? null;

// Acts in the order of the ledger: by instant, of equal instants by id; each id once.
export function inOrder(acts) {
  const byId = new Map(acts.map((act) => [act.id, act]));
  return [...byId.values()].sort(
    (a, b) => Date.parse(a.happened_at) - Date.parse(b.happened_at) || (a.id < b.id ? -1 : 1),
  );
}
