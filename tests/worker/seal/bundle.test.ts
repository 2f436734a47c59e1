/** Modules put together into one script; and what the laboratory says about documents that ended. Modules and numbers invented. */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { runInNewContext } from "node:vm";
import { afterAll, describe, expect, it } from "vitest";
import type { LedgerReader } from "../../../worker/ports/ledger.ts";
import { bundle } from "../../../worker/seal/bundle.ts";
import { withdrawnDocuments } from "../../../worker/seal/withdrawn.ts";
import { temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

let made = 0;
function modules(files: Readonly<Record<string, string>>): URL {
  made += 1;
  const at = join(folder.path, String(made));
  mkdirSync(at);
  for (const [name, text] of Object.entries(files)) writeFileSync(join(at, name), text);
  return pathToFileURL(join(at, "main.js"));
}

describe("bundle", () => {
  it("names stay apart, what two modules need is made once, and every form of export is given on", () => {
    const entry = modules({
      "main.js":
        'import { a, b as other } from "./one.js";\nimport { c } from "./two.js";\nconst x = 1;\nexport const answer = [a(), other, c, x].join(" ");\n',
      "one.js":
        'import { count } from "./shared.js";\nconst x = 10;\nexport function a() { return count() + x; }\nexport const [b, d] = [2, 3];\nexport class E {}\n',
      "two.js":
        'import { count } from "./shared.js";\nimport "./shared.js";\nconst hidden = count();\nexport { hidden as c };\nexport { count } from "./shared.js";\n',
      "shared.js": "let n = 0;\nexport const count = () => (n += 1);\n",
    });
    const script = bundle(entry, {});
    expect(script).not.toContain(folder.path);
    expect(runInNewContext(`${script}entry.answer`)).toBe("12 2 1 1");
  });

  it.each([
    ['import x from "./a.js";', /not understood/],
    ["export default 1;", /not understood/],
    ['export * from "./a.js";', /not understood/],
    ['import { a } from "somewhere";', /imports "somewhere"/],
    ['import { a } from "./main.js";', /circle/],
  ])("%s is refused", (text, why) => {
    expect(() => bundle(modules({ "main.js": text, "a.js": "" }), {})).toThrow(why);
  });
});

it("documents that were called back or replaced, by number; no other", async () => {
  const documents = [
    { number: "2026-00003", status: "replaced", replacedOn: "2026-04-02", replacedBy: "2026-00009" },
    { number: "2026-00002", status: "withdrawn", withdrawnOn: "2026-04-01" },
    { number: "2026-00001", status: "signed" },
    { status: "draft" },
  ];
  const reader = { list: async () => documents.map((value, key) => ({ kind: "document", key: String(key), owner: "", value })) };
  expect(await withdrawnDocuments(reader as unknown as LedgerReader)).toEqual([
    { number: "2026-00002", on: "2026-04-01", state: "withdrawn" },
    { number: "2026-00003", on: "2026-04-02", state: "replaced", replacedBy: "2026-00009" },
  ]);
});
