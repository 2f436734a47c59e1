/**
 * Writes the table of specifications into core/README.md, between its two marks, from the data themselves.
 * `node scripts/build.mjs && node dist/scripts/core-readme.js`
 */
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { builtInLibrary, describeLibrary, type SpecificationSummary } from "../core/spec/index.ts";
import { contentHash } from "../worker/specifications.ts";

const BEGIN = "<!-- specifications: begin -->";
const END = "<!-- specifications: end -->";

/** The table as Markdown; every change of a specification changes its content column. */
export function specificationTable(): string {
  const summaries = describeLibrary();
  const rows = builtInLibrary()
    .list()
    .map(({ data }, index) => {
      const summary = summaries[index];
      if (summary === undefined) throw new Error(`${data.id} has no summary`);
      return row(summary, contentHash(data).slice(0, 12));
    });
  return [
    "| specification | edition | grades | sizes | properties | rows read / from memory | rules from memory | content |",
    "|---|---|---|---|---|---|---|---|",
    ...rows,
  ].join("\n");
}

function row({ id, edition, grades, sizes, properties, rows, rules }: SpecificationSummary, content: string): string {
  const plain = properties.filter((property) => !property.startsWith("chemistry:"));
  const elements = properties
    .filter((property) => property.startsWith("chemistry:"))
    .map((property) => property.slice("chemistry:".length));
  const ranges = sizes.map(({ unit, from, upTo }) => `${from === undefined ? "" : `${from} `}to ${upTo ?? "any"} ${unit}`);
  const cells = [
    id,
    edition,
    grades.join(", ") || "one only",
    ranges.join("; "),
    [...plain, ...(elements.length === 0 ? [] : [`heat analysis (${elements.join(" ")})`])].join(", "),
    `${rows.read} / ${rows.memory}`,
    String(rules.memory),
    `\`${content}\``,
  ];
  return `| ${cells.join(" | ")} |`;
}

/** @throws Error where the page has lost one of its marks */
export function withTable(page: string): string {
  const [begin, end] = [page.indexOf(BEGIN), page.indexOf(END)];
  if (begin < 0 || end < begin) throw new Error(`core/README.md: found no "${BEGIN}" before "${END}"`);
  return `${page.slice(0, begin + BEGIN.length)}\n${specificationTable()}\n${page.slice(end)}`;
}

/** core/README.md beside the folder of this script, compiled or not. */
export function readmePath(): string {
  const here = dirname(fileURLToPath(import.meta.url));
  const root = join(here, "..");
  return join(root.endsWith("dist") ? join(root, "..") : root, "core", "README.md");
}

if (process.argv[1] === fileURLToPath(import.meta.url)) writeFileSync(readmePath(), withTable(readFileSync(readmePath(), "utf8")));
