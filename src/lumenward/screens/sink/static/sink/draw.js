// The channel map: lines as thick as their bores, merging where the channels merge, clamps as two bars.

import { h, s } from "./dom.js";
import { showNumber, showQuantity } from "./words.js";

const WIDTH = 340;
const LANE = 62;
const LEFT = 14;
const RIGHT = 320;
const THIN_PX = 2.5;
const PX_PER_MM = 3.6;
const SHORTEST_PX = 62;

export const thickness = (bore_mm) => Math.max(THIN_PX, bore_mm * PX_PER_MM);

// Places every node: x by its distance from the open end, y by the lane of what feeds it.
export function layout(tubes) {
  const ends = new Map();
  const remaining = (node, seen = new Set()) => {
    if (ends.has(node) || seen.has(node)) return ends.get(node) ?? 0;
    const going = tubes.filter((tube) => tube.from === node);
    const far = going.map((tube) => tube.length_m + remaining(tube.to, new Set([...seen, node])));
    const length = far.length ? Math.max(...far) : 0;
    ends.set(node, length);
    return length;
  };
  const feeds = [...new Set(tubes.map((tube) => tube.from))].filter((node) => !tubes.some((tube) => tube.to === node));
  const longest = Math.max(...feeds.map((node) => remaining(node)), 0.001);
  const x = new Map();
  const place = (node) => {
    if (x.has(node)) return x.get(node);
    const going = tubes.filter((tube) => tube.from === node);
    if (!going.length) return RIGHT;
    const wanted = RIGHT - ((RIGHT - LEFT) * remaining(node)) / longest;
    const room = Math.min(...going.map((tube) => place(tube.to))) - (feeds.includes(node) ? SHORTEST_PX : 34);
    x.set(node, Math.max(LEFT, Math.min(wanted, room)));
    return x.get(node);
  };
  const y = new Map(feeds.map((node, lane) => [node, 34 + lane * LANE]));
  const level = (node) => {
    if (y.has(node)) return y.get(node);
    const coming = tubes.filter((tube) => tube.to === node);
    const going = tubes.find((tube) => tube.from === node);
    const widest = Math.max(...coming.map((tube) => tube.bore_mm));
    const alike = coming.every((tube) => tube.bore_mm === widest);
    const chosen = coming.findLast((tube) => tube.bore_mm === going?.bore_mm) ?? coming.at(-1);
    const found =
      alike && coming.length > 1
        ? coming.reduce((sum, tube) => sum + level(tube.from), 0) / coming.length
        : level(chosen.from);
    y.set(node, found);
    return found;
  };
  return { feeds, x: place, y: level, height: 34 + feeds.length * LANE };
}

function pathOf(tube, at) {
  const [x1, y1] = [at.x(tube.from), at.y(tube.from)];
  const [x2, y2] = tube.to === "out" ? [RIGHT, y1] : [at.x(tube.to), at.y(tube.to)];
  if (y1 === y2) return `M${x1} ${y1}H${x2}`;
  const bend = Math.min(70, (x2 - x1) * 0.5);
  return `M${x1} ${y1}H${x2 - bend}C${x2 - bend / 2} ${y1} ${x2 - bend / 2} ${y2} ${x2} ${y2}`;
}

const tubesOf = (channels, ids) =>
  new Set(channels.filter((channel) => ids.has(channel.id)).flatMap((channel) => channel.tubes));

// Which tubes run, rest, are shut or starve, from what the drawing says about channels and ports.
export function states(map, drawing) {
  const focus = tubesOf(map.channels, new Set(drawing.focus ?? []));
  const starving = tubesOf(map.channels, new Set(drawing.starving ?? []));
  const shut = new Set([...(drawing.shut ?? []), ...(drawing.capped ?? [])]);
  const nodes = new Set(map.ports.filter((port) => shut.has(port.id)).map((port) => port.node));
  const closed = new Set(map.tubes.filter((tube) => nodes.has(tube.from)).map((tube) => tube.id));
  const state = (tube) => {
    if (closed.has(tube.id)) return "shut";
    if (starving.has(tube.id)) return "starving";
    if (!focus.has(tube.id)) return "rest";
    const fedBy = map.tubes.filter((other) => other.to === tube.from);
    return fedBy.length && fedBy.every((other) => closed.has(other.id)) ? "rest" : "runs";
  };
  return new Map(map.tubes.map((tube) => [tube.id, state(tube)]));
}

function laneWords(node, map, tube) {
  const port = map.ports.find((found) => found.node === node);
  const names = map.channels.filter((channel) => channel.port === port?.id).map((channel) => channel.name);
  return {
    name: names.join(" + ") || port?.name || "",
    bore: `${showNumber(tube.bore_mm)} mm` + (tube.wire_mm ? ", wire inside" : ""),
  };
}

// A lane that begins late or rises to a merge carries its words below, where no curve crosses them.
function lane(node, map, at, state) {
  const tube = map.tubes.find((found) => found.from === node);
  const shut = state.get(tube.id) === "shut";
  const words = laneWords(node, map, tube);
  const [x, y] = [at.x(node), at.y(node)];
  const half = thickness(tube.bore_mm) / 2;
  const late = x > WIDTH / 3;
  const below = late || (tube.to !== "out" && at.y(tube.to) < y);
  const bore = s("tspan", { class: "bore", dx: 8 }, shut ? `${words.bore}, shut` : words.bore);
  return [
    s(
      "text",
      {
        x: late ? RIGHT : x,
        y: below ? y + half + (shut ? 24 : 18) : y - half - (shut ? 13 : 8),
        class: "name",
        "text-anchor": late ? "end" : "start",
      },
      words.name,
      bore,
    ),
    shut ? clamp(x + (late ? 14 : 60), y, tube.bore_mm) : null,
  ];
}

function clamp(x, y, bore_mm) {
  const reach = thickness(bore_mm) / 2 + 7;
  return [0, 9].map((gap) => s("path", { class: "clamp", d: `M${x + gap} ${y - reach}V${y + reach}` }));
}

function inWords(map, state) {
  const said = { runs: "runs", rest: "rests", shut: "shut", starving: "gets too little" };
  return map.tubes
    .map((tube) => `${tube.id}: ${showNumber(tube.bore_mm, 1)} mm, ${said[state.get(tube.id)]}`)
    .join("; ");
}

export function channelMap(map, drawing) {
  const tubes = map.tubes;
  const at = layout(tubes);
  const state = states(map, drawing);
  const lines = tubes.map((tube) =>
    s("path", {
      class: `tube ${state.get(tube.id)}`,
      d: pathOf(tube, at),
      "stroke-width": thickness(tube.bore_mm).toFixed(1),
    }),
  );
  return s(
    "svg",
    {
      class: "map",
      viewBox: `0 0 ${WIDTH} ${at.height}`,
      role: "img",
      "aria-label": `Channels of this model. ${inWords(map, state)}`,
    },
    lines.sort((a, b) => Number(a.classList.contains("runs")) - Number(b.classList.contains("runs"))),
    at.feeds.map((node) => lane(node, map, at, state)),
  );
}

// Rows of {name, ml, seconds}: what a measuring cup should catch.
export function outflowTable(rows) {
  if (!rows?.length) return null;
  const span = rows.find((row) => row.seconds)?.seconds;
  const catches = (row) => (row.ml > 0 ? showQuantity(row.ml, "mL", row.ml < 10 ? 1 : 0) : "none yet");
  const head = h(
    "tr",
    {},
    h("th", { scope: "col" }, "outlet"),
    h("th", { scope: "col", class: "number" }, span ? `expect in ${span} s` : "expect"),
  );
  return h(
    "table",
    { class: "outflow" },
    h("thead", {}, head),
    h(
      "tbody",
      {},
      rows.map((row) => h("tr", {}, h("td", {}, row.name), h("td", { class: "number" }, catches(row)))),
    ),
  );
}

// The whole right-hand side: title, map, expected outflow, a note. A `turn` of the clamps says what is shut in it and what
// its cups catch; every channel that is not shut runs.
export function drawingFor(map, drawing, turn = null) {
  if (drawing?.show === "vessel") return vesselFor(drawing);
  if (!map?.tubes?.length) return [];
  const shown = turn ? { ...drawing, title: turn.title, shut: turn.shut, expect: turn.expect } : (drawing ?? {});
  const title = shown.title || (shown.connecting ? "Every port of this model" : "Channels of this model");
  const note = shown.expect?.length
    ? "Half or less of this is worth a look. Computed for straight, clean channels."
    : "";
  return [
    h("h2", {}, title),
    channelMap(map, shown),
    outflowTable(shown.expect),
    note ? h("p", { class: "quiet" }, note) : null,
  ];
}

// The sink or container with its fill lines and its water.
function vesselFor({ marks = [], name = "", level = null }) {
  const known = marks.map((mark) => ({ name: mark.name ?? mark.label, fill_m: Number(mark.fill_m ?? mark.value) }));
  const highest = Math.max(...known.map((mark) => mark.fill_m), level ?? 0);
  if (!(highest > 0)) return [];
  const y = (fill_m) => (172 - (128 * fill_m) / highest).toFixed(1);
  const lines = known.map((mark) => [
    s("path", { class: "mark", d: `M24 ${y(mark.fill_m)}H200` }),
    s("text", { x: 212, y: Number(y(mark.fill_m)) + 5 }, `${mark.name}, ${showQuantity(100 * mark.fill_m, "cm")}`),
  ]);
  const water = level
    ? s("rect", { class: "water", x: 22, y: y(level), width: 180, height: (172 - Number(y(level))).toFixed(1) })
    : null;
  const said = known.map((mark) => `${mark.name} at ${showQuantity(100 * mark.fill_m, "cm")}`).join(", ");
  const label = `Fill lines: ${said}.` + (level ? ` Filled to ${showQuantity(100 * level, "cm")}.` : "");
  const drawn = s(
    "svg",
    { class: "map vessel", viewBox: `0 0 ${WIDTH} 190`, role: "img", "aria-label": label },
    water,
    s("path", { class: "wall", d: "M20 16V173H204V16" }),
    lines,
  );
  return [h("h2", {}, name ? `${name}: fill to a line` : "Fill to a line"), drawn];
}
