/** A calculation that cannot be answered. The code is one of the closed list of the contract. */
export type CalcErrorCode = "wrong-input" | "unknown-standard" | "unknown-grade" | "no-rule" | "outside-scope" | "no-combination";

export class CalcError extends Error {
  override name = "CalcError";
  readonly code: CalcErrorCode;
  constructor(code: CalcErrorCode, text: string) {
    super(text);
    this.code = code;
  }
}
