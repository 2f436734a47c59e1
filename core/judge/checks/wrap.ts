import { compareExact, exact } from "../../decimal.ts";
import type { EntryRow } from "../../model.ts";
import { measure } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import type { Deviation } from "../deviation.ts";
import { amount, demanded, demandedAmount, text } from "../row.ts";
import { offCondition } from "./shared.ts";
import { speedAdvised } from "./torsion-conduct.ts";

/** Conditions of a wrap: a smaller mandrel, more wraps and a faster rate are harder, a larger mandrel and fewer wraps easier. */
function wrapDeviations(row: EntryRow, context: CheckContext): readonly Deviation[] {
  const { conditions } = context.requirement;
  const mandrel = demandedAmount(row, "mandrelDiameter");
  const wraps = measure(demanded(row, "wraps").text, "wraps");
  return [
    ...rateDeviation(row, context),
    ...offCondition("mandrel", "mandrel", mandrel, conditions.mandrelDiameter, context.conduct.mandrelTolerance, "harder", "easier"),
    ...offCondition("wraps", "wraps", wraps, conditions.wraps, "0", "easier", "harder"),
  ];
}

/** The usual highest rate where the specification names none. @source ISO 7802:2013 (at most one wrap a second; read) */
const USUAL_RATE = "60";

/**
 * A fast wrap heats the wire, which ages it in the bend: harder.
 * @source ISO 7802:2013 (slower if it heats; read); EN 50189:2000, 11.5.3 (15 turns a minute; read, "not exceeding" assumed)
 */
function rateDeviation(row: EntryRow, { conduct, report }: CheckContext): readonly Deviation[] {
  const rate = row.fields["rate"];
  if (rate === undefined) return [];
  const most = conduct.wrapMaximumRate ?? USUAL_RATE;
  if (compareExact(exact(rate.text), exact(most)) <= 0) return [];
  if (conduct.wrapMaximumRate !== undefined)
    return [{ reason: "speed", direction: "harder", text: `${rate.text} wraps a minute are more than the ${most} of the specification` }];
  report(speedAdvised(row, "rate", most));
  return [];
}

const wrapConditions = (row: EntryRow): CheckedRow["conditions"] => ({
  mandrelDiameter: demandedAmount(row, "mandrelDiameter"),
  wraps: measure(demanded(row, "wraps").text, "wraps"),
});

/**
 * Ductility: no visible crack (EN 50189: it must not break). `compared` is the word.
 * @source ISO 7802:2013 (no cracks visible without magnification, read); EN 50189:2000, 11.5.3 (must not break, read);
 *   ASTM A370, A4.7 (cracks in the first complete turn are not counted, read in a secondary page)
 */
export function checkWrap(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  if (text(row, "purpose") !== "ductility") return undefined;
  const { conduct } = context;
  const cracks = demanded(row, "cracks").text;
  const deviations: Deviation[] = [...wrapDeviations(row, context)];
  const first = row.fields["firstCrackTurn"];
  const inFirstTurn = cracks !== "none" && first !== undefined && compareExact(exact(first.text), exact("1")) <= 0;
  const steps = [`cracks: ${cracks}${first === undefined ? "" : `, first in turn ${first.text}`}`];

  let fails = cracks === "broken" || (cracks === "visible" && conduct.wrapFailsFrom === "visible");
  if (fails && inFirstTurn && conduct.wrapFirstTurn === "passes" && cracks === "visible") {
    fails = false;
    steps.push("cracks in the first turn are not counted by this specification");
  }
  if (fails && inFirstTurn && conduct.wrapFirstTurn === "void-once")
    deviations.push({
      reason: "starting-turn",
      direction: "harder",
      text: "the crack lies in the first turn, where the start strains the wire",
    });
  const mustNotBreak = conduct.wrapFailsFrom === "broken";
  steps.push(fails ? `${cracks} fails` : mustNotBreak ? "it must not break: conforms" : "no crack that counts: conforms");
  return {
    value: cracks,
    unit: "",
    compared: cracks,
    outcome: fails ? "does-not-conform" : "conforms",
    ...(fails ? { reason: cracks === "broken" ? "broken" : "cracks" } : {}),
    field: "cracks",
    conditions: wrapConditions(row),
    deviations,
    steps,
  };
}

/** Words for the coating that decide alone, and what every word says once a second person has looked. */
const DECIDES_ALONE = new Set(["sound", "comes-off"]);
const FAILS = new Set(["comes-off", "uncoated"]);
const COATINGS = new Set(["sound", "cracked-firm", "dust-only", "comes-off", "uncoated"]);

/**
 * Adherence of the coating: `sound` conforms, `comes-off` fails, every other word needs a second look by a named person. A second look that
 * is itself one of the words decides by it; any other text confirms the first word.
 * @source ASTM A818-06(R2021), 8.2 and ASTM A856-03(2020), 8.2 (bare-finger rub, polish dust does not count; read)
 */
export function checkAdherence(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  if (text(row, "purpose") !== "adherence") return undefined;
  const coating = text(row, "coating");
  const secondLook = text(row, "secondLook");
  const base = { unit: "", conditions: wrapConditions(row), deviations: wrapDeviations(row, context) };
  if (coating === undefined)
    return {
      ...base,
      value: "",
      compared: "",
      outcome: "undecided",
      reason: "coating-not-stated",
      field: "cracks",
      steps: ["the coating column is empty"],
    };
  const seen = secondLook !== undefined && COATINGS.has(secondLook) && !DECIDES_ALONE.has(coating) ? secondLook : coating;
  const decided = DECIDES_ALONE.has(coating) || secondLook !== undefined;
  const fails = FAILS.has(seen);
  return {
    ...base,
    value: coating,
    compared: seen,
    outcome: decided ? (fails ? "does-not-conform" : "conforms") : "undecided",
    ...(decided ? (fails ? { reason: seen } : {}) : { reason: "second-look" }),
    field: "coating",
    steps: [`coating: ${coating}${secondLook === undefined ? "" : `; second look: ${secondLook}`}`],
  };
}

/**
 * Spread coil: even pitch and no crack, on a mandrel inside the rule's range.
 * @source EN 10270-1, coiling test (read in a paraphrase: 3 d to 3.5 d, at least 1.00 mm)
 */
export function checkCoiling(row: EntryRow, context: CheckContext): CheckedRow {
  const { conditions } = context.requirement;
  const mandrel = demandedAmount(row, "mandrelDiameter");
  const smallest = offCondition(
    "mandrel",
    "mandrel",
    mandrel,
    conditions.mandrelDiameter,
    context.conduct.mandrelTolerance,
    "harder",
    "easier",
  );
  const upper = conditions.mandrelDiameterMax ?? conditions.mandrelDiameter;
  const largest = offCondition("mandrel", "mandrel", mandrel, upper, context.conduct.mandrelTolerance, "harder", "easier");
  const cracks = demanded(row, "cracks").text;
  const pitch = text(row, "evenPitch");
  const fails = cracks !== "none" || pitch === "no";
  const open = !fails && pitch === undefined;
  const word = cracks !== "none" ? cracks : pitch === "no" ? "uneven-pitch" : "none";
  return {
    value: word,
    unit: "",
    compared: word,
    outcome: fails ? "does-not-conform" : open ? "undecided" : "conforms",
    ...(fails
      ? { reason: cracks === "none" ? "uneven-pitch" : cracks === "broken" ? "broken" : "cracks" }
      : open
        ? { reason: "pitch-not-stated" }
        : {}),
    field: cracks === "none" && pitch !== undefined ? "evenPitch" : "cracks",
    conditions: { mandrelDiameter: mandrel },
    deviations: [...smallest.filter((d) => d.direction === "harder"), ...largest.filter((d) => d.direction === "easier")],
    steps: [`cracks: ${cracks}; even pitch: ${pitch ?? "not stated"}`],
  };
}

/** @source ISO 7801 (the bend in which it breaks is not counted; memory, high) */
export function checkReverseBend(row: EntryRow, context: CheckContext): CheckedRow {
  const bends = demanded(row, "bends");
  const { requirement } = context;
  const count = bends.text.split(".")[0] ?? bends.text;
  const below = requirement.min !== undefined && compareExact(exact(count), exact(requirement.min)) < 0;
  const above = requirement.max !== undefined && compareExact(exact(count), exact(requirement.max)) > 0;
  const unbroken = bends.atLeast === true || text(row, "breakAt") === "none";
  const grip: readonly Deviation[] =
    text(row, "breakAt") === "grip" ? [{ reason: "grip-break", direction: "harder", text: "broke at the grip" }] : [];
  const stopped: readonly Deviation[] =
    unbroken && below
      ? [{ reason: "stopped-before-limit", direction: "void", text: `stopped unbroken at ${count} bends, below the minimum` }]
      : [];
  const radius = amount(row, "radius");
  return {
    value: Number(bends.text),
    unit: "bends",
    compared: count,
    unrounded: bends.text,
    outcome: below || above ? "does-not-conform" : "conforms",
    ...(below ? { reason: "below-min" } : above ? { reason: "above-max" } : {}),
    field: "bends",
    conditions: radius === undefined ? {} : { radius },
    deviations: [
      ...offCondition(
        "mandrel",
        "bend radius",
        radius,
        requirement.conditions.radius,
        context.conduct.mandrelTolerance,
        "harder",
        "easier",
      ),
      ...grip,
      ...stopped,
    ],
    ...(unbroken ? { censored: true } : {}),
    steps: [`${count} bends`],
  };
}
