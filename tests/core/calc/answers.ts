/** Asks a calculation, for the tests of this folder and of the methods. */
import { runCalculation } from "../../../core/calc/index.ts";

type Json = Readonly<Record<string, unknown>>;

/** The answer without its schema, so that a table can hold whole answers. */
export function ask(name: string, input: unknown): Json {
  const { schema, ...answer } = runCalculation(name, input) as Json;
  if (schema !== "calc/1") throw new Error(`${name} answered with schema ${String(schema)}`);
  return answer;
}

/** The error code of an answer, or "answered". */
export function codeOf(name: string, input: unknown): string {
  const { error } = ask(name, input) as { error?: { code: string } };
  return error?.code ?? "answered";
}

/** A number somewhere in an answer: `numberAt(answer, "max.value")`. */
export function numberAt(answer: unknown, path: string): number {
  const found = path.split(".").reduce<unknown>((value, key) => (value as Json | undefined)?.[key], answer);
  if (typeof found !== "number") throw new Error(`no number at ${path} of ${JSON.stringify(answer)}`);
  return found;
}

/** Log relative error: the count of digits two numbers share. */
export const sharedDigits = (is: number, certified: number): number =>
  is === certified ? 17 : -Math.log10(Math.abs(is - certified) / Math.abs(certified));
