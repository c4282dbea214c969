// Runs an outbox against a server that behaves as `v.script` says, and returns what came of it.
async (v) => {
  const { Outbox } = await import("/static/sink/outbox.js");
  const shelf = new Map();
  const store = { getItem: (key) => shelf.get(key) ?? null, setItem: (key, text) => shelf.set(key, text) };
  const server = new Map();
  const calls = [];
  const answerOne = (act) => {
    const error = { code: "no", message: "Not so.", field: "body.x", hint: "" };
    if (v.refuse?.includes(act.id)) return { id: act.id, answer: "refused", error };
    const known = server.has(act.id);
    server.set(act.id, act);
    return { id: act.id, answer: known ? "already recorded" : "recorded" };
  };
  const script = [...(v.script ?? [])];
  const refusal = { error: { code: "x", message: "Too much.", field: "", hint: "" } };
  const fetcher = async (_, request) => {
    const acts = JSON.parse(request.body).acts;
    calls.push(acts.map((act) => act.id));
    const turn = script.shift() ?? "ok";
    if (turn === "down") throw new TypeError("no network");
    if (typeof turn === "number") return { ok: false, status: turn, json: async () => refusal };
    const answers = acts.map(answerOne);
    if (turn === "lost") throw new TypeError("the answer was lost");
    return { ok: true, status: 200, json: async () => ({ answers }) };
  };
  const box = new Outbox({ address: "/x", token: "t", store, undo_s: v.undo_s ?? 0, fetcher });
  box.soon = () => {};
  for (const id of v.ids) box.add({ id, happened_at: v.at?.[id] ?? "2031-05-07T10:00:00+02:00" }, id);
  const said = v.undo ? [box.takeBack(v.undo)?.act.id ?? null] : [];
  for (let turn = 0; turn < (v.tries ?? 4); turn++) await box.sendDue();
  return {
    server: [...server.keys()],
    calls,
    left: box.waiting().map((entry) => entry.act.id),
    refused: box.refused().map((entry) => [entry.act.id, entry.error.message]),
    status: box.status(),
    said,
  };
}
