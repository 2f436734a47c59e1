/** A check in words, for the command line and for the page alike. */
import type { SealFinding } from "../../core/seal/compare.ts";
import type { Verification } from "../../core/seal/verification.ts";

type Say = (code: string, values?: Readonly<Record<string, string | number>>) => string;

export interface VerificationText {
  /** One of the three answers, or that the file is none of ours. */
  readonly head: string;
  readonly text: string;
  readonly facts: readonly string[];
  readonly findings: readonly string[];
}

export const findingText = (say: Say, finding: SealFinding): string =>
  say(`seal.${finding.code}`, {
    place: finding.place ?? "",
    issued: finding.issued || say("verify.nothing"),
    found: finding.found || say("verify.nothing"),
  });

export function toVerificationText(say: Say, verification: Verification): VerificationText {
  const { status, number, issuedOn, lab, key } = verification;
  return {
    head: say(`verify.${status}`),
    text: say(`verify.${status}.text`),
    facts: [
      ...(number === undefined ? [] : [say("verify.facts", { number, issuedOn: issuedOn ?? "", lab: lab ?? "" })]),
      ...(key === undefined ? [] : [say("verify.key", { kid: key.kid })]),
    ],
    findings: status === "not-ours" ? [] : verification.findings.map((finding) => findingText(say, finding)),
  };
}
