/**
 * Late changes on whole labs: what was issued never becomes wrong in silence. The rules are those of the contract (section 8); orders,
 * coils, readings and persons are of the invented mill.
 */
import { afterEach, describe, expect, it } from "vitest";
import type { CertificateRecord } from "../../../templates/certificate/record.ts";
import { OWN_SPECIFICATION, QUALITY } from "../../../templates/example/scenario.ts";
import type { NoticeRecord } from "../../../templates/notice/record.ts";
import { amendDocument, confirmDocument, withdrawDocument } from "../../../worker/documents/changes.ts";
import { issueContext, signDocument } from "../../../worker/documents/life.ts";
import { RuleRefusal } from "../../../worker/errors.ts";
import { judgeUnder } from "../../../worker/process-file.ts";
import { hold, release, ship } from "../../../worker/quality/wire.ts";
import { requirePerson } from "../../../worker/registers.ts";
import { adopt, book, change, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
afterEach(() => lab.remove());

const reason = { why: "checked on the bench", by: QUALITY };
/** Turns of the second coil, misread the first time. */
const correction = (turns: number, why = "misread"): Uint8Array =>
  book(plan(), { testsOnly: true, edit: (rows) => change(rows.torsion, "90002-T1", { turns, correctionReason: why }) });
/** Another piece of the third coil, tested after its document went out. */
const lateRow = (strength: number): Uint8Array =>
  book(plan(), {
    testsOnly: true,
    edit: (rows) =>
      rows.tensile.push({ ...rows.tensile.at(-1), testPiece: "90003-S2", diameter: 2, maximumForce: Math.round(strength * Math.PI) }),
  });

/** What a reader of the register sees: documents, notices and holds, in words. */
async function picture(): Promise<object> {
  const documents = await lab.documents();
  const notices = await lab.workshop.ledger.list<{ coils: readonly string[]; audience?: string }>("notice");
  return {
    documents: documents
      .filter((d) => d.kind === "certificate")
      .map((d) => `${d.number ?? "draft"} ${d.status} ${d.coils.join(" ")}`)
      .sort(),
    notices: notices.map(({ key, value }) => `${key} ${value.audience ?? "laboratory"} ${value.coils.join(" ")}`),
    holds: (await lab.workshop.ledger.list("hold")).map(({ key }) => key),
  };
}
const differences = async (number: string): Promise<readonly string[]> =>
  ((await lab.documents()).find((d) => d.number === number)?.question?.differences ?? []).map(
    (d) => `${d.coil} ${d.property}: ${d.before} -> ${d.now}`,
  );
const nextOf = async (coil: string): Promise<readonly string[]> => {
  const kept = await lab.workshop.ledger.get<{ verdict: { coils: readonly { coil: string; next: readonly { do: string }[] }[] } }>(
    "verdict",
    "T-001/10",
  );
  return kept?.verdict.coils.find((c) => c.coil === coil)?.next.map((step) => step.do) ?? [];
};
const turnsOf = async (coil: string): Promise<string> => {
  const record = (await lab.documents("certificate"))[0]?.record as CertificateRecord;
  const at = record.requirements.findIndex((r) => r.property === "torsion");
  return record.rows.find((row) => row.coil === coil)?.cells[at]?.compared ?? "";
};

const issued = ["2026-00001 signed 90001 90002 90003"];

describe("a certificate is out, then a correction turns one result", () => {
  it("puts it in question, raises one notice and adds nothing the second time", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    expect(await picture()).toEqual({ documents: issued, notices: [], holds: [] });
    expect(await nextOf("90002")).toEqual([]);
    const before = await turnsOf("90002");
    await lab.take("b.xlsx", correction(3));
    const after = {
      documents: ["2026-00001 in-question 90001 90002 90003"],
      notices: ["2026-00002 laboratory 90002"],
      holds: [],
    };
    expect(await picture()).toEqual(after);
    expect(await differences("2026-00001")).toEqual([`90002 torsion: ${before} ■ -> 3 ✕`]);
    expect(await nextOf("90002")).toEqual(["retest"]);
    const notice = (await lab.documents("notice"))[0]?.record as NoticeRecord;
    expect(notice.documents).toEqual([{ number: "2026-00001", coil: "90002", property: "torsion", before: `${before} ■`, now: "3 ✕" }]);
    const facts = await lab.factCount();
    // The same workbook again, and the same rows in another workbook.
    await lab.take("b.xlsx", correction(3));
    await lab.take("c.xlsx", correction(3, "misread, as told before"));
    expect(await picture()).toEqual(after);
    // Of the second only its receipt is new.
    expect((await lab.workshop.ledger.facts()).slice(facts).map((fact) => fact.kind)).toEqual(["file-received"]);
  });

  it("is the customer's notice where the wire has left", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await ship(lab.workshop, { order: "T-001", coils: ["90002"], note: "L-1", by: QUALITY });
    await lab.take("b.xlsx", correction(3));
    expect(await picture()).toMatchObject({ notices: ["2026-00002 customer 90002"] });
    expect((await lab.documents("notice")).map((d) => (d.record as NoticeRecord).audience)).toEqual(["customer"]);
  });

  it("stops its coils until a person ends it", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", correction(3));
    await expect(ship(lab.workshop, { order: "T-001", coils: ["90001"], note: "L-1", by: QUALITY })).rejects.toThrow(
      "coil 90001 stands on document 2026-00001, which is in question",
    );
    const { document, leftOut } = await amendDocument(lab.workshop, "2026-00001", reason);
    expect([document.number, document.coils, leftOut]).toEqual(["2026-00003", ["90001", "90003"], ["90002"]]);
    expect(document.replaces?.why).toBe("checked on the bench; coils left out: 90002");
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 replaced 90001 90002 90003", "2026-00003 signed 90001 90003"],
    });
    await ship(lab.workshop, { order: "T-001", coils: ["90001"], note: "L-1", by: QUALITY });
    await expect(ship(lab.workshop, { order: "T-001", coils: ["90001"], note: "L-2", by: QUALITY })).rejects.toThrow(
      "coil 90001 has left already on note L-1 (2026-03-03)",
    );
    await expect(amendDocument(lab.workshop, "2026-00001", reason)).rejects.toThrow("document 2026-00001 was replaced by 2026-00003");
  });

  it("a figure that was printed wrong is a question too, and the amended document shows the change", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    const before = await turnsOf("90002");
    await lab.take("b.xlsx", correction(40));
    expect(await differences("2026-00001")).toEqual([`90002 torsion: ${before} ■ -> 40 ■`]);
    const { document } = await amendDocument(lab.workshop, "2026-00001", reason);
    expect(document.coils).toEqual(["90001", "90002", "90003"]);
    expect(document.replaces?.why).toBe(`checked on the bench; coil 90002, Torsion: ${before} ■ became 40 ■`);
  });

  it("that was confirmed is not asked again; another change is", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", correction(40));
    await expect(confirmDocument(lab.workshop, "2026-00009", reason)).rejects.toThrow("no document of this number was issued");
    await confirmDocument(lab.workshop, "2026-00001", reason);
    await expect(confirmDocument(lab.workshop, "2026-00001", reason)).rejects.toThrow("is not in question");
    expect(await picture()).toMatchObject({ documents: issued, notices: ["2026-00002 laboratory 90002"] });
    await lab.workshop.ledger.transaction(QUALITY, (tx) => judgeUnder(lab.workshop, tx, "QW 100", "2026"));
    expect(await picture()).toMatchObject({ documents: issued });
    await lab.take("c.xlsx", correction(3, "misread again"));
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 in-question 90001 90002 90003"],
      notices: ["2026-00002 laboratory 90002", "2026-00003 laboratory 90002"],
    });
  });

  it("that was withdrawn names no coil any more, and its coils may have another", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", correction(3));
    await withdrawDocument(lab.workshop, "2026-00001", reason);
    expect(await picture()).toMatchObject({ documents: ["2026-00001 withdrawn 90001 90002 90003"] });
    await expect(withdrawDocument(lab.workshop, "2026-00001", reason)).rejects.toThrow(RuleRefusal);
    await lab.take("c.xlsx", correction(41, "counted again"));
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 withdrawn 90001 90002 90003", "2026-00003 signed 90001 90002 90003"],
    });
    expect(await lab.workshop.ledger.audit()).toEqual([]);
  });
});

describe("documents that persons sign", () => {
  const signAs = (id: string, by: string) =>
    lab.workshop.ledger.transaction(by, async (tx) => signDocument(tx, id, await requirePerson(tx, by, []), issueContext(lab.workshop)));
  const again = (): Promise<void> => lab.workshop.ledger.transaction(QUALITY, (tx) => judgeUnder(lab.workshop, tx, "QW 100", "2026"));

  it("3.1 rests on adopted limits: a table that nobody looked at since puts it in question", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan({ documentType: "3.1" })));
    const [draft] = await lab.documents();
    await signAs(draft?.id ?? "", QUALITY);
    // Not one limit is another, but the content is, and the adoption was for the earlier one.
    await lab.reopen({}, { ...OWN_SPECIFICATION, title: "Spring wire for return springs (invented, reprinted)" });
    await again();
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 in-question 90001 90002 90003"],
      notices: ["2026-00002 laboratory 90001 90002 90003"],
    });
    expect((await differences("2026-00001")).slice(0, 1)).toEqual(["90001 tensile-strength: QW 100:2026 ■ -> QW 100:2026 □"]);
    await adopt(lab.workshop);
    await again();
    await confirmDocument(lab.workshop, "2026-00001", reason);
    expect(await picture()).toMatchObject({ documents: issued });
  });

  it("3.2 stands until the second party has signed the one that replaces it", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan({ documentType: "3.2" as "3.1" })));
    const [draft] = await lab.documents();
    await signAs(draft?.id ?? "", QUALITY);
    await signAs(draft?.id ?? "", "Ivo Marlstone");
    await lab.take("b.xlsx", correction(40));
    const { document } = await amendDocument(lab.workshop, "2026-00001", reason);
    expect(document.number).toBeUndefined();
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 in-question 90001 90002 90003", "draft draft 90001 90002 90003"],
    });
    await signAs(document.id, "Ivo Marlstone");
    expect(await picture()).toMatchObject({
      documents: ["2026-00001 replaced 90001 90002 90003", "2026-00003 signed 90001 90002 90003"],
    });
  });

  it("a file that is written late does not end the question", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    const [document] = await lab.documents();
    await lab.take("b.xlsx", correction(3));
    await lab.workshop.ledger.transaction("worker", (tx) =>
      tx.append({ kind: "document-written", key: document?.id ?? "", payload: { format: "xlsx", path: "x.xlsx", sha256: "" } }),
    );
    expect(await picture()).toMatchObject({ documents: ["2026-00001 in-question 90001 90002 90003"] });
  });
});

describe("a late row", () => {
  it("that fails puts the document in question", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", lateRow(1700));
    expect(await picture()).toEqual({
      documents: ["2026-00001 in-question 90001 90002 90003"],
      notices: ["2026-00002 laboratory 90003"],
      holds: [],
    });
    expect((await differences("2026-00001")).map((text) => text.replace(/\d+ ■/, "n ■"))).toEqual([
      "90003 tensile-strength: n ■ -> 1700 ✕",
    ]);
    const facts = await lab.factCount();
    await lab.take("b.xlsx", lateRow(1700));
    expect(await lab.factCount()).toBe(facts);
  });

  it("that conforms says more, not something else", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", lateRow(1930));
    expect(await picture()).toEqual({ documents: issued, notices: [], holds: [] });
  });
});

describe("a table repaired by a release", () => {
  const repaired = {
    ...OWN_SPECIFICATION,
    tables: OWN_SPECIFICATION.tables.map((table) =>
      table.property === "torsion" ? { ...table, rows: table.rows.map((row) => ({ ...row, min: "90" })) } : table,
    ),
  };

  it("names every coil it turns, in the night after, once", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.reopen({}, repaired);
    const again = (): Promise<void> => lab.workshop.ledger.transaction(QUALITY, (tx) => judgeUnder(lab.workshop, tx, "QW 100", "2026"));
    await again();
    const after = {
      documents: ["2026-00001 in-question 90001 90002 90003"],
      notices: ["2026-00002 laboratory 90001 90002 90003"],
      holds: [],
    };
    expect(await picture()).toEqual(after);
    expect((await differences("2026-00001")).map((text) => text.split(" freeLength")[0])).toEqual(
      ["90001", "90002", "90003"].map((coil) => `${coil} torsion: ≥ 22 turns`),
    );
    const facts = await lab.factCount();
    await again();
    expect(await lab.factCount()).toBe(facts);
    // Repaired back and adopted again: what it says is true, and a person still ends the question.
    await lab.reopen({}, OWN_SPECIFICATION);
    await adopt(lab.workshop);
    await again();
    expect(await picture()).toMatchObject({ documents: ["2026-00001 in-question 90001 90002 90003"] });
    await confirmDocument(lab.workshop, "2026-00001", reason);
    expect(await picture()).toMatchObject({ documents: issued });
  });

  it("leaves a document alone that says it rests on limits not adopted, when they are", async () => {
    lab = await testLab({}, false);
    await lab.take("a.xlsx", book(plan()));
    await adopt(lab.workshop);
    await lab.workshop.ledger.transaction(QUALITY, (tx) => judgeUnder(lab.workshop, tx, "QW 100", "2026"));
    expect(await picture()).toMatchObject({ documents: issued, notices: [] });
  });
});

describe("holds", () => {
  it.each([
    { scope: "coil", id: "90002", free: "90001 90003" },
    { scope: "order", id: "T-001", free: "" },
    { scope: "heat", id: "H1", free: "" },
    { scope: "instrument", id: "TT-1", free: "" },
  ] as const)("on a $scope keep its coils from a document until it is released", async ({ scope, id, free }) => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan(), { stories: ["torsion-missing"] }));
    await hold(lab.workshop, { scope, id }, reason);
    await expect(hold(lab.workshop, { scope, id }, reason)).rejects.toThrow(`${scope} ${id} is held since 2026-03-03 by Ada Thornquist`);
    await lab.take("b.xlsx", book(plan(), { testsOnly: true }));
    expect(await picture()).toMatchObject({ documents: free === "" ? [] : [`2026-00001 signed ${free}`], holds: [`${scope}|${id}`] });
    await release(lab.workshop, { scope, id }, reason);
    await expect(release(lab.workshop, { scope, id }, reason)).rejects.toThrow(`${scope} ${id} is not held`);
    expect(await picture()).toMatchObject({
      documents: free === "" ? issued : ["2026-00001 signed 90001 90003", "2026-00002 signed 90002"],
      holds: [],
    });
  });
});
