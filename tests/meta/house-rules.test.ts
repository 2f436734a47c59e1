/** Rules of the house that no linter knows. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { projectPath } from "../helpers/cli.ts";

const FOLDERS = ["core", "templates", "worker", "scripts", "tests", "docs", "samples", ".ci"];
const TEXT = /\.(ts|mjs|js|json|md|hbs|css|yml|csv|html)$|\/run$/;

const texts: { name: string; text: string }[] = [
  ...FOLDERS.flatMap((folder) =>
    readdirSync(projectPath(folder), { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => join(entry.parentPath, entry.name)),
  ),
  ...["README.md", "DEVELOPERS.md", "CHANGELOG.md", "package.json", "package-lock.json", "Dockerfile", "docker-compose.yml"].map((name) =>
    projectPath(name),
  ),
]
  .filter((name) => TEXT.test(name) || !name.includes("."))
  .map((name) => ({ name: name.replace(projectPath("/"), ""), text: readFileSync(name, "utf8") }));

describe("texts of the project", () => {
  it("name no path of a machine and no registry host", () => {
    // Written in two parts, so that this file does not name what it looks for.
    const patterns = [
      new RegExp(`/${"work"}/(main|shared)`),
      new RegExp(`/${"root"}/`),
      new RegExp(`"${"resolved"}": "http`),
      /registry\.(npmjs|yarnpkg)/,
    ];
    const found = texts.flatMap(({ name, text }) => patterns.filter((p) => p.test(text)).map((p) => `${name}: ${p.source}`));
    expect(found).toEqual([]);
  });

  it("hold no note of unfinished work", () => {
    const pattern = new RegExp(`\\b(${["TO", "DO"].join("")}|${["FIX", "ME"].join("")}|${["XX", "X"].join("")})\\b`);
    expect(texts.filter(({ name, text }) => /\.(ts|mjs)$/.test(name) && pattern.test(text)).map((t) => t.name)).toEqual([]);
  });
});

describe("core", () => {
  it("imports nothing that touches the world", () => {
    const world = /from "(node:|puppeteer|exceljs|better-sqlite3|kysely|commander|handlebars|pg|bullmq|nodemailer)/;
    expect(texts.filter(({ name, text }) => name.startsWith("core/") && world.test(text)).map((t) => t.name)).toEqual([]);
  });

  it("knows no clock and no chance", () => {
    const clock = /\bnew Date\(\)|\bDate\.now\(|\bMath\.random\(|\bperformance\.now\(|\bprocess\./;
    expect(
      texts.filter(({ name, text }) => name.startsWith("core/") && name.endsWith(".ts") && clock.test(text)).map((t) => t.name),
    ).toEqual([]);
  });

  it("rounds in one place: no toFixed and no Math.round decides anything", () => {
    const rounding = /Math\.round\(/;
    expect(texts.filter(({ name, text }) => name.startsWith("core/judge") && rounding.test(text)).map((t) => t.name)).toEqual([]);
  });
});

describe("test names", () => {
  it("are given once a file", () => {
    for (const { name, text } of texts.filter((t) => t.name.endsWith(".test.ts"))) {
      const names = [...text.matchAll(/^\s*(?:it|test)\("([^"]+)"/gm)].map((match) => match[1]);
      const doubled = names.filter((title, i) => names.indexOf(title) !== i);
      expect(doubled.length === 0 || text.includes("describe("), `${name}: ${doubled.join(", ")}`).toBe(true);
    }
  });
});
