/** Errors a person meets, each with the exit code of the contract. */
export class CoilbookError extends Error {
  readonly exitCode: number;
  constructor(exitCode: number, text: string) {
    super(text);
    this.exitCode = exitCode;
  }
}

/** Wrong use: an option, a path, a setting. */
export class UsageError extends CoilbookError {
  override name = "UsageError";
  constructor(text: string) {
    super(64, text);
  }
}

/** Input that cannot be taken. */
export class InputRefused extends CoilbookError {
  override name = "InputRefused";
  constructor(text: string) {
    super(2, text);
  }
}

/** A rule forbids it: not adopted, wrong role, held. */
export class RuleRefusal extends CoilbookError {
  override name = "RuleRefusal";
  constructor(text: string) {
    super(3, text);
  }
}

/** A service the command needs is away. */
export class ServiceAway extends CoilbookError {
  override name = "ServiceAway";
  constructor(text: string) {
    super(69, text);
  }
}
