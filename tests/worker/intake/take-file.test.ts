/** One file into the ledger and out of the inbox. Rules: the contract, section 4 and the entry workbook's "doubles" and "unread rows". */
import { chmodSync, existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { sha256 } from "../../../worker/files.ts";
import { identityOf } from "../../../worker/intake/inbox.ts";
import { auditLab } from "../../../worker/ledger/audit-lab.ts";
import { keptPath, takeFile } from "../../../worker/process-file.ts";
import { book, change, coilNames, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
beforeEach(async () => {
  lab = await testLab();
});
afterEach(() => lab.remove());

const workbook = book(plan());
const inInbox = (name: string): string => join(lab.folder, "inbox", name);
const rows = async (): Promise<readonly string[]> => (await lab.workshop.ledger.facts({ kinds: ["row-read"] })).map((fact) => fact.key);

describe("a file", () => {
  it("is kept under its content, entered, and gone from the inbox", async () => {
    const { state } = await lab.take("a.xlsx", workbook);
    expect(state).toMatchObject({ status: "judged", name: "a.xlsx", sha256: sha256(workbook) });
    expect(new Uint8Array(readFileSync(keptPath(lab.workshop, sha256(workbook))))).toEqual(workbook);
    expect(existsSync(inInbox("a.xlsx"))).toBe(false);
    expect((await lab.workshop.ledger.facts({ kinds: ["file-received"] })).map((f) => f.recordedBy)).toEqual(["worker"]);
  });

  it("dropped twice changes nothing, under its name or another", async () => {
    await lab.take("a.xlsx", workbook);
    const before = await lab.factCount();
    const { known } = await lab.take("a.xlsx", workbook);
    expect(known?.name).toBe("a.xlsx");
    await lab.take("sub/copy of a.xlsx", workbook);
    expect(await lab.factCount()).toBe(before);
    // It is answered again under the name it came with.
    expect(existsSync(join(lab.folder, "returned", "sub", "copy of a.xlsx"))).toBe(true);
    expect(existsSync(inInbox("sub/copy of a.xlsx"))).toBe(false);
  });

  it("refused twice is refused with the same reason, once in the ledger", async () => {
    const text = new TextEncoder().encode("coil;turns\n");
    const { state } = await lab.take("a.xlsx", text);
    await lab.take("b.xlsx", text);
    expect(state.status).toBe("refused");
    expect((await lab.workshop.ledger.facts({ kinds: ["file-refused"] })).length).toBe(1);
    expect(readFileSync(join(lab.folder, "refused", "b.xlsx.why.txt"), "utf8")).toContain(state.refusal?.code ?? "?");
  });

  it("saved over while it was read stays: what was read is entered, what lies there is another", async () => {
    const path = lab.drop("a.xlsx", workbook);
    const identity = identityOf(path);
    const later = book(plan(), { edit: (all) => change(all.torsion, "90001-T1", { turns: 44, correctionReason: "misread" }) });
    writeFileSync(`${path}.new`, later);
    renameSync(`${path}.new`, path);
    await takeFile(lab.workshop, { path, name: "a.xlsx", bytes: workbook, identity });
    expect(new Uint8Array(readFileSync(path))).toEqual(later);
    await takeFile(lab.workshop, { path, name: "a.xlsx", bytes: later, identity: identityOf(path) });
    expect(existsSync(path)).toBe(false);
    expect((await lab.workshop.ledger.facts({ kinds: ["file-received"] })).length).toBe(2);
  });

  it("renamed while it was read is entered once and answered under both names", async () => {
    const path = lab.drop("a.xlsx", workbook);
    const identity = identityOf(path);
    renameSync(path, inInbox("b.xlsx"));
    await takeFile(lab.workshop, { path, name: "a.xlsx", bytes: workbook, identity });
    const before = await lab.factCount();
    await takeFile(lab.workshop, { path: inInbox("b.xlsx"), name: "b.xlsx", bytes: workbook, identity });
    expect(await lab.factCount()).toBe(before);
    expect(existsSync(inInbox("b.xlsx"))).toBe(false);
    expect(existsSync(join(lab.folder, "returned", "b.xlsx"))).toBe(true);
  });

  it("of two workers on one inbox is entered by the quicker only", async () => {
    const path = lab.drop("a.xlsx", workbook);
    const file = { path, name: "a.xlsx", bytes: workbook, identity: identityOf(path) };
    await Promise.all([takeFile(lab.workshop, file), takeFile(lab.workshop, { ...file, name: "b.xlsx" })]);
    expect((await lab.workshop.ledger.facts({ kinds: ["file-received"] })).length).toBe(1);
    expect(new Set(await rows()).size).toBe((await rows()).length);
  });
});

describe("a day book that grows", () => {
  it("and is dropped evening by evening only adds", async () => {
    const whole = plan({ coils: 6 });
    const seen: string[] = [];
    for (const coils of [1, 2, 4, 4, 6]) {
      const before = await rows();
      await lab.take("day-book.xlsx", book(plan({ coils }), { registered: whole }));
      const after = await rows();
      expect(after.slice(0, before.length)).toEqual(before);
      const fresh = coilNames(whole).slice(seen.length, coils);
      const added = after.slice(before.length);
      expect([...new Set(added.map((key) => /\|(\d+)-/.exec(key)?.[1]))].sort()).toEqual(fresh);
      // One row of each test for every coil that is new.
      expect(added.length).toBe(fresh.length * 4);
      seen.push(...fresh);
    }
    expect((await lab.workshop.ledger.facts({ kinds: ["row-read"] })).every((fact) => fact.supersedes === null)).toBe(true);
    expect((await lab.documents("certificate")).map((d) => d.coils)).toEqual([coilNames(whole)]);
    expect(await auditLab(lab.workshop)).toEqual([]);
  });

  it("and changes an old reading without a reason is told so, and the old one stands", async () => {
    await lab.take("day-book.xlsx", workbook);
    const { state } = await lab.take("day-book.xlsx", book(plan(), { edit: (all) => change(all.torsion, "90002-T1", { turns: 45 }) }));
    expect(state.findings.map((finding) => finding.code)).toContain("conflicting-result");
    const kept = await lab.workshop.ledger.get<{ row: { fields: { turns: { text: string } } } }>("row", "torsion|90002-T1|||");
    expect(kept?.row.fields.turns.text).not.toBe("45");
  });
});

describe("audit of a lab", () => {
  beforeEach(() => lab.take("a.xlsx", workbook));
  const written = async (content: string): Promise<string> => {
    const [document] = await lab.documents();
    const path = join("T-001", `${document?.number}.xlsx`);
    await lab.workshop.ledger.transaction("worker", async (tx) => {
      await tx.append({ kind: "document-written", key: document?.id ?? "", payload: { format: "xlsx", path, sha256: sha256(content) } });
    });
    return join(lab.folder, "documents", path);
  };

  it("names a kept original that was altered or is missing", async () => {
    expect(await auditLab(lab.workshop)).toEqual([]);
    const path = keptPath(lab.workshop, sha256(workbook));
    chmodSync(path, 0o644);
    writeFileSync(path, "other");
    expect((await auditLab(lab.workshop)).map((f) => f.text)).toEqual([
      expect.stringMatching(/^the kept original of a\.xlsx was altered: .*kept/),
    ]);
    rmSync(path);
    expect((await auditLab(lab.workshop)).map((f) => f.text)).toEqual([
      expect.stringMatching(/^the kept original of a\.xlsx is missing: /),
    ]);
  });

  it("names an issued file that was altered or is missing", async () => {
    const path = await written("as issued");
    expect((await auditLab(lab.workshop)).map((f) => f.text)).toEqual([expect.stringMatching(/^the issued file is missing: .*T-001/)]);
    mkdirSync(join(path, ".."), { recursive: true });
    writeFileSync(path, "as issued");
    expect(await auditLab(lab.workshop)).toEqual([]);
    writeFileSync(path, "as issueD");
    expect((await auditLab(lab.workshop)).map((f) => f.text)).toEqual([expect.stringMatching(/^the issued file was altered: .*T-001/)]);
  });

  it("says nothing of files where the ledger itself is wrong", async () => {
    await lab.workshop.ledger.database.deleteFrom("state").where("kind", "=", "coil").where("key", "=", "90001").execute();
    expect((await auditLab(lab.workshop)).map((f) => f.text)).toEqual(["state coil 90001 is not what its facts give"]);
  });
});
