import { RefusedWorkbook } from "../workbook/limits.ts";
import { readWorkbook } from "../workbook/reader.ts";
import { hex, occurrences, utf8 } from "./bytes.ts";
import { compareXlsx, error, type SealFinding } from "./compare.ts";
import type { Cryptography } from "./cryptography.ts";
import { isSignedBy, readJws } from "./jws.ts";
import { type OpenedSeal, openSeal, recordOf } from "./open-seal.ts";
import { RECORD_NAME, SEAL_NAME, standing } from "./statement.ts";
import { type Trust, withdrawnEntry } from "./trust.ts";
import { NOT_OURS, type Verification } from "./verification.ts";
import { carriedText, type XlsxContent, xlsxContent } from "./xlsx-content.ts";
import { openPackage, PACKAGE_PART, PACKAGE_TYPE, type PackageStatement, partContent } from "./xlsx-package.ts";

const damaged = (why: string): Verification => ({
  status: "changed",
  format: "xlsx",
  findings: [error("file-damaged", undefined, undefined, why)],
});

/** Bytes, then the record, then the cells. Never throws for what is in the file. */
export async function verifyXlsx(bytes: Uint8Array, trust: Trust, cryptography: Cryptography): Promise<Verification> {
  const marked = occurrences(bytes, PACKAGE_PART, 1) > 0;
  try {
    return await verifyReadable(bytes, marked, trust, cryptography);
  } catch (problem) {
    if (problem instanceof RefusedWorkbook) return marked ? damaged(problem.refusal.text) : NOT_OURS;
    if (problem instanceof RangeError || problem instanceof TypeError) return marked ? damaged(problem.message) : NOT_OURS;
    throw problem;
  }
}

async function verifyReadable(bytes: Uint8Array, marked: boolean, trust: Trust, cryptography: Cryptography): Promise<Verification> {
  const read = readWorkbook(bytes);
  if (!read.ok) return marked ? damaged(read.refusal.text) : NOT_OURS;
  const opened = openPackage(bytes);
  const [sealText, recordText] = [carriedText(read.workbook, SEAL_NAME), carriedText(read.workbook, RECORD_NAME)];
  const recordBytes = recordText === undefined ? undefined : utf8(recordText);
  const ours = marked || recordOf(recordBytes) !== undefined;
  const changed = (findings: readonly SealFinding[]): Verification => (ours ? { status: "changed", format: "xlsx", findings } : NOT_OURS);
  if (sealText === undefined) return changed([error("seal-missing")]);
  const seal = await openSeal(utf8(sealText), recordBytes, trust, cryptography);
  if (!("seal" in seal)) return changed(seal.findings);
  const { statement } = seal;
  if (statement.format !== "xlsx") throw new RangeError("the seal of another format");
  const findings: SealFinding[] = [...seal.findings];
  const bytesChecked = await checkPackage(bytes, marked, opened, seal, cryptography);
  findings.push(...bytesChecked.findings);
  const names = opened.entries.map((entry) => entry.name);
  const content = xlsxContent(read.workbook, names, [RECORD_NAME, SEAL_NAME]);
  const differences = compareXlsx(seal.seal.content as XlsxContent, content);
  findings.push(...differences);
  const { entry, findings: called } = await withdrawnEntry(statement.number, trust, cryptography);
  const wrong = findings.some((finding) => finding.severity === "error");
  return {
    status: wrong ? "changed" : bytesChecked.whole ? "as-issued" : "re-saved",
    format: "xlsx",
    number: statement.number,
    issuedOn: statement.issuedOn,
    lab: statement.lab,
    key: seal.key,
    ...(entry === undefined ? {} : { withdrawn: entry }),
    bytes: bytesChecked.whole ? "as-issued" : "differ",
    record: seal.record,
    content: differences.length === 0 ? "as-issued" : "differs",
    findings: [...findings, ...called],
  };
}

/** A program that stores a workbook anew drops the signature over the parts, or keeps it whole; anything else was altered in its place. */
async function checkPackage(
  bytes: Uint8Array,
  marked: boolean,
  opened: ReturnType<typeof openPackage>,
  { publicKey }: OpenedSeal,
  cryptography: Cryptography,
): Promise<{ readonly whole: boolean; readonly findings: readonly SealFinding[] }> {
  if (opened.jws === undefined) return { whole: false, findings: marked ? [error("signature-broken")] : [] };
  let jws: ReturnType<typeof readJws>;
  try {
    jws = readJws(opened.jws);
  } catch {
    return { whole: false, findings: [error("signature-broken")] };
  }
  if (jws.type !== PACKAGE_TYPE || !(await isSignedBy(cryptography, jws, publicKey)))
    return { whole: false, findings: [error("signature-broken")] };
  const statement = jws.payload as unknown as PackageStatement;
  if (opened.base !== undefined && hex(await cryptography.sha256(opened.base)) === statement.package) return { whole: true, findings: [] };
  const stands = await standing(bytes, statement.blocks, cryptography);
  if (!stands.inPlace) return { whole: false, findings: [] };
  const altered = await alteredParts(bytes, opened.entries, statement, cryptography);
  const place = altered.length > 0 ? altered.join(", ") : stands.altered?.join("–");
  return { whole: false, findings: [stands.whole && altered.length === 0 ? error("bytes-appended") : error("bytes-altered", place)] };
}

async function alteredParts(
  bytes: Uint8Array,
  entries: ReturnType<typeof openPackage>["entries"],
  statement: PackageStatement,
  cryptography: Cryptography,
): Promise<readonly string[]> {
  const altered: string[] = [];
  for (const entry of entries)
    if (entry.name !== PACKAGE_PART && statement.parts[entry.name] !== hex(await cryptography.sha256(partContent(bytes, entry))))
      altered.push(entry.name);
  return [...altered, ...Object.keys(statement.parts).filter((name) => !entries.some((entry) => entry.name === name))];
}
