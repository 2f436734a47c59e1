import { equalBytes, fromLatin1, hex, occurrences } from "./bytes.ts";
import { checkCms } from "./cms.ts";
import { comparePdf, error, type SealFinding } from "./compare.ts";
import type { Cryptography } from "./cryptography.ts";
import { derElement } from "./der.ts";
import { openSeal, recordOf } from "./open-seal.ts";
import { attachmentsOf, type PdfContent, readPdfContent } from "./pdf-content.ts";
import { catalogOf, PdfFile } from "./pdf-file.ts";
import { isKind, nameOf, PdfProblem } from "./pdf-objects.ts";
import { RECORD_NAME, SEAL_MARK, SEAL_NAME, standing } from "./statement.ts";
import { type Trust, withdrawnEntry } from "./trust.ts";
import { NOT_OURS, type Verification } from "./verification.ts";

interface WholeSignature {
  /** `whole`: holds to the last byte. `part`: holds, and something follows. `broken`: does not hold. `none`: not in its place. */
  readonly state: "whole" | "part" | "broken" | "none";
  /** SHA-256 of the certificate, hexadecimal. */
  readonly certificate?: string;
  /** Where the signed bytes end. */
  readonly end: number;
}

/** The signature over the file, where it stands as it was written: a gap that holds nothing but the signature. */
async function wholeSignature(file: PdfFile, cryptography: Cryptography): Promise<WholeSignature> {
  const { bytes } = file;
  const none: WholeSignature = { state: "none", end: 0 };
  const fields = file.array(file.dictionary(catalogOf(file).entries.get("AcroForm")).get("Fields")).map((field) => file.dictionary(field));
  const value = file.dictionary(fields.find((field) => nameOf(file.resolve(field.get("FT"))) === "Sig")?.get("V"));
  const contents = file.resolve(value.get("Contents"));
  const range = file.array(value.get("ByteRange"));
  const [zero, before, after, length] = range.map((part) => (typeof part === "number" ? part : -1));
  if (!isKind(contents, "text") || range.length !== 4 || zero !== 0) return none;
  if (before === undefined || after === undefined || length === undefined || after <= before || length < 0) return none;
  const end = after + length;
  if (end > bytes.length || !equalBytes(bytes.subarray(before, after), fromLatin1(`<${hex(contents.bytes)}>`))) return none;
  const signed = new Uint8Array(before + length);
  signed.set(bytes.subarray(0, before));
  signed.set(bytes.subarray(after, end), before);
  let certificate: string;
  try {
    const cms = derElement(contents.bytes, 0).element.whole;
    const check = await checkCms(cms, await cryptography.sha256(signed), cryptography);
    certificate = hex(await cryptography.sha256(check.certificate));
    if (!check.valid || contents.bytes.subarray(cms.length).some((byte) => byte !== 0)) return { state: "broken", certificate, end };
  } catch (problem) {
    if (!(problem instanceof RangeError)) throw problem;
    return { state: "broken", end };
  }
  return { state: end === bytes.length ? "whole" : "part", certificate, end };
}

/** Bytes, then the record, then the pages. Never throws for what is in the file. */
export async function verifyPdf(bytes: Uint8Array, trust: Trust, cryptography: Cryptography): Promise<Verification> {
  const marked = occurrences(bytes, SEAL_MARK, 1) > 0;
  try {
    return await verifyReadable(bytes, marked, trust, cryptography);
  } catch (problem) {
    if (!(problem instanceof PdfProblem) && !(problem instanceof RangeError)) throw problem;
    return marked
      ? { status: "changed", format: "pdf", findings: [error("file-damaged", undefined, undefined, problem.message)] }
      : NOT_OURS;
  }
}

async function verifyReadable(bytes: Uint8Array, marked: boolean, trust: Trust, cryptography: Cryptography): Promise<Verification> {
  const file = new PdfFile(bytes);
  const attached = attachmentsOf(file);
  const [sealBytes, recordBytes] = [attached.get(`${SEAL_NAME}.json`), attached.get(`${RECORD_NAME}.json`)];
  if (sealBytes === undefined) {
    if (!marked && recordOf(recordBytes) === undefined) return NOT_OURS;
    return { status: "changed", format: "pdf", findings: [error("seal-missing")] };
  }
  const opened = await openSeal(sealBytes, recordBytes, trust, cryptography);
  if (!("seal" in opened)) {
    if (!marked && recordOf(recordBytes) === undefined) return NOT_OURS;
    return { status: "changed", format: "pdf", findings: opened.findings };
  }
  const { seal, statement } = opened;
  const findings: SealFinding[] = [...opened.findings];
  const signature = await wholeSignature(file, cryptography);
  if (statement.format !== "pdf" || statement.base === undefined) throw new RangeError("the seal of another format");
  if (signature.certificate !== undefined && signature.certificate !== statement.certificate) findings.push(error("wrong-certificate"));
  const whole = signature.state === "whole";
  if (!whole) {
    const stands = await standing(bytes, statement.base, cryptography);
    if (!stands.whole && stands.inPlace) findings.push(error("bytes-altered", stands.altered?.join("–")));
    // After a signature that holds, only an update in the form's own way may follow.
    else if (stands.inPlace && !(signature.state === "part" && file.newestSection >= signature.end))
      findings.push(signature.state === "part" ? error("bytes-appended", String(signature.end)) : error("signature-broken"));
  }
  const differences = comparePdf(seal.content as PdfContent, await readPdfContent(file, cryptography));
  findings.push(...differences);
  const { entry, findings: called } = await withdrawnEntry(statement.number, trust, cryptography);
  const changed = findings.some((finding) => finding.severity === "error");
  return {
    status: changed ? "changed" : whole ? "as-issued" : "re-saved",
    format: "pdf",
    number: statement.number,
    issuedOn: statement.issuedOn,
    lab: statement.lab,
    key: opened.key,
    ...(entry === undefined ? {} : { withdrawn: entry }),
    bytes: whole ? "as-issued" : "differ",
    record: opened.record,
    content: differences.length === 0 ? "as-issued" : "differs",
    findings: [...findings, ...called],
  };
}
