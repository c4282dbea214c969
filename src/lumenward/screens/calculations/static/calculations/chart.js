// Draws the neutral chart of a calculation with the colours of the page, again when these change.

const SHAPES = ["circle", "rect", "triangle", "diamond", "pin"];
const STROKES = ["solid", "dashed", "dotted", [10, 4, 2, 4], [2, 4]];

export function colours() {
  const style = getComputedStyle(document.documentElement);
  const of = (name) => style.getPropertyValue(`--${name}`).trim();
  return { ink: of("ink"), quiet: of("quiet"), line: of("line"), card: of("card"), late: of("late"), lines: ["accent", "water-ink", "soon", "late", "quiet"].map(of) };
}

const pairs = (series) => series.x.map((x, i) => [x, series.y[i]]);
const figure = (value) => (typeof value === "number" ? String(Number(value.toPrecision(5))) : String(value ?? "none"));

function axis(name, type, c, more = {}) {
  return {
    type, name, nameLocation: "middle", nameTextStyle: { color: c.ink, fontSize: 14 },
    axisLabel: { color: c.ink, fontSize: 13, hideOverlap: true }, axisLine: { show: true, lineStyle: { color: c.quiet } },
    splitLine: { lineStyle: { color: c.line } }, ...more,
  };
}

function drawn(series, i, c) {
  const colour = c.lines[i % c.lines.length];
  const base = { name: series.name, data: pairs(series), itemStyle: { color: colour } };
  if (series.kind === "bars") return { ...base, type: "bar", barMaxWidth: 60 };
  if (series.kind === "points") return { ...base, type: "scatter", symbol: SHAPES[i % SHAPES.length], symbolSize: 11 };
  return { ...base, type: "line", showSymbol: series.x.length < 15, symbol: SHAPES[i % SHAPES.length], symbolSize: 8, lineStyle: { color: colour, width: 2.5, type: STROKES[i % STROKES.length] } };
}

// A band is its lower edge unseen and, stacked on it, what lies between.
function bands(all, c) {
  const low = all.find((one) => one.kind === "band-low");
  const high = all.find((one) => one.kind === "band-high");
  if (!low || !high) return [];
  const between = high.y.map((y, i) => (y === null || low.y[i] === null ? null : y - low.y[i]));
  const common = { type: "line", stack: "band", symbol: "none", lineStyle: { opacity: 0 }, silent: true };
  return [
    { ...common, name: low.name, data: pairs(low) },
    { ...common, name: `${low.name} to ${high.name}`, data: low.x.map((x, i) => [x, between[i]]), areaStyle: { color: c.lines[0], opacity: 0.18 } },
  ];
}

function limits(chart, c) {
  if (!chart.limits.length) return [];
  const marks = chart.limits.map((limit) => ({
    [limit.axis === "x" ? "xAxis" : "yAxis"]: limit.value,
    label: { formatter: limit.label, position: limit.axis === "x" ? "insideEndTop" : "insideStartTop", color: c.ink, fontSize: 13 },
  }));
  return [{ type: "line", name: "limits", data: [], markLine: { silent: true, symbol: "none", data: marks, lineStyle: { color: c.ink, type: [7, 5], width: 1.5 } } }];
}

// The axis reaches as far as the limits, so that no limit lies outside the picture.
function reach(chart, which) {
  const values = chart.limits.filter((limit) => limit.axis === which).map((limit) => limit.value);
  return values.length ? { min: (found) => Math.min(found.min, ...values), max: (found) => Math.max(found.max, ...values) } : {};
}

export function optionOf(chart, c) {
  const named = chart.series.some((series) => series.x.some((x) => typeof x === "string"));
  const lines = chart.series.filter((series) => !series.kind.startsWith("band-"));
  const legend = lines.length + (lines.length < chart.series.length ? 1 : 0) > 1;
  const type = chart.log_y ? "log" : "value";
  return {
    animation: false, backgroundColor: "transparent", textStyle: { fontFamily: '"Atkinson Hyperlegible Next", sans-serif', color: c.ink },
    aria: { enabled: true, label: { description: `${chart.question} The numbers stand in the table under the picture.` }, decal: { show: lines.filter((one) => one.kind === "bars").length > 1 } },
    grid: { left: 70, right: 28, top: legend ? 62 : 24, bottom: 58, containLabel: false },
    legend: legend ? { top: 4, left: 4, itemWidth: 34, textStyle: { color: c.ink, fontSize: 13 }, data: [...lines.map((one) => one.name), ...bands(chart.series, c).slice(1).map((one) => one.name)] } : undefined,
    tooltip: { trigger: "axis", renderMode: "richText", backgroundColor: c.card, borderColor: c.quiet, textStyle: { color: c.ink }, valueFormatter: figure },
    xAxis: named ? axis(chart.x_label, "category", c, { nameGap: 34, axisLabel: { color: c.ink, fontSize: 13, interval: 0, rotate: chart.series[0].x.length > 6 ? 30 : 0 } }) : axis(chart.x_label, "value", c, { nameGap: 34, scale: true, ...reach(chart, "x") }),
    yAxis: axis(chart.y_label, type, c, { nameGap: 52, ...(type === "log" ? {} : { scale: !chart.series.some((one) => one.kind === "bars"), ...reach(chart, "y") }) }),
    series: [...bands(chart.series, c), ...lines.map((series, i) => drawn(series, i, c)), ...limits(chart, c)],
  };
}

function show(element) {
  const chart = JSON.parse(document.getElementById(element.dataset.chart).textContent);
  const made = window.echarts.init(element, null, { renderer: "svg" });
  const draw = () => made.setOption(optionOf(chart, colours()), true);
  draw();
  new ResizeObserver(() => made.resize()).observe(element);
  new MutationObserver(draw).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
}

for (const element of document.querySelectorAll("[data-chart]")) show(element);
