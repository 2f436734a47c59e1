/** Intake maps of a laboratory, in its folder `maps`. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { type IntakeMap, mapProblemText, type ParsedMap, parseIntakeMap } from "../core/map/index.ts";
import { InputRefused, UsageError } from "./errors.ts";

/** @throws UsageError where there is no such file */
export function checkMapFile(file: string): ParsedMap {
  if (!existsSync(file)) throw new UsageError(`${file}: does not exist; accepted is the path of an intake map (JSON)`);
  let json: unknown;
  try {
    json = JSON.parse(readFileSync(file, "utf8"));
  } catch (error) {
    return { ok: false, problems: [{ path: "$", text: `no valid JSON (${(error as Error).message})` }] };
  }
  return parseIntakeMap(json);
}

/** @throws InputRefused naming the file, the place in it and every problem */
export function readMapFile(file: string): IntakeMap {
  const found = checkMapFile(file);
  if (found.ok) return found.map;
  throw new InputRefused(found.problems.map((problem) => mapProblemText(file, problem)).join("; "));
}

/** Every map in `maps/*.json`, by name of the file. @throws InputRefused where one is not accepted */
export function loadMaps(labFolder: string | undefined): readonly IntakeMap[] {
  const folder = labFolder === undefined ? undefined : join(labFolder, "maps");
  if (folder === undefined || !existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((name) => name.endsWith(".json") && !name.startsWith("."))
    .sort()
    .map((name) => readMapFile(join(folder, name)));
}
