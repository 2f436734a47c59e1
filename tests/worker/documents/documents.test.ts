/**
 * Life of documents and notices. Types and their signatures: EN 10204 as the contract takes it (sections 4 and 8); orders, coils and
 * readings are of the invented mill.
 */
import { existsSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import type { CertificateRecord } from "../../../templates/certificate/record.ts";
import { OWN_SPECIFICATION, QUALITY } from "../../../templates/example/scenario.ts";
import type { NoticeRecord } from "../../../templates/notice/record.ts";
import { type DocumentState, draftCertificate, issueContext, signDocument } from "../../../worker/documents/life.ts";
import { RuleRefusal } from "../../../worker/errors.ts";
import { sha256 } from "../../../worker/files.ts";
import { judgeItems } from "../../../worker/judge-lab.ts";
import { judgeUnder } from "../../../worker/process-file.ts";
import { createEmbeddedQueue } from "../../../worker/queue/embedded-queue.ts";
import { gaveUpOf, handlersOf } from "../../../worker/queue/handlers.ts";
import { addPerson, putCustomer, requirePerson } from "../../../worker/registers.ts";
import { createRenderer, type DocumentRenderer } from "../../../worker/rendering/index.ts";
import { adopt, book, change, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
afterEach(() => lab.remove());

const sign = (id: string, by: string = QUALITY): Promise<DocumentState> =>
  lab.workshop.ledger.transaction(by, async (tx) => signDocument(tx, id, await requirePerson(tx, by, []), issueContext(lab.workshop)));
const only = async (kind: DocumentState["kind"] = "certificate"): Promise<DocumentState> => {
  const found = await lab.documents(kind);
  expect(found.length).toBe(1);
  return found[0] as DocumentState;
};
const outbox = async (): Promise<readonly string[]> =>
  (await lab.workshop.ledger.database.selectFrom("outbox").select("key").orderBy("id").execute()).map((row) => row.key);
const numbers = async (): Promise<readonly string[]> => (await lab.documents()).flatMap((d) => d.number ?? []).sort();
const threeOne = plan({ documentType: "3.1" });

describe("types 2.1 and 2.2", () => {
  it.each(["2.1", "2.2"] as const)(
    "%s is drafted, signed under the person of the settings and asked for in the same run",
    async (documentType) => {
      lab = await testLab();
      await lab.take("a.xlsx", book(plan({ documentType })));
      const document = await only();
      expect(document).toMatchObject({ status: "signed", number: "2026-00001", issuedOn: "2026-03-03", signedBy: ["Ivo Marlstone"] });
      expect(document.coils).toEqual(["90001", "90002", "90003"]);
      expect(await outbox()).toContain(`render|${document.id}|xlsx`);
      expect((document.record as CertificateRecord).requirements.length > 0).toBe(documentType === "2.2");
    },
  );

  it("are issued on limits that are not adopted, and say so", async () => {
    lab = await testLab({}, false);
    await lab.take("a.xlsx", book(plan()));
    const document = await only();
    expect(document.status).toBe("signed");
    expect((document.record as CertificateRecord).notes).toContainEqual({ kind: "not-adopted", specification: "QW 100:2026" });
  });

  it("stay drafts without a signer, or where he is not registered", async () => {
    lab = await testLab();
    const documents = { ...lab.workshop.lab.settings.documents };
    await lab.reopen({ documents: { ...documents, signer: "" } });
    await lab.take("a.xlsx", book(plan()));
    expect((await only()).status).toBe("draft");
    await lab.reopen({ documents: { ...documents, signer: "Nobody Known" } });
    await lab.take("b.xlsx", book(plan({ order: "T-002", firstCoil: 91_001, heat: "H2" })));
    expect((await lab.documents()).map((d) => d.status)).toEqual(["draft", "draft"]);
  });

  it("are not made by themselves where the setting says so, nor while a coil is open", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan(), { stories: ["conforming", "untested"] }));
    expect(await lab.documents()).toEqual([]);
    await lab.reopen({ documents: { ...lab.workshop.lab.settings.documents, automatic: false } });
    await lab.take("b.xlsx", book(plan()));
    expect(await lab.documents()).toEqual([]);
  });
});

describe("type 3.1", () => {
  it("waits for a signature", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    expect([draft.status, draft.number]).toEqual(["draft", undefined]);
    expect((await outbox()).filter((key) => key.startsWith("render"))).toEqual([]);
    expect(await sign(draft.id)).toMatchObject({ status: "signed", number: "2026-00001", signedBy: [QUALITY] });
    expect(await outbox()).toContain(`render|${draft.id}|xlsx`);
    await expect(sign(draft.id)).rejects.toThrow("is signed already as 2026-00001");
    expect(await numbers()).toEqual(["2026-00001"]);
  });

  it.each([
    { who: "a clerk", by: "Wren Hollis", text: /has the roles clerk; a 3\.1 document is signed by quality/ },
    { who: "nobody", by: "Nobody Known", text: /is not registered/ },
  ])("is not signed by $who", async ({ by, text }) => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    await expect(sign((await only()).id, by)).rejects.toThrow(text);
  });

  it("is not signed by who tested, even with the role", async () => {
    lab = await testLab();
    await addPerson(lab.workshop.ledger, { name: "Bo Ferrant", roles: ["quality"] }, QUALITY);
    await lab.take("a.xlsx", book(threeOne));
    await expect(sign((await only()).id, "Bo Ferrant")).rejects.toThrow(/Bo Ferrant tested coil 90001/);
  });

  it("is never issued on limits that are not adopted, and is once a person adopted them", async () => {
    lab = await testLab({}, false);
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    await expect(sign(draft.id)).rejects.toThrow(/limits of QW 100:2026 are not adopted/);
    await adopt(lab.workshop);
    // The old draft speaks of limits that are not adopted: it is replaced, not signed.
    await expect(sign(draft.id)).rejects.toThrow(/What it says has changed since it was drafted: .*notes/);
    await lab.workshop.ledger.transaction(QUALITY, (tx) => judgeUnder(lab.workshop, tx, "QW 100", "2026"));
    const next = await only();
    expect(next.id).not.toBe(draft.id);
    await expect(sign(draft.id)).rejects.toThrow(/no longer stands\. What it says has changed/);
    expect((await sign(next.id)).number).toBe("2026-00001");
  });
});

describe("type 3.2", () => {
  it("wants two people of the role quality, and numbers once", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan({ documentType: "3.2" as "3.1" })));
    const { id } = await only();
    expect((await sign(id, QUALITY)).number).toBeUndefined();
    await expect(sign(id, QUALITY)).rejects.toThrow(/has signed already; a 3\.2 document wants two parties/);
    expect(await sign(id, "Ivo Marlstone")).toMatchObject({ number: "2026-00001", signedBy: [QUALITY, "Ivo Marlstone"] });
  });
});

describe("at the moment of signing", () => {
  const correction = book(threeOne, {
    testsOnly: true,
    edit: (rows) => change(rows.torsion, "90002-T1", { turns: 3, correctionReason: "misread" }),
  });

  it("a draft whose coil failed meanwhile is refused with the reason", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    await lab.take("correction.xlsx", correction);
    await expect(sign(draft.id)).rejects.toThrow(/draft T-001_10\.[0-9a-f]+: no longer stands\. Coil 90002: torsion retest-due/);
    expect(await lab.documents()).toEqual([]);
  });

  it("a draft is judged again, although nothing was dropped: a specification that changed on the disk", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    const tables = OWN_SPECIFICATION.tables.map((table) =>
      table.property === "torsion" ? { ...table, rows: table.rows.map((row) => ({ ...row, min: "60" })) } : table,
    );
    await lab.reopen({}, { ...OWN_SPECIFICATION, tables });
    await expect(sign(draft.id)).rejects.toThrow(/Coil 90001: torsion retest-due/);
    await lab.reopen({}, OWN_SPECIFICATION);
    expect((await sign(draft.id)).status).toBe("signed");
  });

  it("a draft whose content changed is refused, names what, and can be made anew", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    await putCustomer(lab.workshop.ledger, { name: "Brindlefoot Springs", email: [], address: ["9 Other Road"] }, QUALITY);
    await expect(sign(draft.id)).rejects.toThrow(RuleRefusal);
    await expect(sign(draft.id)).rejects.toThrow(
      /changed since it was drafted: customer\. "coilbook certificate T-001 --item 10 --coils 90001 90002 90003"/,
    );
    const next = await lab.workshop.ledger.transaction("command line", async (tx) => {
      const context = issueContext(lab.workshop);
      const [verdict] = (await judgeItems(tx, ["T-001/10"], context.judging)).orders;
      const order = await tx.get<Parameters<typeof draftCertificate>[1]>("order", "T-001/10");
      if (verdict === undefined || order === undefined) throw new Error("no order");
      return draftCertificate(tx, order, verdict, draft.coils, context);
    });
    expect((await only()).id).toBe(next.id);
    expect((await sign(next.id)).number).toBe("2026-00001");
  });

  it("a coil's corrected reading that still conforms makes a new draft by itself", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const draft = await only();
    await lab.take(
      "correction.xlsx",
      book(threeOne, { testsOnly: true, edit: (rows) => change(rows.torsion, "90002-T1", { turns: 40, correctionReason: "misread" }) }),
    );
    const next = await only();
    expect(next.id).not.toBe(draft.id);
    await expect(sign(draft.id)).rejects.toThrow(/the rows of coils 90002/);
    expect((await sign(next.id)).status).toBe("signed");
  });
});

describe("content", () => {
  it("that is equal never gives a second document; later coils give a new draft", async () => {
    lab = await testLab();
    const whole = plan({ coils: 4 });
    const two = plan({ coils: 2 });
    await lab.take("first.xlsx", book(two));
    expect(await numbers()).toEqual(["2026-00001"]);
    await lab.take("again.xlsx", book(two, { testsOnly: true }));
    expect(await numbers()).toEqual(["2026-00001"]);
    await lab.take("later.xlsx", book(whole));
    const documents = (await lab.documents()).map((d) => [d.number, d.coils]);
    expect(documents.sort()).toEqual([
      ["2026-00001", ["90001", "90002"]],
      ["2026-00002", ["90003", "90004"]],
    ]);
  });
});

describe("numbers", () => {
  const pattern = (numberPattern: string) => ({ documents: { ...lab.workshop.lab.settings.documents, numberPattern } });
  let at = 0;
  const next = async (): Promise<string> => {
    at += 1;
    await lab.take(`${at}.xlsx`, book(plan({ order: `N-${at}`, heat: `H${at}`, firstCoil: 50_000 + 100 * at })));
    return (await lab.documents()).find((d) => d.owner === `N-${at}/10`)?.number ?? "";
  };

  it("begin again each year only where the pattern names the year", async () => {
    lab = await testLab();
    expect([await next(), await next()]).toEqual(["2026-00001", "2026-00002"]);
    lab.clock.at = Date.parse("2027-01-04T09:00:00Z");
    expect(await next()).toBe("2027-00001");
    await lab.reopen(pattern("C{number:4}"));
    expect(await next()).toBe("C0001");
    lab.clock.at = Date.parse("2028-01-04T09:00:00Z");
    expect(await next()).toBe("C0002");
  });

  it("are unique across patterns that give the same text", async () => {
    lab = await testLab();
    expect([await next(), await next()]).toEqual(["2026-00001", "2026-00002"]);
    await lab.reopen(pattern("2026-0000{number:1}"));
    expect(await next()).toBe("2026-00003");
  });

  it("follow the lab's own calendar", async () => {
    lab = await testLab({ timeZone: "Pacific/Auckland" });
    lab.clock.at = Date.parse("2026-12-31T12:00:00Z");
    expect(await next()).toBe("2027-00001");
  });

  it("of a signature that was rolled back are given again, once", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(threeOne));
    const { id } = await only();
    const failing = lab.workshop.ledger.transaction(QUALITY, async (tx) => {
      const signed = await signDocument(tx, id, await requirePerson(tx, QUALITY, []), issueContext(lab.workshop));
      expect(signed.number).toBe("2026-00001");
      throw new Error("the power goes");
    });
    await expect(failing).rejects.toThrow("the power goes");
    expect(await numbers()).toEqual([]);
    expect((await outbox()).filter((key) => key.startsWith("render"))).toEqual([]);
    expect((await sign(id)).number).toBe("2026-00001");
    // A document that stands keeps its number whatever becomes of its files; the next gets another.
    expect(await next()).toBe("2026-00002");
    expect(await numbers()).toEqual(["2026-00001", "2026-00002"]);
  });
});

describe("notices", () => {
  const failing = plan({ coils: 3 });
  const book1 = book(failing, { stories: ["conforming", "diameter-out"] });
  const failures = async (): Promise<readonly (readonly string[])[]> =>
    [...(await lab.documents("notice"))]
      .sort((a, b) => ((a.number ?? "") < (b.number ?? "") ? -1 : 1))
      .map((d) => (d.record as NoticeRecord).findings.map((f) => `${f.coil} ${f.property} ${f.testPiece}`));

  it("are raised at the first failure, numbered in the one series, and never again for it", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book1);
    expect(await failures()).toEqual([["90002 diameter 90002-D1"]]);
    expect((await only("notice")).number).toBe("2026-00001");
    await lab.take("a.xlsx", book1);
    await lab.take("renamed.xlsx", book1);
    await lab.take("grown.xlsx", book(failing, { stories: ["conforming", "diameter-out"], testsOnly: true }));
    expect(await failures()).toEqual([["90002 diameter 90002-D1"]]);
  });

  it("are raised again where another piece of the same coil fails the same property", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book1);
    const second = book(failing, {
      stories: ["conforming", "diameter-out"],
      testsOnly: true,
      edit: (rows) => {
        const first = rows.diameter.find((row) => row["testPiece"] === "90002-D1");
        rows.diameter.push({ ...first, testPiece: "90002-D2" });
      },
    });
    await lab.take("b.xlsx", second);
    await lab.take("b again.xlsx", second);
    expect(await failures()).toEqual([["90002 diameter 90002-D1"], ["90002 diameter 90002-D1", "90002 diameter 90002-D2"]]);
  });

  it("and certificates share one series", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book1);
    await lab.take("b.xlsx", book(plan({ order: "T-002", heat: "H2", firstCoil: 91_001 })));
    expect((await lab.documents()).map((d) => [d.kind, d.number]).sort()).toEqual([
      ["certificate", "2026-00002"],
      ["notice", "2026-00001"],
    ]);
  });
});

describe("files", () => {
  const run = async (render: DocumentRenderer["render"], turns: number): Promise<void> => {
    const queue = createEmbeddedQueue(lab.workshop.ledger.database, lab.clock, { session: lab.workshop.ledger.session });
    const handlers = handlersOf(lab.workshop, { render, close: () => Promise.resolve() });
    await queue.revive();
    for (let i = 0; i < turns; i += 1) {
      await queue.runDue(handlers, 1, gaveUpOf(lab.workshop));
      lab.clock.at += 10_000;
    }
  };
  // Tables need no browser.
  const tables = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });

  it("given up leave the number, the reason and a fact; the next run makes good", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await run(() => Promise.reject(new Error("no browser was found")), 6);
    expect(await only()).toMatchObject({ status: "failed", number: "2026-00001", failed: { xlsx: "no browser was found" } });
    const given = await lab.workshop.ledger.facts({ kinds: ["document-failed"] });
    expect(given.map((fact) => fact.payload)).toEqual([{ format: "xlsx", reason: "no browser was found" }]);
    expect(readdirSync(join(lab.folder, "documents"), { recursive: true })).toEqual([]);
    await run(tables.render, 1);
    const made = await only();
    expect(made).toMatchObject({ status: "signed", number: "2026-00001", failed: {} });
    expect(readdirSync(join(lab.folder, "documents"), { recursive: true }).sort()).toEqual(["T-001", "T-001/2026-00001.xlsx"]);
    expect(sha256(readFileSync(join(lab.folder, "documents", made.written?.["xlsx"]?.path ?? "")))).toBe(made.written?.["xlsx"]?.sha256);
    expect(await lab.workshop.ledger.audit()).toEqual([]);
  });

  it("are not made again where they stand as issued, and are where they are gone", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    let renders = 0;
    const render: DocumentRenderer["render"] = (...given) => {
      renders += 1;
      return tables.render(...given);
    };
    await run(render, 1);
    const document = await only();
    const handlers = handlersOf(lab.workshop, { render, close: () => Promise.resolve() });
    const again = () => handlers["render-document"]({ document: document.id, format: "xlsx" });
    await again();
    expect(renders).toBe(1);
    const path = join(lab.folder, "documents", document.written?.["xlsx"]?.path ?? "");
    rmSync(path);
    await again();
    expect([renders, existsSync(path)]).toEqual([2, true]);
    expect((await lab.workshop.ledger.facts({ kinds: ["document-written"] })).length).toBe(1);
  });
});
