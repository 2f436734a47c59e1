import { CalcError } from "../calc-error.ts";
import { builtInLibrary, type HeldLibrary, type HeldSpecification } from "../spec/index.ts";
import { METHOD_STANDARDS } from "./data/standards.ts";

export interface HeldStandard {
  /** Without the edition. */
  readonly id: string;
  readonly grades: readonly string[];
  /** Present where it is a product specification with limits. */
  readonly specification?: HeldSpecification;
}

/**
 * The standard of a designation as printed: "ISO 7800:2012", "ASTM A877-17", "EN 10270-1"; without a year the newest edition held.
 * @throws CalcError `unknown-standard` where it, or that edition of it, is not held
 */
export function heldStandard(designation: string, library: HeldLibrary = builtInLibrary()): HeldStandard {
  const specification = library.find(designation);
  if (specification !== undefined) return { id: specification.id, grades: specification.grades, specification };
  const found = METHOD_STANDARDS.find(({ id, editions }) =>
    [id, ...editions.flatMap((edition) => [`${id}:${edition}`, `${id}-${edition}`])].includes(designation),
  );
  if (found === undefined) throw new CalcError("unknown-standard", `standard "${designation}" is not held, or not in that edition`);
  return { id: found.id, grades: found.grades };
}
