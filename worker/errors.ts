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

/** It cannot be reached; waiting may help. */
export class ServiceUnreachable extends ServiceAway {
  override name = "ServiceUnreachable";
}

/** What the drivers say where the other side cannot be reached, goes down, or takes no more connections. */
const AWAY_CODES = /^(E(CONNREFUSED|CONNRESET|PIPE|TIMEDOUT|HOSTUNREACH|NETUNREACH|NOTFOUND|AI_AGAIN)|57P0[1-4]|08\w{3}|53300)$/;
const AWAY_TEXTS =
  /^(Connection terminated|timeout exceeded when trying to connect|Client has encountered a connection error|connection is closed)/i;

/** True of an error that only says that a service is away for now: what was asked may be asked again. */
export function isAway(error: unknown): boolean {
  if (error instanceof ServiceAway) return true;
  if (error instanceof AggregateError) return error.errors.some(isAway);
  const { code, message } = error as { code?: unknown; message?: unknown };
  return (typeof code === "string" && AWAY_CODES.test(code)) || (typeof message === "string" && AWAY_TEXTS.test(message));
}

const DISK_CODES = /^(ENOSPC|EDQUOT|EROFS|EIO|SQLITE_(FULL|IOERR|READONLY|CANTOPEN|BUSY)\w*)$/;

/** True of an error of the disk or of the store on it: full, read-only, broken, held by another. Waiting, or making room, may help. */
export function isDisk(error: unknown): boolean {
  const { code } = error as { code?: unknown };
  return typeof code === "string" && DISK_CODES.test(code);
}

/** An address as it may be shown. */
export function withoutPassword(url: string): string {
  try {
    const shown = new URL(url);
    if (shown.password !== "") shown.password = "***";
    for (const name of shown.searchParams.keys()) if (/pass|secret/i.test(name)) shown.searchParams.set(name, "***");
    return shown.href;
  } catch {
    return "(not an address)";
  }
}
