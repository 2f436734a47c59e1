/** Every code that a check gives is listed and has a sentence in each complete language; none is listed that no check gives. */
import { readdirSync, readFileSync } from "node:fs";
import { expect, it } from "vitest";
import { SEAL_CODES } from "../../../core/seal/codes.ts";
import { projectPath } from "../../helpers/cli.ts";

it("codes of the sources, of the list and of the wording are the same", () => {
  const folder = projectPath("core", "seal");
  const sources = readdirSync(folder)
    .filter((name) => name !== "codes.ts")
    .map((name) => readFileSync(`${folder}/${name}`, "utf8"))
    .join("\n");
  const used = new Set([...sources.matchAll(/(?:\berror\(|\bcode: )"([a-z-]+)"/g)].map((match) => match[1] as string));
  // Made of the state of the document.
  for (const state of ["withdrawn", "replaced"]) used.add(`document-${state}`);
  expect([...used].sort()).toEqual(Object.keys(SEAL_CODES).sort());
  for (const language of ["en", "de"]) {
    const words = JSON.parse(readFileSync(projectPath("templates", "wording", `${language}.json`), "utf8")) as Record<string, string>;
    expect(
      Object.keys(words)
        .filter((code) => code.startsWith("seal."))
        .sort(),
    ).toEqual([...used].map((code) => `seal.${code}`).sort());
  }
});
