/** The ledger as JSON Lines, and back into an empty one: a head, then a fact a line, every hash as it was. */
import { createReadStream } from "node:fs";
import { createInterface } from "node:readline";
import { z } from "zod";
import { canonicalContent } from "../../core/spec/index.ts";
import { InputRefused, RuleRefusal } from "../errors.ts";
import { VERSION } from "../version.ts";
import { factHash } from "./facts.ts";
import type { OpenLedger } from "./open-ledger.ts";
import { REDUCERS } from "./reducers.ts";
import type { Tables } from "./tables.ts";

const hash = z.string().regex(/^[0-9a-f]{64}$/);
const headLine = z.strictObject({
  schema: z.literal("export-head/1"),
  program: z.string().describe("version that wrote the file"),
  facts: z.number().int().min(0),
  lastHash: z.union([hash, z.literal("")]).describe("empty where there is no fact"),
});
const factLine = z.strictObject({
  schema: z.literal("export-fact/1"),
  seq: z.number().int().min(1),
  kind: z.string(),
  key: z.string(),
  payload: z.record(z.string(), z.unknown()),
  recordedAt: z.string().describe("ISO time"),
  recordedBy: z.string().describe("the person, or worker"),
  account: z.string().describe("the operating system's account"),
  program: z.string().describe("version that recorded it"),
  supersedes: z.number().int().nullable().describe("the last fact of this kind and key before it"),
  previousHash: z.union([hash, z.literal("")]),
  hash: hash.describe("SHA-256 over the canonical JSON of everything else, the payload as its canonical JSON text"),
});

/** JSON Schema of one line. */
export const exportSchema = (): object => ({ title: "Line of an exported ledger", ...z.toJSONSchema(z.union([headLine, factLine])) });

type Row = Tables["fact"];
const PAGE = 1000;

/** Lines in order, without holding more than a page of them. Facts recorded meanwhile are left out. */
export async function* exportLines({ database }: OpenLedger): AsyncGenerator<string> {
  const anchor = await database.selectFrom("anchor").selectAll().where("id", "=", 1).executeTakeFirstOrThrow();
  const head: z.output<typeof headLine> = { schema: "export-head/1", program: VERSION, facts: anchor.facts, lastHash: anchor.last_hash };
  yield JSON.stringify(head);
  for (let last = 0; last < anchor.facts; ) {
    const rows = await database
      .selectFrom("fact")
      .selectAll()
      .where("seq", ">", last)
      .where("seq", "<=", anchor.facts)
      .orderBy("seq")
      .limit(PAGE)
      .execute();
    if (rows.length === 0) return;
    for (const row of rows) {
      yield JSON.stringify(toLine(row));
      last = row.seq;
    }
  }
}

const toLine = (row: Row): z.output<typeof factLine> => ({
  schema: "export-fact/1",
  ...{ seq: row.seq, kind: row.kind, key: row.key, payload: JSON.parse(row.payload) as Record<string, unknown> },
  ...{ recordedAt: row.recorded_at, recordedBy: row.recorded_by, account: row.account, program: row.program },
  ...{ supersedes: row.supersedes, previousHash: row.previous_hash, hash: row.hash },
});

const toRow = (line: z.output<typeof factLine>): Row => ({
  ...{ seq: line.seq, kind: line.kind, key: line.key, payload: canonicalContent(line.payload) },
  ...{ recorded_at: line.recordedAt, recorded_by: line.recordedBy, account: line.account, program: line.program },
  ...{ supersedes: line.supersedes, previous_hash: line.previousHash, hash: line.hash },
});

/**
 * All facts or none; the states are made again from them.
 * @throws RuleRefusal where the ledger holds facts, InputRefused where a line is not of the schema or the chain does not hold
 */
export async function importLines(ledger: OpenLedger, file: string): Promise<{ readonly facts: number; readonly lastHash: string }> {
  const done = await ledger.database.transaction().execute(async (db) => {
    const anchor = await db.selectFrom("anchor").selectAll().where("id", "=", 1).executeTakeFirstOrThrow();
    if (anchor.facts > 0) throw new RuleRefusal(`import: this ledger holds ${anchor.facts} facts; accepted is an empty one`);
    let head: z.output<typeof headLine> | undefined;
    let [facts, lastHash, number] = [0, "", 0];
    let page: Row[] = [];
    const flush = async (): Promise<void> => {
      if (page.length > 0) await db.insertInto("fact").values(page).execute();
      page = [];
    };
    for await (const text of createInterface({ input: createReadStream(file, "utf8"), crlfDelay: Number.POSITIVE_INFINITY })) {
      number += 1;
      const refuse = (what: string): InputRefused => new InputRefused(`${file} line ${number}: ${what}`);
      if (head === undefined) {
        head = parsed(headLine, text, refuse);
        continue;
      }
      const row = toRow(parsed(factLine, text, refuse));
      if (!Object.hasOwn(REDUCERS, row.kind)) throw refuse(`found a fact of the kind "${row.kind}", which this program does not know`);
      if (row.seq !== facts + 1) throw refuse(`found fact ${row.seq}, accepted is fact ${facts + 1}`);
      if (row.previous_hash !== lastHash) throw refuse(`fact ${row.seq} does not follow the one before it`);
      if (factHash(row) !== row.hash) throw refuse(`fact ${row.seq} was altered: its hash is of another content`);
      page.push(row);
      [facts, lastHash] = [row.seq, row.hash];
      if (page.length === PAGE) await flush();
    }
    await flush();
    if (head === undefined) throw new InputRefused(`${file}: is empty; accepted is a file that "coilbook export" wrote`);
    if (head.facts !== facts || head.lastHash !== lastHash)
      throw new InputRefused(`${file}: ends with fact ${facts}, its head names ${head.facts}; the end is missing`);
    await db.updateTable("anchor").set({ facts, last_hash: lastHash }).where("id", "=", 1).execute();
    return { facts, lastHash };
  });
  await ledger.rebuild();
  return done;
}

function parsed<T extends z.ZodType>(schema: T, text: string, refuse: (what: string) => InputRefused): z.output<T> {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch (error) {
    throw refuse(`no valid JSON (${(error as Error).message})`);
  }
  const found = schema.safeParse(json);
  if (!found.success) throw refuse(`${found.error.issues[0]?.path.join(".")}: ${found.error.issues[0]?.message}`);
  return found.data;
}
