/** Notices from failure to closed, concessions and deliveries on whole labs. Rules: ISO 9001:2015, 8.7 (memory); the wire is invented. */

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import type { OrderItem, OrderVerdict } from "../../../core/model.ts";
import type { CertificateRecord } from "../../../templates/certificate/record.ts";
import { QUALITY, type Rows } from "../../../templates/example/scenario.ts";
import { draftCertificate, issueContext, signDocument } from "../../../worker/documents/life.ts";
import { nightly } from "../../../worker/nightly.ts";
import { writePages } from "../../../worker/pages.ts";
import { closeNotice, containNotice, decideNotice, noticeLines, regradesOf } from "../../../worker/quality/notice-life.ts";
import { concede, release, ship } from "../../../worker/quality/wire.ts";
import { requirePerson } from "../../../worker/registers.ts";
import { book, change, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
afterEach(() => lab.remove());

const reason = { why: "looked at", by: QUALITY };
const NOTICE = "2026-00001";
/** The first coil is too thick; its rule allows no retest. */
async function failing(): Promise<void> {
  lab = await testLab();
  await lab.take("a.xlsx", book(plan(), { stories: ["diameter-out"] }));
}
/** 1778 MPa on the first coil, and on both pieces of its retest: too weak for Q2, strong enough for Q1. */
async function tooWeak(): Promise<void> {
  lab = await testLab();
  const edit = (rows: Rows): void => {
    const [first = {}] = rows.tensile;
    for (const count of [2, 3]) rows.tensile.push({ ...first, testPiece: `90001-S${count}`, role: "retest", retestOf: "90001-S1" });
  };
  await lab.take("a.xlsx", book(plan(), { stories: ["strength-below"], edit }));
}
const line = async (today = "2026-03-03"): Promise<object | undefined> => (await noticeLines(lab.workshop.ledger, today))[0];
const certificateFor = async (...coils: string[]): Promise<CertificateRecord> =>
  lab.workshop.ledger.transaction(QUALITY, async (tx) => {
    const order = (await tx.get<OrderItem>("order", "T-001/10")) as OrderItem;
    const kept = (await tx.get<{ verdict: OrderVerdict }>("verdict", "T-001/10")) as { verdict: OrderVerdict };
    const context = issueContext(lab.workshop);
    const draft = await draftCertificate(tx, order, kept.verdict, coils, context);
    return (await signDocument(tx, draft.id, await requirePerson(tx, QUALITY, []), context)).record as CertificateRecord;
  });
const register = async (): Promise<string> => {
  await writePages(lab.workshop, []);
  return readFileSync(join(lab.folder, "register", "index.html"), "utf8");
};

describe("a notice", () => {
  it("is contained, decided and closed, each once and in order", async () => {
    await failing();
    expect(await line()).toMatchObject({ number: NOTICE, status: "raised", coils: ["90001"], next: "Contain it: stop its coils." });
    await expect(closeNotice(lab.workshop, NOTICE, reason)).rejects.toThrow("nothing is decided of coil 90001");
    await containNotice(lab.workshop, NOTICE, reason);
    await expect(containNotice(lab.workshop, NOTICE, reason)).rejects.toThrow("was contained on 2026-03-03 by Ada Thornquist");
    await expect(release(lab.workshop, { scope: "coil", id: "90001" }, reason)).rejects.toThrow(
      "coil 90001 is contained under notice 2026-00001, and nothing is decided of it",
    );
    expect(await line()).toMatchObject({ status: "contained", next: "Decide what becomes of each coil." });
    await decideNotice(lab.workshop, NOTICE, { decision: "scrap", ...reason, answerBy: "2026-03-10" });
    await expect(release(lab.workshop, { scope: "coil", id: "90001" }, reason)).rejects.toThrow("is to go by notice 2026-00001 (scrap");
    expect(await line()).toMatchObject({ status: "decided", answerBy: "2026-03-10", overdue: false });
    expect(await line("2026-03-11")).toMatchObject({ overdue: true });
    await closeNotice(lab.workshop, NOTICE, reason);
    expect(await line("2026-03-11")).toMatchObject({ status: "closed", overdue: false, next: "" });
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "scrap", ...reason })).rejects.toThrow("was closed on 2026-03-03");
    expect(await lab.workshop.ledger.audit()).toEqual([]);
  });

  it("is reminded of in the digest until it is closed", async () => {
    await failing();
    await lab.reopen({ mail: { ...lab.workshop.lab.settings.mail, digestTo: ["quality@quillmark.example"] } });
    await decideNotice(lab.workshop, NOTICE, { decision: "scrap", ...reason, answerBy: "2026-03-10" });
    const digest = async (day: string): Promise<string> => {
      const { digests } = await nightly(lab.workshop, day);
      return readFileSync(join(lab.folder, digests[0] ?? ""), "utf8");
    };
    expect(await digest("2026-03-11")).toContain(`${NOTICE}  T-001/10  coils 90001  decided  answer by 2026-03-10 (overdue)  Close it.`);
    await closeNotice(lab.workshop, NOTICE, reason);
    expect(await digest("2026-03-12")).not.toContain(NOTICE);
    const facts = await lab.factCount();
    expect((await nightly(lab.workshop, "2026-03-12")).digests).toEqual([]);
    expect(await lab.factCount()).toBe(facts);
  });

  it("is regraded only to a grade that the search finds, with its margins", async () => {
    await tooWeak();
    const [candidate] = (await regradesOf(lab.workshop, lab.workshop.ledger, "T-001/10", "90001")).filter(
      (c) => c.specification === "QW 100",
    );
    expect(candidate?.grade).toBe("Q1");
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "regrade", to: "QW 100 Q9", ...reason })).rejects.toThrow(
      /coil 90001 does not meet "QW 100 Q9"; it meets .*QW 100 Q1/,
    );
    const notice = await decideNotice(lab.workshop, NOTICE, { decision: "regrade", to: "QW 100 Q1", ...reason });
    // 1778 MPa lies 102 below the maximum of Q1 and 128 above its minimum.
    expect(notice.decisions?.[0]?.regrade).toMatchObject({ specification: "QW 100", edition: "2026", grade: "Q1" });
    expect(JSON.stringify(notice.decisions?.[0]?.regrade?.margins)).toContain(
      '"compared":"1778","margin":"102","property":"tensile-strength"',
    );
  });

  it("is tested again only where a rule leaves a test open", async () => {
    await failing();
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "retest", ...reason })).rejects.toThrow(
      "coil 90001: no rule of QW 100 leaves a test open",
    );
    await lab.remove();
    // A late correction makes 3 turns of what was printed: its rule allows a retest of two pieces.
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    const edit = (rows: Rows): void => change(rows.torsion, "90002-T1", { turns: 3, correctionReason: "misread" });
    await lab.take("b.xlsx", book(plan(), { testsOnly: true, edit }));
    const notice = await decideNotice(lab.workshop, "2026-00002", { decision: "retest", ...reason });
    expect([notice.status, notice.decisions?.[0]?.decision]).toEqual(["decided", "retest"]);
    await expect(closeNotice(lab.workshop, "2026-00002", reason)).rejects.toThrow("document 2026-00001 is still in question");
  });

  it("of a coil that does not conform is not released", async () => {
    await failing();
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "release", ...reason })).rejects.toThrow("coil 90001 does not conform");
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "scrap", coils: ["90002"], ...reason })).rejects.toThrow(
      "coil 90002 is not one of notice 2026-00001",
    );
    await expect(decideNotice(lab.workshop, NOTICE, { decision: "concession", ...reason })).rejects.toThrow("--reference is missing");
  });
});

describe("a concession", () => {
  it("lets the coil on a document, which says so", async () => {
    await failing();
    await expect(certificateFor("90001")).rejects.toThrow(/Coil 90001: diameter does-not-conform/);
    await containNotice(lab.workshop, NOTICE, reason);
    await decideNotice(lab.workshop, NOTICE, { decision: "concession", reference: "BF 77", until: "2026-04-01", ...reason });
    const record = await certificateFor("90001", "90002");
    expect(record.notes.filter((note) => note.kind === "concession").map((note) => [note.coil, note.property, note.reference])).toEqual(
      record.requirements
        .filter((_, i) => record.rows[0]?.cells[i]?.outcome === "does-not-conform")
        .map(({ property }) => ["90001", property, "BF 77, 2026-04-01"]),
    );
    await ship(lab.workshop, { order: "T-001", coils: ["90001"], note: "L-1", by: QUALITY });
    expect(await register()).toContain("left on L-1 (2026-03-03)");
  });

  it("is only for what does not conform, and is not given for days that are over", async () => {
    await failing();
    await expect(concede(lab.workshop, { coils: ["90002"], reference: "BF 77", ...reason })).rejects.toThrow(
      "coil 90002: no property fails",
    );
    await expect(concede(lab.workshop, { coils: ["90001"], reference: "BF 77", until: "2026-03-02", ...reason })).rejects.toThrow(
      "a concession until 2026-03-02 is over already",
    );
  });
});

describe("the register", () => {
  it("says what is held, what waits and what may go, and ends with the last fact", async () => {
    await failing();
    await containNotice(lab.workshop, NOTICE, { why: "set aside", by: QUALITY });
    await certificateFor("90002");
    const page = await register();
    expect(page).toContain("▨</td><td>90001</td><td>held since 2026-03-03 by Ada Thornquist: set aside.");
    expect(page).toContain("■</td><td>90002</td><td>may go</td>");
    expect(page).toContain("■</td><td>90003</td><td>conforms; its document is not written yet</td>");
    const last = (await lab.workshop.ledger.facts()).at(-1);
    expect(page).toContain(`Last fact of the ledger: ${last?.seq} ${last?.hash}`);
  });
});
