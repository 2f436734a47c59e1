/** The page of cell rules follows the lists. Source: WORKBOOK.md, "Rules for cells": each has a finding code. */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { CODES } from "../../../core/codes.ts";
import { CODE_HELP } from "../../../core/entry/code-help.ts";
import { cellsPage } from "../../../scripts/cells-page.ts";
import { projectPath } from "../../helpers/cli.ts";

test("docs/cells.md is what the lists say now (node dist/scripts/cells-page.js writes it)", () => {
  expect(readFileSync(projectPath("docs", "cells.md"), "utf8")).toBe(cellsPage());
});

test("every finding and refusal has its rule, and no rule is of a code that is not there", () => {
  const codes = new Set(CODES.filter(({ kind }) => kind === "finding" || kind === "refusal").map(({ code }) => code));
  expect([...codes].filter((code) => CODE_HELP[code] === undefined)).toEqual([]);
  expect(Object.keys(CODE_HELP).filter((code) => !codes.has(code))).toEqual([]);
  for (const { rule, todo } of Object.values(CODE_HELP)) for (const text of [rule, todo]) expect(text).toMatch(/^[A-Z0-9`].*\.$/s);
});
