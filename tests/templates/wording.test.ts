/** Wording files as a collection: complete, alike, and used by pages that have no word of their own. */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { bilingual, onOneLine, textsOf } from "../../templates/bilingual.ts";
import { dateText } from "../../templates/dates.ts";
import { figure, languages, languagesOf, secondWords, words } from "../../templates/wording.ts";
import { projectPath } from "../helpers/cli.ts";

const table = (language: string): Record<string, string> =>
  JSON.parse(readFileSync(projectPath("templates", "wording", `${language}.json`), "utf8")) as Record<string, string>;
const english = table("en");
const placeholders = (text: string): readonly string[] => [...new Set(text.match(/\{\w+\}/g) ?? [])].sort();

describe.each(languages())("wording of %s", (language) => {
  const own = table(language);

  it("holds the same codes as English, none of them empty", () => {
    expect(Object.keys(own).sort()).toEqual(Object.keys(english).sort());
    for (const [code, text] of Object.entries(own)) expect(text.trim(), code).not.toBe("");
  });

  it("keeps every placeholder", () => {
    for (const [code, text] of Object.entries(own)) expect([code, placeholders(text)]).toEqual([code, placeholders(english[code] ?? "")]);
  });

  it("is translated: hardly a sentence is the English one", () => {
    if (language === "en") return;
    const same = Object.entries(own).filter(([code, text]) => text === english[code] && text.split(" ").length > 3);
    expect(same.map(([code]) => code)).toEqual([]);
  });
});

it("every wording file is a language of documents, and the other way round", () => {
  const files = readdirSync(projectPath("templates", "wording")).filter((name) => /^[a-z]{2}\.json$/.test(name));
  expect(files.map((name) => name.slice(0, 2)).sort()).toEqual([...languages()].sort());
});

it("pages and parts have no word of their own", () => {
  const folder = projectPath("templates");
  const pages = readdirSync(folder, { recursive: true, encoding: "utf8" }).filter((name) => name.endsWith(".hbs"));
  expect(pages.length).toBeGreaterThan(6);
  for (const page of pages) {
    const source = readFileSync(projectPath("templates", page), "utf8");
    const left = source
      .replaceAll(/\{\{[^}]*\}\}\}?/g, "")
      .replaceAll(/<[^>]*>/g, "")
      .replaceAll(/[\s/·:,\d]/g, "");
    expect([page, left]).toEqual([page, ""]);
  }
});

it("a code without wording is an error that names it", () => {
  expect(() => words("de")("document.unheard-of")).toThrow('no de wording for "document.unheard-of"');
});

/** Own tables, never the platform's. @source common practice: ISO 8601 in English, DIN 5008 in German, day/month/year elsewhere */
it.each([
  ["en", "2026-03-09", "1800.25"],
  ["de", "09.03.2026", "1800,25"],
  ["fr", "09/03/2026", "1800,25"],
  ["es", "09/03/2026", "1800,25"],
  ["tlh", "2026-03-09", "1800.25"],
])("%s writes days and figures its own way", (language, day, number) => {
  const say = words(language);
  expect(dateText(say, "2026-03-09")).toBe(day);
  expect(figure(say, "1800.25")).toBe(number);
});

it.each([
  ["en", ["en"]],
  ["en+de", ["en", "de"]],
  ["DE / FR", ["de", "fr"]],
  ["de+de", ["de"]],
  ["xx+es", ["es"]],
  ["", ["en"]],
])("language %s is %j", (given, expected) => {
  expect(languagesOf(given)).toEqual(expected);
});

it("two languages share the figures and days of the first", () => {
  const second = secondWords("en+de");
  expect([second?.language, second?.decimalMark, second?.dates]).toEqual(["de", ".", "en"]);
  expect(secondWords("en")).toBeUndefined();
  expect(secondWords("en+de", ",")?.decimalMark).toBe(",");
});

it("only the languages that nobody has read line by line are drafts", () => {
  expect(languages().filter((language) => words(language).draft)).toEqual(["fr", "es"]);
});

it("two views become one: what is the same stays once", () => {
  const both = bilingual(
    { a: "Coil", n: 1, list: ["x", "turns"], same: "81001" },
    { a: "Ring", n: 1, list: ["x", "Verwindungen"], same: "81001" },
  );
  expect(textsOf(both.a)).toEqual(["Coil", "Ring"]);
  expect(both.list.map(onOneLine)).toEqual(["x", "turns / Verwindungen"]);
  expect([both.n, both.same]).toEqual([1, "81001"]);
});
