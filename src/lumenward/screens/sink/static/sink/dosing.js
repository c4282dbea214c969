// The dose for the actual fill, read off the plan's dose table: rows of [fill_m, water_l, dose_ml, low_ppm, high_ppm].

import { readNumber, showNumber, showQuantity } from "./words.js";

const [FILL, WATER, DOSE, LOW, HIGH] = [0, 1, 2, 3, 4];

// The row at `value` in `column`, interpolated; null outside the table.
export function rowAt(rows, column, value) {
  if (!rows.length || value < rows[0][column] || value > rows.at(-1)[column]) return null;
  const above = rows.findIndex((row) => row[column] >= value);
  if (above === 0) return rows[0];
  const [low, high] = [rows[above - 1], rows[above]];
  const part = (value - low[column]) / (high[column] - low[column]);
  return low.map((found, place) => found + part * (high[place] - found));
}

export const byFill = (rows, fill_m) => rowAt(rows, FILL, fill_m);

// What the depth and the temperature come to: {row, temperature_c} or {why, field}.
export function doseFor(dosing, { fill_m, temperature = "" }) {
  const filled = waterRow(dosing, fill_m);
  if (filled.why) return filled;
  const warmth = readNumber(temperature);
  if (warmth.why)
    return {
      row: filled.row,
      why: warmth.why === "empty" ? "Measure the temperature." : `${warmth.why}.`,
      field: "temperature_c",
    };
  const wrong = outOfWindow(dosing, warmth.value);
  return wrong
    ? { row: filled.row, why: wrong, field: "temperature_c" }
    : { row: filled.row, temperature_c: warmth.value, why: "" };
}

function waterRow(dosing, fill_m) {
  const row = byFill(dosing.rows, fill_m);
  if (row) return { row };
  const [first, last] = [dosing.rows[0], dosing.rows.at(-1)].map((found) => showQuantity(100 * found[FILL], "cm"));
  const found = showQuantity(100 * fill_m, "cm");
  return { why: `${found} is outside ${first} to ${last}. Fill to one of the lines.`, field: "fill" };
}

function outOfWindow(dosing, temperature_c) {
  const [low, high] = [dosing.temperature_low_c, dosing.temperature_high_c];
  const window = `The label allows ${showQuantity(low, "C")} to ${showQuantity(high, "C")}`;
  if (temperature_c < low)
    return `${showQuantity(temperature_c, "C")} is too cold. ${window}: add warm water, then read the line again.`;
  if (temperature_c > high)
    return `${showQuantity(temperature_c, "C")} is too hot. ${window}: add cold water, then read the line again.`;
  return "";
}

// Why what was poured is outside the label's range, or nothing.
export function outOfRange(dosing, row, poured_ml) {
  const { low_ppm = null, high_ppm = null } = dosing;
  const made = share(poured_ml, row);
  const allowed = [low_ppm, high_ppm].map((ppm) => showNumber(ppm, 0)).join(" to ");
  const range = `The label allows ${allowed} ppm; this makes ${showNumber(made, 0)} ppm`;
  const aim = showQuantity(row[DOSE], "mL", 1);
  if (low_ppm !== null && made < low_ppm) return `Too weak. ${range}: measure in more, up to ${aim}.`;
  if (high_ppm !== null && made > high_ppm) return `Too strong. ${range}: pour it away and measure ${aim}.`;
  return "";
}

const share = (ml, row) => (1e6 * ml) / (1000 * row[WATER] + ml);
const rounded = (value, digits) => Number(value.toFixed(digits));

// The body keys of `detergent_dosed` for a row; `poured_ml` when another amount than the planned one was poured.
export function doseBody(row, temperature_c, poured_ml = null) {
  const planned = rounded(row[DOSE], 1);
  const dose_ml = poured_ml ?? planned;
  const factor = share(dose_ml, row) / share(row[DOSE], row);
  return {
    water_l: rounded(row[WATER], 3),
    temperature_c,
    dose_ml,
    concentration_ppm: rounded(share(dose_ml, row), 1),
    low_ppm: rounded(row[LOW] * factor, 1),
    high_ppm: rounded(row[HIGH] * factor, 1),
  };
}
