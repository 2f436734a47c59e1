/**
 * Every command that decides x every role: allowed, or refused for the role alone. Clauses are from memory; a dash stands where no
 * standard asks for the role (common practice, no source).
 */
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { COMMAND_RULES, type RuledCommand } from "../../../core/quality/roles.ts";
import { QUALITY } from "../../../templates/example/scenario.ts";
import { amendDocument, confirmDocument, withdrawDocument } from "../../../worker/documents/changes.ts";
import { RuleRefusal } from "../../../worker/errors.ts";
import { closeNotice, containNotice, decideNotice } from "../../../worker/quality/notice-life.ts";
import { concede, hold, release, ship } from "../../../worker/quality/wire.ts";
import { addInstrumentRange, addPerson, putCustomer, ROLES } from "../../../worker/registers.ts";
import type { Workshop } from "../../../worker/workshop.ts";
import { book, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
beforeAll(async () => {
  lab = await testLab();
  for (const role of ROLES) await addPerson(lab.workshop.ledger, { name: role, roles: [role] }, QUALITY);
  await lab.take("a.xlsx", book(plan(), { stories: ["strength-below"] }));
});
afterAll(() => lab.remove());

const why = "role table";
type Attempt = (workshop: Workshop, by: string) => Promise<unknown>;
// Each with something that another rule refuses or that harms no other row, so that only the role is looked at.
const ATTEMPTS: Readonly<Record<Exclude<RuledCommand, "settle">, Attempt>> = {
  hold: (w, by) => hold(w, { scope: "coil", id: "unknown" }, { why, by }),
  release: (w, by) => release(w, { scope: "coil", id: "90002" }, { why, by }),
  concession: (w, by) => concede(w, { coils: ["90002"], reference: "R", why, by }),
  ship: (w, by) => ship(w, { order: "T-001", coils: ["90001"], note: "N", by }),
  confirm: (w, by) => confirmDocument(w, "none", { why, by }),
  amend: (w, by) => amendDocument(w, "none", { why, by }),
  withdraw: (w, by) => withdrawDocument(w, "none", { why, by }),
  "notice contain": (w, by) => containNotice(w, "none", { why, by }),
  "notice decide": (w, by) => decideNotice(w, "none", { decision: "scrap", why, by }),
  "notice close": (w, by) => closeNotice(w, "none", { why, by }),
  "person add": (w, by) => addPerson(w.ledger, { name: "New Person", roles: ["bench"] }, by),
  "customer add": (w, by) => putCustomer(w.ledger, { name: "New Customer", email: [], address: [] }, by),
  "instrument add": (w, by) => addInstrumentRange(w.ledger, { instrument: "NEW-1" }, by),
};

const TABLE = [
  { command: "hold", allowed: ["bench", "clerk", "quality"], clause: "ISO/IEC 17025 7.10.1" },
  { command: "release", allowed: ["quality"], clause: "ISO 9001 8.7.2" },
  { command: "concession", allowed: ["quality"], clause: "ISO 9001 8.7.2" },
  { command: "ship", allowed: ["clerk", "sales", "quality"], clause: "ISO 9001 8.6" },
  { command: "confirm", allowed: ["quality"], clause: "ISO/IEC 17025 7.10.1" },
  { command: "amend", allowed: ["quality"], clause: "ISO/IEC 17025 7.8.8" },
  { command: "withdraw", allowed: ["quality"], clause: "ISO/IEC 17025 7.8.8" },
  { command: "notice contain", allowed: ["bench", "clerk", "quality"], clause: "ISO 9001 8.7.1" },
  { command: "notice decide", allowed: ["quality"], clause: "ISO 9001 8.7.2" },
  { command: "notice close", allowed: ["quality"], clause: "ISO 9001 10.2" },
  { command: "person add", allowed: ["quality", "admin"], clause: "ISO/IEC 17025 6.2.5" },
  { command: "customer add", allowed: ["sales", "quality", "admin"], clause: "-" },
  { command: "instrument add", allowed: ["quality", "admin"], clause: "ISO/IEC 17025 6.4.13" },
] as const;

describe.each(TABLE)("$command ($clause)", ({ command, allowed, clause }) => {
  it.each(ROLES)("%s", async (role) => {
    const refused = await ATTEMPTS[command](lab.workshop, role).then(
      () => undefined,
      (error: unknown) => error as Error,
    );
    const forTheRole = refused instanceof RuleRefusal && /has the roles .*; this needs/.test(refused.message);
    expect(forTheRole).toBe(!(allowed as readonly string[]).includes(role));
    if (forTheRole) expect(refused.exitCode).toBe(3);
  });
  it("is refused to somebody who is not registered", async () => {
    await expect(ATTEMPTS[command](lab.workshop, "Nobody Known")).rejects.toThrow("Nobody Known is not registered");
  });
  it("names the clause it is asked by", () => {
    const rule = COMMAND_RULES[command];
    expect("clause" in rule ? rule.clause : "-").toBe(clause);
  });
});

it("no command is left out but settle, whose refusals stand with the command line", () => {
  expect(Object.keys(COMMAND_RULES).filter((name) => !TABLE.some((row) => row.command === name))).toEqual(["settle"]);
});

it.each([
  { who: "from", days: { from: "2026-03-04" }, text: "is appointed from 2026-03-04 on; today is 2026-03-03" },
  { who: "until", days: { until: "2026-03-02" }, text: "was appointed until 2026-03-02; today is 2026-03-03" },
])("a person decides nothing outside the days of the appointment: $who", async ({ who, days, text }) => {
  const name = `Person ${who}`;
  await addPerson(lab.workshop.ledger, { name, roles: ["quality"], ...days }, QUALITY);
  await expect(ATTEMPTS.hold(lab.workshop, name)).rejects.toThrow(text);
  await expect(ATTEMPTS["notice close"](lab.workshop, name)).rejects.toThrow(text);
  await expect(ATTEMPTS.withdraw(lab.workshop, name)).rejects.toThrow(text);
});
it("the days themselves count", async () => {
  await addPerson(lab.workshop.ledger, { name: "Person today", roles: ["quality"], from: "2026-03-03", until: "2026-03-03" }, QUALITY);
  await expect(ATTEMPTS.hold(lab.workshop, "Person today")).rejects.toThrow("coil unknown: is not known");
});
