// The field for each kind of entry of a plan.

import { ChoiceField, FillField, ScanField } from "./choices.js";
import { NumberField, TickField, TimeField, WordsField } from "./fields.js";

const KINDS = {
  number: NumberField,
  words: WordsField,
  tick: TickField,
  choice: ChoiceField,
  scan: ScanField,
  time: TimeField,
  fill: FillField,
};

export const makeField = (entry, context) => new KINDS[entry.kind](entry, context);
