/** A notice from failure to closed: contained, decided coil by coil, answered, closed; each step by a named person. */

import type { Coil, OrderItem, OrderVerdict } from "../../core/model.ts";
import { COMMAND_RULES } from "../../core/quality/roles.ts";
import { type RegradeCandidate, regradeSearch } from "../../core/regrade/index.ts";
import type { DocumentState } from "../documents/life.ts";
import type { Decision, NoticeState } from "../documents/notices.ts";
import { RuleRefusal, UsageError } from "../errors.ts";
import { loadJudgementInput } from "../judge-lab.ts";
import type { LedgerReader, LedgerTransaction } from "../ports/ledger.ts";
import { requirePerson } from "../registers.ts";
import type { Workshop } from "../workshop.ts";
import { type Hold, holdKey } from "./standing.ts";
import { concedeWithin, judgeAgain, type Reason } from "./wire.ts";

export const DECISIONS = ["scrap", "concession", "regrade", "retest", "return", "release"] as const;

/** @throws UsageError where no notice of that number was raised */
export async function noticeOf(reader: LedgerReader, number: string): Promise<NoticeState> {
  const notice = await reader.get<NoticeState>("notice", number);
  if (notice === undefined) throw new UsageError(`notice ${number}: is not known; "coilbook notice list" names what is`);
  return notice;
}

async function openNotice(reader: LedgerReader, number: string): Promise<NoticeState> {
  const notice = await noticeOf(reader, number);
  if (notice.closed !== undefined) throw new RuleRefusal(`notice ${number} was closed on ${notice.closed.on} by ${notice.closed.by}`);
  return notice;
}

function coilsOf(notice: NoticeState, wanted: readonly string[] | undefined): readonly string[] {
  const strange = wanted?.find((coil) => !notice.coils.includes(coil));
  if (strange !== undefined)
    throw new RuleRefusal(`coil ${strange} is not one of notice ${notice.number}; it names ${notice.coils.join(", ")}`);
  return wanted ?? notice.coils;
}

/** Stops the wire until something is decided. Coils held already stay as they are. @source ISO 9001:2015, 8.7.1 (memory) */
export async function containNotice(
  workshop: Workshop,
  number: string,
  { why, by }: Reason,
  wanted?: readonly string[],
): Promise<NoticeState> {
  return workshop.ledger.transaction(by, async (tx) => {
    const person = await requirePerson(tx, by, COMMAND_RULES["notice contain"].roles, workshop.today());
    const notice = await openNotice(tx, number);
    if (notice.contained !== undefined)
      throw new RuleRefusal(`notice ${number} was contained on ${notice.contained.on} by ${notice.contained.by}`);
    const coils = coilsOf(notice, wanted);
    const on = workshop.today();
    for (const id of coils) {
      if ((await tx.get<Hold>("hold", holdKey("coil", id))) !== undefined) continue;
      const held: Hold = { scope: "coil", id, why, by: person.name, on, notice: number };
      await tx.append({ kind: "held", key: holdKey("coil", id), payload: held });
    }
    const contained = { coils, why, by: person.name, on };
    await tx.append({ kind: "notice-changed", key: number, payload: { status: "contained", contained } });
    return noticeOf(tx, number);
  });
}

export interface DecisionWish extends Reason {
  readonly decision: Decision["decision"];
  readonly coils?: readonly string[];
  /** Of a concession. */
  readonly reference?: string;
  readonly until?: string;
  /** Of a regrade: "specification" or "specification grade". */
  readonly to?: string;
  /** `YYYY-MM-DD` */
  readonly answerBy?: string;
}

/** What becomes of coils. A later decision on the same coil stands before an earlier one. */
export async function decideNotice(workshop: Workshop, number: string, wish: DecisionWish): Promise<NoticeState> {
  return workshop.ledger.transaction(wish.by, async (tx) => {
    const person = await requirePerson(tx, wish.by, COMMAND_RULES["notice decide"].roles, workshop.today());
    const notice = await openNotice(tx, number);
    const coils = coilsOf(notice, wish.coils);
    const on = workshop.today();
    const decision: Decision = {
      ...{ decision: wish.decision, coils, why: wish.why, by: person.name, on },
      ...(await particulars(workshop, tx, notice, coils, wish)),
    };
    const decisions = [...(notice.decisions ?? []), decision];
    const decided = new Set(decisions.flatMap((d) => d.coils));
    const status = notice.coils.every((coil) => decided.has(coil)) ? "decided" : notice.contained === undefined ? undefined : "contained";
    const payload = {
      decisions,
      ...(status === undefined ? {} : { status }),
      ...(wish.answerBy === undefined ? {} : { answerBy: wish.answerBy }),
    };
    await tx.append({ kind: "notice-changed", key: number, payload });
    await endContainment(tx, number, decision);
    await judgeAgain(workshop, tx, [notice.owner]);
    return noticeOf(tx, number);
  });
}

/** Wire that is accepted again is free; what is to go, or to be tested again, stays where it is. */
async function endContainment(tx: LedgerTransaction, number: string, { decision, coils, why, by, on }: Decision): Promise<void> {
  if (decision !== "concession" && decision !== "release") return;
  for (const id of coils) {
    const held = await tx.get<Hold>("hold", holdKey("coil", id));
    if (held?.notice === number)
      await tx.append({ kind: "released", key: holdKey("coil", id), payload: { scope: "coil", id, why, by, on } });
  }
}

async function particulars(
  workshop: Workshop,
  tx: LedgerTransaction,
  notice: NoticeState,
  coils: readonly string[],
  wish: DecisionWish,
): Promise<Partial<Decision>> {
  if (wish.decision === "concession") {
    if (wish.reference === undefined) throw new UsageError("--reference is missing: a concession names the customer's own reference");
    const until = wish.until === undefined ? {} : { until: wish.until };
    await concedeWithin(workshop, tx, { coils, reference: wish.reference, why: wish.why, by: wish.by, ...until });
    return { reference: wish.reference };
  }
  if (wish.decision === "regrade") {
    if (wish.to === undefined)
      throw new UsageError('--to is missing: a regrade names a specification and grade, as "notice show" lists them');
    return { regrade: await regradeTo(workshop, tx, notice, coils, wish.to) };
  }
  if (wish.decision === "retest") await demandRetest(tx, notice, coils);
  if (wish.decision === "release") {
    const failing = await failingCoils(tx, notice, coils);
    if (failing.length > 0)
      throw new RuleRefusal(`coil ${failing.join(", ")} does not conform; accepted are scrap, concession, regrade, retest and return`);
  }
  return {};
}

/** Wire is not tested until it passes: only what the specification's own rule leaves open is tested again. */
async function demandRetest(reader: LedgerReader, notice: NoticeState, coils: readonly string[]): Promise<void> {
  const kept = await reader.get<{ verdict: OrderVerdict }>("verdict", notice.owner);
  for (const name of coils) {
    const steps = kept?.verdict.coils.find((coil) => coil.coil === name)?.requirements.flatMap(({ next }) => next) ?? [];
    if (!steps.some((step) => step.do === "retest" || step.do === "repeat" || step.do === "test"))
      throw new RuleRefusal(`coil ${name}: no rule of ${kept?.verdict.specification ?? "its specification"} leaves a test open`);
  }
}

async function failingCoils(reader: LedgerReader, notice: NoticeState, coils: readonly string[]): Promise<readonly string[]> {
  const kept = await reader.get<{ verdict: OrderVerdict }>("verdict", notice.owner);
  return coils.filter((coil) => kept?.verdict.coils.find((c) => c.coil === coil)?.verdict !== "conforms");
}

const gradeName = ({ specification, grade }: RegradeCandidate): string => `${specification} ${grade}`.trim();

async function regradeTo(
  workshop: Workshop,
  tx: LedgerTransaction,
  notice: NoticeState,
  coils: readonly string[],
  to: string,
): Promise<NonNullable<Decision["regrade"]>> {
  const margins: Record<string, object> = {};
  let chosen: RegradeCandidate | undefined;
  for (const coil of coils) {
    const candidates = await regradesOf(workshop, tx, notice.owner, coil);
    // Of two editions the one held longest in the list comes last: the newest.
    const found = candidates.findLast((candidate) => gradeName(candidate) === to);
    if (found === undefined)
      throw new RuleRefusal(
        `coil ${coil} does not meet "${to}"; it meets ${[...new Set(candidates.map(gradeName))].join(", ") || "no other grade held"}`,
      );
    if (found.notJudgeable.length > 0)
      throw new RuleRefusal(
        `coil ${coil}: ${to} also asks for ${found.notJudgeable.map((open) => open.property).join(", ")}, which nobody could judge; test it first`,
      );
    margins[coil] = found.margins;
    chosen = found;
  }
  if (chosen === undefined) throw new UsageError("--coils: names no coil");
  const { specification, edition, grade } = chosen;
  return { specification, edition, grade, margins };
}

/** Every other grade held that the coil meets, with how near it comes to the limits. */
export async function regradesOf(
  workshop: Workshop,
  reader: LedgerReader,
  item: string,
  coil: string,
): Promise<readonly RegradeCandidate[]> {
  const order = await reader.get<OrderItem>("order", item);
  const registered = await reader.get<Coil>("coil", coil);
  if (order === undefined || registered === undefined) return [];
  const { heats, instruments, tests, unread, specifications, isAdopted, today, freeLengthTolerance } = await loadJudgementInput(
    reader,
    [item],
    workshop.judgeOptions(),
  );
  return regradeSearch({
    ...{ order, coil: registered, heats, instruments, specifications, isAdopted, today, freeLengthTolerance },
    tests: tests.filter((row) => row.fields["coil"]?.text === coil),
    unread: unread.filter((row) => row.coil === coil),
  });
}

/** Only once every coil is decided and no document of these coils is still in question. */
export async function closeNotice(workshop: Workshop, number: string, { why, by }: Reason): Promise<NoticeState> {
  return workshop.ledger.transaction(by, async (tx) => {
    const person = await requirePerson(tx, by, COMMAND_RULES["notice close"].roles, workshop.today());
    const notice = await openNotice(tx, number);
    const decided = new Set(notice.decisions?.flatMap((decision) => decision.coils));
    const open = notice.coils.filter((coil) => !decided.has(coil));
    if (open.length > 0) throw new RuleRefusal(`notice ${number}: nothing is decided of coil ${open.join(", ")}`);
    const questioned = (await tx.list<DocumentState>("document", notice.owner)).find(
      ({ value }) => value.status === "in-question" && value.coils.some((coil) => notice.coils.includes(coil)),
    );
    if (questioned !== undefined)
      throw new RuleRefusal(
        `notice ${number}: document ${questioned.value.number} is still in question; confirm, amend or withdraw it first`,
      );
    const closed = { why, by: person.name, on: workshop.today() };
    await tx.append({ kind: "notice-changed", key: number, payload: { status: "closed", closed } });
    return noticeOf(tx, number);
  });
}

export interface NoticeLine {
  readonly number: string;
  readonly order: string;
  readonly coils: readonly string[];
  readonly status: "raised" | "contained" | "decided" | "closed";
  readonly raisedOn: string;
  readonly audience: "laboratory" | "customer";
  readonly answerBy?: string;
  readonly overdue: boolean;
  /** What comes next, one sentence; "" where it is closed. */
  readonly next: string;
}

/** @param today the lab's day */
export async function noticeLines(reader: LedgerReader, today: string): Promise<readonly NoticeLine[]> {
  return (await reader.list<NoticeState>("notice")).map(({ value }) => noticeLine(value, today));
}

export function noticeLine(notice: NoticeState, today: string): NoticeLine {
  const { number, owner, coils, status = "raised", raisedOn, audience = "laboratory", answerBy } = notice;
  const overdue = status !== "closed" && answerBy !== undefined && answerBy < today;
  const next = {
    raised: "Contain it: stop its coils.",
    contained: "Decide what becomes of each coil.",
    decided: "Close it.",
    closed: "",
  }[status];
  return { ...{ number, order: owner, coils, status, raisedOn, audience, overdue, next }, ...(answerBy === undefined ? {} : { answerBy }) };
}
