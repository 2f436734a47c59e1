/** Somebody who has only common tools checks a document by the steps of docs/verify.md, as they stand there. */
import { execFileSync, spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { compactVerify, importSPKI } from "jose";
import { afterAll, beforeAll, expect, it } from "vitest";
import { sealFile } from "../../../worker/seal/index.ts";
import { certificateText, demandKey, publicKeyText, type SealKey } from "../../../worker/seal/keys.ts";
import { projectPath, temporaryFolder } from "../../helpers/cli.ts";
import { describeWith } from "../../helpers/tools.ts";
import { certificate, ISSUED_AT, LAB, printPdf, sealing } from "./sample.ts";

const folder = temporaryFolder();
const data = join(folder.path, "data");
const file = join(folder.path, "document.pdf");
let key: SealKey;

beforeAll(async () => {
  // A time with parts of a second, as clocks give it.
  key = await demandKey(data, LAB, "2026-03-03T09:30:00.096Z", new Date());
  const record = certificate(12);
  writeFileSync(file, await sealFile(await printPdf(record), "pdf", sealing(record), key));
  writeFileSync(join(folder.path, "key.pem"), publicKeyText(data, key.state.kid));
}, 60_000);
afterAll(() => folder.remove());

const steps = (): string => {
  const text = readFileSync(projectPath("docs", "verify.md"), "utf8");
  return /third-party:begin -->\n```sh\n([\s\S]*?)```/.exec(text)?.[1] ?? "";
};

describeWith(["qpdf", "jq", "openssl"], "the steps of docs/verify.md", () => {
  const run = () => spawnSync("bash", ["-euo", "pipefail", "-c", steps()], { cwd: folder.path, encoding: "utf8" });

  it("accept what was issued", () => {
    const done = run();
    expect(done.status, done.stderr).toBe(0);
    const lines = done.stdout.trim().split("\n");
    expect(lines[0]).toBe("Signature Verified Successfully");
    const pairs = lines.slice(1);
    expect(pairs).toHaveLength(8);
    for (let i = 0; i < pairs.length; i += 2) expect(pairs[i + 1]?.trim()).toBe(pairs[i]);
  });

  it("refuse one byte of the page, and another key", async () => {
    const bytes = readFileSync(file);
    const at = bytes.indexOf("stream") + 40;
    writeFileSync(file, Buffer.concat([bytes.subarray(0, at), Buffer.from([bytes[at] === 1 ? 2 : 1]), bytes.subarray(at + 1)]));
    expect(run().stderr).toMatch(/digest failure|verification failure/i);
    writeFileSync(file, bytes);
    const other = join(folder.path, "other");
    const foreign = await demandKey(other, LAB, ISSUED_AT, new Date());
    writeFileSync(join(folder.path, "key.pem"), publicKeyText(other, foreign.state.kid));
    const refused = run();
    expect(refused.status).not.toBe(0);
    expect(refused.stdout).toMatch(/Signature Verification Failure/);
    writeFileSync(join(folder.path, "key.pem"), publicKeyText(data, key.state.kid));
  });
});

describeWith(["pdfsig", "qpdf", "openssl"], "other programs", () => {
  it("pdfsig: valid, the total document", () => {
    const said = execFileSync("pdfsig", [file], { encoding: "utf8" });
    expect(said).toContain("Signature Type: ETSI.CAdES.detached");
    expect(said).toContain("Total document signed");
    expect(said).toContain("Signature is Valid");
    expect(said).toContain("Certificate issuer is unknown");
  });

  it("qpdf finds no fault, and both files inside", () => {
    expect(execFileSync("qpdf", ["--check", file], { encoding: "utf8" })).toContain("No syntax or stream encoding errors found");
    const attached = execFileSync("qpdf", ["--list-attachments", file], { encoding: "utf8" });
    expect(attached).toMatch(/record\.json[\s\S]*seal\.json/);
  });

  it("openssl accepts the certificate as one that issued itself for signing", () => {
    const path = join(folder.path, "certificate.pem");
    writeFileSync(path, certificateText(data, key.state.kid));
    expect(execFileSync("openssl", ["verify", "-CAfile", path, "-check_ss_sig", path], { encoding: "utf8" })).toContain("OK");
    const text = execFileSync("openssl", ["x509", "-in", path, "-noout", "-text"], { encoding: "utf8" });
    expect(text).toContain("Public-Key: (3072 bit)");
    expect(text).toMatch(/Digital Signature, Non Repudiation/);
  });
});

it("another JWS library reads the statement with the public key", async () => {
  const { attachmentsOf } = await import("../../../core/seal/pdf-content.ts");
  const { PdfFile } = await import("../../../core/seal/pdf-file.ts");
  const seal = attachmentsOf(new PdfFile(new Uint8Array(readFileSync(file)))).get("seal.json");
  const { jws } = JSON.parse(new TextDecoder().decode(seal)) as { jws: string };
  const publicKey = await importSPKI(publicKeyText(data, key.state.kid), "Ed25519");
  const { payload, protectedHeader } = await compactVerify(jws, publicKey, { algorithms: ["Ed25519"] });
  expect(protectedHeader).toEqual({ alg: "Ed25519", kid: key.state.kid, typ: "coilbook-seal" });
  expect(JSON.parse(new TextDecoder().decode(payload))).toMatchObject({ schema: "seal/1", number: "2026-00042", issuedOn: "2026-03-03" });
});
