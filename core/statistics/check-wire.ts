import type { EntryRow, Finding, TestSheet } from "../model.ts";
import type { AnyUnit } from "../quantity.ts";
import { CHECKED_PROPERTY, type CheckReading, checkReadings } from "./check-readings.ts";
import { type IndividualsChart, individualsChart, type RunRule } from "./individuals-chart.ts";

/** One wire on one machine: the same figure again and again, so that what moves is the machine. */
export interface CheckSeries {
  readonly machine: string;
  readonly wire: string;
  readonly property: string;
  readonly condition: string;
  readonly unit: AnyUnit;
  /** By day; within a day in the order given. */
  readonly readings: readonly CheckReading[];
  readonly chart: IndividualsChart;
}

/** Results of a machine to be looked at twice. */
export interface CheckWarning {
  readonly machine: string;
  readonly wire: string;
  readonly property: string;
  /** Day of the check that signalled; results of that day are warned of too, for the hour is not known. */
  readonly from: string;
  /** Day of the next check of the series without a signal, from which on nothing is warned; absent while there is none. */
  readonly until?: string;
  readonly rules: readonly RunRule[];
  /** The check's row. */
  readonly row: EntryRow;
}

/**
 * The series of the check rows with their individuals charts. Figures in two units never share a series.
 * @param rows test rows of any role, in the order they came in; only those of role `check` count
 */
export function checkSeries(rows: readonly EntryRow[]): readonly CheckSeries[] {
  const groups = new Map<string, CheckReading[]>();
  for (const reading of checkReadings(rows).readings) {
    const key = [reading.machine, reading.wire, reading.property, reading.condition, reading.unit].join("\u0000");
    const group = groups.get(key);
    if (group) group.push(reading);
    else groups.set(key, [reading]);
  }
  return [...groups.values()].flatMap((group) => {
    const [first] = group;
    if (first === undefined) return [];
    // The sort is stable, so that readings of one day stay as they came.
    const readings = [...group].sort((a, b) => (a.date < b.date ? -1 : a.date > b.date ? 1 : 0));
    const { machine, wire, property, condition, unit } = first;
    return [{ machine, wire, property, condition, unit, readings, chart: individualsChart(readings.map((each) => each.value)) }];
  });
}

/** One warning for every check that completes a pattern, in the order of the series. */
export function checkWarnings(series: readonly CheckSeries[]): readonly CheckWarning[] {
  return series.flatMap(({ machine, wire, property, readings, chart }) => {
    const rulesAt = new Map<number, RunRule[]>();
    for (const { index, rule } of chart.signals) rulesAt.set(index - 1, [...(rulesAt.get(index - 1) ?? []), rule]);
    const warnings: CheckWarning[] = [];
    // From the last to the first, so that the next check without a signal is known.
    let clear: string | undefined;
    for (const [at, reading] of [...readings.entries()].reverse()) {
      const rules = rulesAt.get(at);
      if (rules === undefined) clear = reading.date;
      else
        warnings.unshift({
          machine,
          wire,
          property,
          from: reading.date,
          ...(clear === undefined ? {} : { until: clear }),
          rules,
          row: reading.row,
        });
    }
    return warnings;
  });
}

/**
 * A finding `check-wire-signal` for every later result of a machine whose check wire signalled: same instrument, same kind of test,
 * any coil. It changes no verdict. Of several warnings the latest speaks.
 * @param rows the results to be looked at; rows of role `check` are passed over
 */
export function checkWireFindings(rows: readonly EntryRow[], warnings: readonly CheckWarning[]): readonly Finding[] {
  const keyOf = (machine: string, property: string): string => `${machine}\u0000${property}`;
  const byMachine = new Map<string, CheckWarning[]>();
  for (const warning of [...warnings].sort((a, b) => (a.from < b.from ? 1 : a.from > b.from ? -1 : 0))) {
    const key = keyOf(warning.machine, warning.property);
    byMachine.set(key, [...(byMachine.get(key) ?? []), warning]);
  }
  return rows.flatMap((row) => {
    const instrument = row.fields["instrument"];
    if (row.fields["role"]?.text === "check" || instrument === undefined) return [];
    const standing = byMachine.get(keyOf(instrument.text, CHECKED_PROPERTY[row.sheet as TestSheet] ?? "")) ?? [];
    const date = row.fields["date"]?.text ?? "";
    const latest = standing.find((warning) => covers(warning, date));
    if (latest === undefined) return [];
    return [
      {
        code: "check-wire-signal",
        severity: "warning" as const,
        sheet: row.sheetName,
        cell: instrument.cell,
        actual: instrument.raw,
        expected: "an instrument whose last check wire gave no signal",
        text: `The check wire ${latest.wire} on ${latest.machine} signalled on ${latest.from} (${latest.rules.join(", ")}); the result counts.`,
      },
    ];
  });
}

const covers = ({ from, until }: CheckWarning, date: string): boolean =>
  date === from || (date > from && (until === undefined || date < until));
