/** Writes docs/cells.md: every finding and refusal with its rule, its text and what to do. `node dist/scripts/cells-page.js` */
import { writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { CODES } from "../core/codes.ts";
import { CODE_HELP } from "../core/entry/code-help.ts";

const escaped = (text: string): string => text.replaceAll("|", "\\|");

function table(kind: "finding" | "refusal"): string {
  const rows = CODES.filter((code) => code.kind === kind)
    .sort((a, b) => (a.code < b.code ? -1 : 1))
    .map(({ code, text }) => {
      const help = CODE_HELP[code];
      if (help === undefined) throw new Error(`core/entry/code-help.ts: no rule for the ${kind} ${code}`);
      return `| \`${code}\` | ${[text, help.rule, help.todo].map(escaped).join(" | ")} |`;
    });
  return ["| code | what it says | the rule | what to do |", "| --- | --- | --- | --- |", ...rows].join("\n");
}

/** The page as it should stand. @throws Error naming a code without its rule */
export const cellsPage = (): string => `# What is said of a workbook

Made by \`scripts/cells-page.ts\` from the program's own lists; changes go there.

A **finding** stands beside its cell in the returned workbook and in its sheet of findings. An *error* leaves its row unread: it gives no
result, and what it would have answered stays open until the row is mended. A *warning* says what was done without asking. Which of the
two a finding is, stands with it.

A **refusal** is about the file as a whole: nothing of it was read, and a page beside the refused file says why.

## Findings

${table("finding")}

## Refusals

${table("refusal")}
`;

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  // Compiled, the program lies one folder deeper.
  const here = dirname(fileURLToPath(import.meta.url));
  const root = here.endsWith(join("dist", "scripts")) ? join(here, "..", "..") : join(here, "..");
  writeFileSync(join(root, "docs", "cells.md"), cellsPage());
}
