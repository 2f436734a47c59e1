/** A lab of the invented mill of samples/, made by the commands that the demo uses. */
import { cpSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expectRun, projectPath } from "./cli.ts";

export const samplePath = (...path: string[]): string => projectPath("samples", ...path);
const json = (name: string): Record<string, unknown> => JSON.parse(readFileSync(samplePath(name), "utf8")) as Record<string, unknown>;

export interface Manifest {
  readonly today: string;
  readonly coils: readonly {
    readonly coil: string;
    readonly order: string;
    readonly item: string;
    readonly story: string;
    readonly verdicts: Readonly<Record<string, string>>;
    readonly basis: string;
    readonly firstDay?: Readonly<Record<string, string>>;
  }[];
  readonly cells: readonly { readonly code: string; readonly severity: string; readonly sheet: string; readonly cell: string }[];
  readonly broken: Readonly<Record<string, string>>;
}
export const manifest = (): Manifest => json("manifest.json") as unknown as Manifest;

export const ADMIN = "Ada Thornquist";

/** @param env where its ledger is, for a lab whose ledger is no file */
export function makeSampleLab(lab: string, env: Record<string, string> = {}): void {
  expectRun([0], ["init", lab], { env });
  const file = join(lab, "coilbook.json");
  const settings = JSON.parse(readFileSync(file, "utf8")) as Record<string, object>;
  for (const [key, value] of Object.entries(json("settings.json")))
    settings[key] = Array.isArray(value) ? value : { ...settings[key], ...(value as object) };
  writeFileSync(file, JSON.stringify(settings));
  cpSync(samplePath("specifications"), join(lab, "specifications"), { recursive: true });
  const { people, customers } = json("people.json") as unknown as {
    people: { name: string; roles: string[] }[];
    customers: { name: string; email: string[]; address: string[] }[];
  };
  for (const person of people)
    expectRun([0], ["person", "add", person.name, ...person.roles.flatMap((role) => ["--role", role]), "--by", ADMIN, "--lab", lab], {
      env,
    });
  for (const customer of customers) {
    const details = [...customer.email.flatMap((e) => ["--email", e]), ...customer.address.flatMap((a) => ["--address", a])];
    expectRun([0], ["customer", "add", customer.name, ...details, "--by", ADMIN, "--lab", lab], { env });
  }
  expectRun([0], ["spec", "adopt", "QW 100", "--by", ADMIN, "--lab", lab], { env });
}

export function dropSamples(lab: string, folder: string, names: readonly string[] = readdirSync(samplePath(folder))): void {
  for (const name of names) cpSync(samplePath(folder, name), join(lab, "inbox", name));
}
