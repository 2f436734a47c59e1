import { exact, toNumber } from "../decimal.ts";
import { convertExact, type Measure, type Quantity, type Unit } from "../quantity.ts";
import { type InputReader, readInput } from "./input.ts";

/** One calculation of the contract. */
export interface Calculation {
  readonly name: string;
  /** One line for the list. */
  readonly description: string;
  /** An input that answers. */
  readonly example: Readonly<Record<string, unknown>>;
  /** @throws CalcError */
  answer(input: unknown): Readonly<Record<string, unknown>>;
}

/**
 * Makes a calculation of a reader and a pure answer. The whole input is read first, so that everything wrong in it comes
 * before anything the tables say.
 */
export function calculation<T>(given: {
  readonly name: string;
  readonly description: string;
  readonly example: Readonly<Record<string, unknown>>;
  readonly read: (input: InputReader) => T;
  readonly answer: (values: T) => Readonly<Record<string, unknown>>;
}): Calculation {
  return {
    name: given.name,
    description: given.description,
    example: given.example,
    answer(input) {
      const reader = readInput(input);
      const values = given.read(reader);
      reader.refuseUnknownKeys();
      return given.answer(values);
    },
  };
}

/** The amount for JSON, in `unit` where that is given. */
export function quantityOf(amount: Measure, unit: Unit = amount.unit as Unit): Quantity {
  return { value: toNumber(convertExact(exact(amount.text), amount.unit as Unit, unit)), unit };
}

/** Leaves out the keys without a value. */
export const present = (answer: Readonly<Record<string, unknown>>): Readonly<Record<string, unknown>> =>
  Object.fromEntries(Object.entries(answer).filter(([, value]) => value !== undefined));
