import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { EMPTY_REGISTERS } from "../../../core/entry/index.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { type GuardOptions, limitsFor, readFileGuarded, tryReading } from "../../../worker/guard/index.ts";
import { type ReadFileOptions, readFile } from "../../../worker/read-file.ts";
import { rawZip } from "../../core/workbook/raw-zip.ts";
import { smallBook, smallParts } from "../../core/workbook/small-book.ts";
import { projectPath } from "../../helpers/cli.ts";

const MEBIBYTE = 1024 * 1024;
/** The sources run compiled; the reading process has no compiler. */
const program = projectPath("dist", "worker", "guard", "child.js");

const options = (name: string): ReadFileOptions => ({
  name,
  sha256: "",
  today: "2026-03-02",
  decimalMark: ".",
  registers: EMPTY_REGISTERS,
  library: builtInLibrary(),
});

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-guard-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A reading process that does what a hostile file might make it do. */
function misbehaving(name: string, source: string): GuardOptions["program"] & string {
  const file = join(folder, `${name}.mjs`);
  writeFileSync(file, source);
  return file;
}

const PLAIN = smallBook({ data: '<row r="1"><c r="A1" t="inlineStr"><is><t>Order</t></is></c></row>' });

describe("what the guard says is what reading says", () => {
  test.for([
    ["a workbook with nothing of ours", "a.xlsx", PLAIN],
    ["a CSV file under another name", "a.xlsx", new TextEncoder().encode("coil;turns\nC1;24\n")],
    ["a cut-off file", "a.xlsx", PLAIN.subarray(0, PLAIN.length - 30)],
    ["a lock file", "~$a.xlsx", PLAIN],
    ["another extension", "a.zip", PLAIN],
    ["an empty file", "a.xlsx", new Uint8Array(0)],
  ] as const)("%s", async ([, name, bytes]) => {
    expect(await readFileGuarded(bytes, options(name), { program })).toEqual(readFile(bytes, options(name)));
  });
});

describe("a file that goes too far ends its own process", () => {
  const limits = { timeMs: 3_000, memoryBytes: 400 * MEBIBYTE };
  test.for([
    ["never ends", "for (;;);", "gave-up", /more than 3\.0 seconds/],
    [
      "fills buffers, which no heap limit counts",
      "const all = []; for (;;) all.push(Buffer.alloc(1048576, 1));",
      "too-large",
      /more than 400 MiB/,
    ],
    ["crashes", "process.kill(process.pid, 'SIGSEGV'); setTimeout(() => {}, 5000);", "gave-up", /SIGSEGV/],
    ["ends with an error", "process.exit(7);", "gave-up", /exit code 7/],
  ] as const)("%s", async ([name, source, code, text]) => {
    // Only the one that never ends may run into its time, however busy the machine is.
    const timeMs = name === "never ends" ? limits.timeMs : 50_000;
    const refusal = await tryReading(PLAIN, { limits: { ...limits, timeMs }, program: misbehaving(name.split(" ")[0] as string, source) });
    expect(refusal?.code).toBe(code);
    expect(refusal?.text).toMatch(text);
    expect(refusal?.text).not.toContain("\n");
  });

  test("an ordinary file against limits that are too small for any", async () => {
    expect((await tryReading(PLAIN, { program, limits: { timeMs: 1, memoryBytes: 400 * MEBIBYTE } }))?.code).toBe("gave-up");
    expect((await tryReading(PLAIN, { program, limits: { timeMs: 20_000, memoryBytes: 10 * MEBIBYTE } }))?.code).toBe("too-large");
  });

  test("a bomb is refused by its own reading, within the limits of its size", async () => {
    const bomb = rawZip([...smallParts({ data: "" }), { name: "xl/media/image1.png", content: new Uint8Array(100 * MEBIBYTE) }]);
    expect((await tryReading(bomb, { program, limits: { ...limitsFor(bomb.length), timeMs: 60_000 } }))?.code).toBe("too-dense");
  });
});

test("limits grow with the file: 5 s and 400 MiB for the smallest", () => {
  expect(limitsFor(0)).toEqual({ timeMs: 5_000, memoryBytes: 400 * MEBIBYTE });
  expect(limitsFor(10 * MEBIBYTE)).toEqual({ timeMs: 25_000, memoryBytes: 560 * MEBIBYTE });
});
