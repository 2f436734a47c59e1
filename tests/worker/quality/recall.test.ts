/** Recalls on whole labs. The margins are worked by hand; orders, coils and readings are of the invented mill. */
import { afterEach, describe, expect, it } from "vitest";
import { parseInstrumentError } from "../../../core/quality/instrument-error.ts";
import { QUALITY } from "../../../templates/example/scenario.ts";
import { type Extent, type ExtentQuestion, extentOf } from "../../../worker/quality/extent.ts";
import { ship } from "../../../worker/quality/wire.ts";
import { book, change, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
afterEach(() => lab.remove());

/** Force on 2.00 mm for a strength that lies `margin` above the minimum of 1800 MPa. */
const forceFor = (margin: number): number => Number((1800 * (1 + margin) * Math.PI).toFixed(1));
const withMargins = (margins: readonly number[]): Uint8Array =>
  book(plan(), {
    edit: (rows) => {
      margins.forEach((margin, i) => {
        const fields = { diameter: 2, maximumForce: forceFor(margin), diameterInstrument: "MIC-1" };
        change(rows.tensile, `9000${i + 1}-S1`, fields);
      });
    },
  });
const error = (text: string): Pick<ExtentQuestion, "error"> => ({
  error: parseInstrumentError(text) as NonNullable<ExtentQuestion["error"]>,
});
const named = ({ coils, here, shipped, documentSent }: Extent): object => ({
  coils: coils.map((c) => c.coil),
  here,
  shipped,
  documentSent,
});
const sendTo = (to: string): Promise<unknown> =>
  lab.workshop.ledger.transaction("command line", (tx) =>
    tx.append({
      kind: "mail-changed",
      key: `2026-00001|${to}`,
      payload: { number: "2026-00001", to, status: "sent", messageId: "<a@b.example>" },
    }),
  );

describe("three coils 0.5, 1.0 and 2.0 % above the minimum", () => {
  it.each([
    // 1809/1.008 = 1794.6, 1818/1.008 = 1803.6, 1836/1.008 = 1821.4: only the first is below 1800.
    { text: "+0.8 %", turned: ["90001"] },
    // 1818/1.02 = 1782.4, 1836/1.02 = 1800: on the limit.
    { text: "+2 %", turned: ["90001", "90002"] },
    // 1836/1.021 = 1798.2
    { text: "+2.1 %", turned: ["90001", "90002", "90003"] },
    { text: "-0.8 %", turned: [] },
    { text: "+0.3 %", turned: [] },
  ])("a tester that reads $text wrong turns $turned", async ({ text, turned }) => {
    lab = await testLab();
    await lab.take("a.xlsx", withMargins([0.005, 0.01, 0.02]));
    const before = await lab.factCount();
    const found = await extentOf(lab.workshop, { scope: "instrument", id: "TM-1", ...error(text) });
    expect(named(found)).toEqual({ coils: turned, here: turned, shipped: [], documentSent: [] });
    expect(found.from).toBe("2025-11-02");
    expect(await lab.factCount()).toBe(before);
    expect((await lab.documents()).map((d) => d.status)).toEqual(["signed"]);
  });

  it("says what turned, and parts what is here from what left and from what was told to the customer", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", withMargins([0.005, 0.01, 0.02]));
    await ship(lab.workshop, { order: "T-001", coils: ["90002"], note: "L-9", by: QUALITY });
    await sendTo("goods-in@brindlefoot.example");
    const found = await extentOf(lab.workshop, { scope: "instrument", id: "TM-1", ...error("+2 %") });
    expect(named(found)).toEqual({
      coils: ["90001", "90002"],
      here: ["90001"],
      shipped: ["90002"],
      documentSent: ["90001", "90002"],
    });
    expect(found.coils[0]).toMatchObject({
      coil: "90001",
      order: "T-001",
      verdict: "conforms",
      documents: [{ number: "2026-00001", status: "signed", sentTo: ["goods-in@brindlefoot.example"] }],
      // 1809 / 1.02 = 1773.5, to the even 1774
      turns: [
        {
          property: "tensile-strength",
          before: "conforms",
          now: "retest-due",
          results: [{ testPiece: "90001-S1", before: "1809", now: "1774" }],
        },
      ],
    });
    expect(found.coils[1]?.shipped).toEqual({ note: "L-9", on: "2026-03-03" });
  });

  it("the micrometer behind a tensile result is followed too", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", withMargins([0.005, 0.01, 0.02]));
    // It reads 0.5 % small: the area is 1.0 % larger, the strength 1.0 % lower: 1809 -> 1791, 1818 -> 1799.9, 1836 -> 1818.
    const found = await extentOf(lab.workshop, { scope: "instrument", id: "MIC-1", ...error("-0.5 %") });
    const strength = found.coils.filter((c) => c.turns?.some((turn) => turn.property === "tensile-strength"));
    expect(strength.map((c) => c.coil)).toEqual(["90001"]);
  });
});

describe("without an error everything that was touched is named", () => {
  it("by instrument, in its window", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    const all = ["90001", "90002", "90003"];
    expect(named(await extentOf(lab.workshop, { scope: "instrument", id: "TT-1" }))).toMatchObject({ coils: all, here: all });
    expect((await extentOf(lab.workshop, { scope: "instrument", id: "TT-1", from: "2026-03-04" })).coils).toEqual([]);
    expect((await extentOf(lab.workshop, { scope: "instrument", id: "TT-1", to: "2026-03-02" })).coils).toEqual([]);
    expect((await extentOf(lab.workshop, { scope: "instrument", id: "TT-1", to: "2026-03-03" })).coils.length).toBe(3);
    expect((await extentOf(lab.workshop, { scope: "instrument", id: "TT-1" })).coils[0]?.tests).toEqual([
      { sheet: "Torsion", testPiece: "90001-T1", date: "2026-03-03" },
    ]);
    await expect(extentOf(lab.workshop, { scope: "instrument", id: "TX-9" })).rejects.toThrow("instrument TX-9 is not known");
  });

  it("by heat, and by coil with its mother and daughters", async () => {
    lab = await testLab();
    await lab.take("a.xlsx", book(plan()));
    await lab.take("b.xlsx", book(plan({ order: "T-002", firstCoil: 91_001, heat: "H2" })));
    expect(named(await extentOf(lab.workshop, { scope: "heat", id: "H2" }))).toMatchObject({ coils: ["91001", "91002", "91003"] });
    await lab.workshop.ledger.transaction(QUALITY, async (tx) => {
      for (const coil of ["90001", "91002"])
        await tx.append({
          kind: "coil-registered",
          key: coil,
          payload: { ...((await tx.get<object>("coil", coil)) ?? {}), motherCoil: "M-7" },
        });
    });
    const family = ["90001", "91002"];
    for (const id of ["M-7", ...family])
      expect(named(await extentOf(lab.workshop, { scope: "coil", id }))).toMatchObject({ coils: family });
    expect(named(await extentOf(lab.workshop, { scope: "coil", id: "90002" }))).toMatchObject({ coils: ["90002"] });
    await expect(extentOf(lab.workshop, { scope: "coil", id: "1" })).rejects.toThrow("coil 1 is not known");
  });
});
