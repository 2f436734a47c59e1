import { existsSync, readFileSync, statSync } from "node:fs";
import { Command } from "commander";
import type { Trust, WithdrawnDocument } from "../../core/seal/trust.ts";
import { systemClock } from "../clock.ts";
import { InputRefused, UsageError } from "../errors.ts";
import { findLab, type Lab } from "../settings/settings.ts";
import { hasLedger, openWorkshop } from "../workshop.ts";
import { answer, type LabFlags } from "./context.ts";

type VerifyFlags = LabFlags & { readonly key?: string; readonly withdrawn?: string };

export function verifyCommand(): Command {
  return new Command("verify")
    .description("is this document as it was issued, stored anew with the same content, or changed, and where")
    .argument("<file>", "a PDF or XLSX document")
    .option("--key <public.pem>", "the laboratory's public key; without it those of the lab, else the file's own is only named")
    .option("--withdrawn <list.jws>", "the signed list of withdrawn documents; without it what the lab knows")
    .option("--lab <folder>", "the exchange folder (else COILBOOK_LAB, else ./lab)")
    .option("--data <folder>", "the data folder (else COILBOOK_DATA, else <lab>/data)")
    .option("--json", "answer as JSON")
    .addHelpText("after", "\nExample:\n  coilbook verify 2026-00042.pdf --key key.pem")
    .action(async (file: string, flags: VerifyFlags) => {
      const { LARGEST_FILE, NOT_OURS, verifyFile } = await import("../../core/seal/index.ts");
      const { nodeCryptography } = await import("../seal/node-cryptography.ts");
      const { findingText, toVerificationText } = await import("../../templates/verify/sentences.ts");
      const { words } = await import("../../templates/wording.ts");
      const bytes = readDocument(file, LARGEST_FILE);
      const verification = bytes === undefined ? NOT_OURS : await verifyFile(bytes, await trustOf(flags), nodeCryptography);
      const { status } = verification;
      const say = words("en");
      if (status === "not-ours" && !flags.json)
        throw new InputRefused(`${file}: carries no seal of this kind; accepted is a PDF or XLSX document that was issued with one`);
      const text = toVerificationText(say, verification);
      const findings = verification.findings.map((finding) => ({ ...finding, text: findingText(say, finding) }));
      answer(flags, { schema: "verify/1", file, ...verification, findings }, () =>
        [`${status}: ${text.head}. ${text.text}`, ...text.findings.map((line) => `  ${line}`), ...text.facts].join("\n"),
      );
      process.exitCode = status === "not-ours" ? 2 : findings.some((finding) => finding.severity === "error") ? 1 : 0;
    });
}

/** @returns undefined for a file too large to be one of ours @throws InputRefused where there is none */
function readDocument(file: string, largest: number): Uint8Array | undefined {
  if (!existsSync(file) || !statSync(file).isFile())
    throw new InputRefused(`verify: ${file} is no file; accepted is a PDF or XLSX document`);
  return statSync(file).size > largest ? undefined : new Uint8Array(readFileSync(file));
}

/** The key that is named, else those of the lab; the list that is named, else what the lab's ledger says. */
async function trustOf(flags: VerifyFlags): Promise<Trust> {
  const { readPublicKey, trustedKeys } = await import("../seal/keys.ts");
  const lab = findLab(flags, process.env);
  const held = lab === undefined ? [] : trustedKeys(lab.data);
  const withdrawn = flags.withdrawn === undefined ? await fromLedger(lab) : readList(flags.withdrawn);
  const more = withdrawn === undefined ? {} : { withdrawn };
  if (flags.key !== undefined) {
    const given = readPublicKey(readText(flags.key, "--key"), flags.key);
    // The lab may know that the key named was retired.
    const known = held.find((key) => Buffer.from(key.publicKey).equals(given.publicKey));
    return { source: "given", keys: [known ?? given], ...more };
  }
  return { source: held.length > 0 ? "lab" : "none", keys: held, ...more };
}

const readList = (path: string): string => readText(path, "--withdrawn");

function readText(path: string, option: string): string {
  if (!existsSync(path) || !statSync(path).isFile()) throw new UsageError(`${option}: ${path} is no file`);
  return readFileSync(path, "utf8");
}

async function fromLedger(lab: Lab | undefined): Promise<readonly WithdrawnDocument[] | undefined> {
  if (lab === undefined || (lab.settings.ledger.url === "" && !hasLedger(lab))) return undefined;
  const { withdrawnDocuments } = await import("../seal/withdrawn.ts");
  const workshop = await openWorkshop(lab, systemClock, { readOnly: true });
  try {
    return await withdrawnDocuments(workshop.ledger);
  } finally {
    await workshop.ledger.close();
  }
}
