import type { NextStep } from "../model.ts";

/** The plain name of a property in an English sentence. */
export function propertyName(property: string): string {
  if (property.startsWith("chemistry:")) return `${property.slice("chemistry:".length)} content`;
  if (property.startsWith("other:")) return property.slice("other:".length);
  return property.replaceAll("-", " ");
}

const piecesText = (count: number): string => (count === 1 ? "1 piece" : `${count} pieces`);
const fromEnd = (end: NextStep["end"]): string =>
  end === undefined ? "" : end === "between" ? " from between the ends" : ` from the ${end} end`;

type Draft = Omit<NextStep, "text" | "do"> & { readonly property: string };

export const toTest = (draft: Draft & { pieces: number }, unit?: string): NextStep => ({
  do: "test",
  ...draft,
  text: `Cut ${piecesText(draft.pieces)}${fromEnd(draft.end)}${unit === undefined ? "" : ` as a sample of test unit ${unit}`} and test ${propertyName(draft.property)}.`,
});

export const toRepeat = (draft: Draft & { pieces: number }, why: string): NextStep => ({
  do: "repeat",
  ...draft,
  text: `Cut ${draft.pieces} more${fromEnd(draft.end)} and repeat ${propertyName(draft.property)}: ${why}.`,
});

export const toRetest = (draft: Draft & { pieces: number }, of: string): NextStep => ({
  do: "retest",
  ...draft,
  text: `Cut ${draft.pieces} more${fromEnd(draft.end)} and retest ${propertyName(draft.property)} with retestOf ${of}.`,
});

/** After a failure that asks for every coil of the unit. */
export const toRetestCoil = (draft: Draft & { pieces: number; coil: string }, of: string, unit: string): NextStep => ({
  do: "retest",
  ...draft,
  text: `Cut ${piecesText(draft.pieces)} of coil ${draft.coil} and test ${propertyName(draft.property)}: ${of} of test unit ${unit} failed, so every coil is tested.`,
});

export const toInspect = (draft: Draft, why: string): NextStep => ({
  do: "inspect",
  ...draft,
  who: draft.who ?? "quality",
  text: `Quality decides on ${propertyName(draft.property)}: ${why}.`,
});

export const toMend = (draft: Draft, cells: readonly string[]): NextStep => ({
  do: "mend",
  ...draft,
  who: "clerk",
  text: `Mend ${cells.join(", ")} and drop the workbook again, or have the row set aside (${propertyName(draft.property)}).`,
});

export const toCalibrate = (draft: Draft, instrument: string): NextStep => ({
  do: "calibrate",
  ...draft,
  who: "quality",
  text: `Have ${instrument} calibrated, or use another, before ${propertyName(draft.property)} is tested again.`,
});

export const toAdopt = (specification: string): NextStep => ({
  do: "adopt",
  who: "quality",
  text: `Compare the limits of ${specification} with the licensed text and adopt them before a 3.1 or 3.2 document.`,
});
