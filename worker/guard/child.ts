/** Reads one workbook from standard input and answers on standard output whether it can be read. Runs as a process of its own. */
import { NOTHING_REGISTERED, parseEntry } from "../../core/entry/index.ts";
import { readWorkbook } from "../../core/workbook/index.ts";
import { ZLIB } from "../zlib-codec.ts";
import type { ChildAnswer } from "./guard.ts";

const chunks: Buffer[] = [];
for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
const bytes = new Uint8Array(Buffer.concat(chunks));
chunks.length = 0;

const read = readWorkbook(bytes, ZLIB);
// What the rows mean is judged elsewhere; here they only have to show that they can be understood within the limits.
if (read.ok)
  parseEntry(read.workbook, {
    file: "",
    today: "9999-12-31",
    decimalMark: ".",
    registered: NOTHING_REGISTERED,
    nominalDiameterOf: () => undefined,
    nominalDiameterOfItem: () => undefined,
    coilsOfHeat: () => [],
    agreedProperties: [],
  });
const answer: ChildAnswer = read.ok ? { ok: true } : { ok: false, refusal: read.refusal };
process.stdout.write(JSON.stringify(answer));
