import { CalcError } from "../calc-error.ts";
import type { Provenance } from "../model.ts";
import type { HeldSpecification } from "../spec/index.ts";
import { SAMPLES, type SamplesRow } from "./data/samples-required.ts";
import { heldStandard } from "./standards.ts";

export interface SamplesRequired {
  /** Test pieces. */
  readonly samples: number;
  readonly bothEnds: boolean;
  readonly rule: string;
  readonly provenance: Provenance;
}

/**
 * Test pieces of a lot of coils.
 * @param heats number of heats in the lot; needed where each heat must be tested
 * @throws CalcError `unknown-standard`, `wrong-input` (the rule needs the heats), `no-rule`
 */
export function samplesRequired(standard: string, coils: number, heats: number | undefined): SamplesRequired {
  const { id, specification } = heldStandard(standard);
  const row = SAMPLES[id] ?? fromSpecification(specification);
  if (row === undefined) throw new CalcError("no-rule", `${id}: no sampling rule is held`);
  if (row.eachHeat && heats === undefined)
    throw new CalcError("wrong-input", `heats: missing; ${id} tests every heat, accepted is a whole number above zero`);
  const sampled = Math.min(Math.ceil(coils / row.every), row.atMost ?? Number.POSITIVE_INFINITY);
  const pieces = Math.max(sampled, row.eachHeat ? (heats ?? 0) : 0) * (row.bothEnds ? 2 : 1);
  return { samples: pieces, bothEnds: row.bothEnds, rule: ruleText(row), provenance: row.provenance };
}

/** The sampling rule the judgement uses, where the specification has one. */
function fromSpecification(specification: HeldSpecification | undefined): SamplesRow | undefined {
  const rule = specification?.data.sampling;
  return (
    rule && {
      every: rule.coils ?? 1,
      ...(rule.atMost === undefined ? {} : { atMost: rule.atMost }),
      bothEnds: rule.bothEnds,
      eachHeat: rule.perHeat,
      source: rule.clause,
      provenance: rule.provenance,
    }
  );
}

function ruleText(row: SamplesRow): string {
  const each = row.every === 1 ? "every coil" : `one for each ${row.every} coils or part`;
  return [
    each,
    ...(row.atMost === undefined ? [] : [`at most ${row.atMost}`]),
    ...(row.eachHeat ? ["every heat at least once"] : []),
    ...(row.bothEnds ? ["both ends"] : []),
  ].join(", ");
}
