/** `verify` and `verify.html` on a laboratory of samples: the program as its users run it, the page in a browser without network. */
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import * as pdfLib from "@cantoo/pdf-lib";
import puppeteer, { type Browser, type Page } from "puppeteer-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { findBrowserPath } from "../../../worker/rendering/browser.ts";
import { coilbook, expectRun, jsonLines, temporaryFolder } from "../../helpers/cli.ts";
import { changeXlsx, repack } from "./tamper.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
const PERSON = "Ada Thornquist";
const files: Record<string, string> = {};

const kidOf = (listed: string): string => /^\S+/.exec(listed)?.[0] ?? "";
const verify = (file: string, ...more: string[]) => coilbook(["verify", file, "--json", ...more]);

beforeAll(async () => {
  expectRun([0], ["init", lab, "--example"]);
  expectRun([0, 1], ["work", "--drain", "--lab", lab]);
  const people = jsonLines(expectRun([0], ["person", "list", "--json", "--lab", lab]).out)[0] as unknown as {
    persons: { name: string; roles: string[] }[];
  };
  const quality = people.persons.find((person) => person.roles.includes("quality") || person.roles.includes("admin"))?.name ?? PERSON;
  files["person"] = quality;
  for (const order of readdirSync(join(lab, "documents")))
    for (const name of readdirSync(join(lab, "documents", order)))
      for (const format of ["pdf", "xlsx"]) if (name.endsWith(format)) files[format] ??= join(lab, "documents", order, name);
  const pdf = new Uint8Array(readFileSync(files["pdf"] as string));
  const xlsx = new Uint8Array(readFileSync(files["xlsx"] as string));
  const put = (name: string, bytes: Uint8Array): void => {
    files[name] = join(folder.path, name);
    writeFileSync(files[name], bytes);
  };
  const anew = await pdfLib.PDFDocument.load(pdf);
  put("anew.pdf", await anew.save());
  const forged = await pdfLib.PDFDocument.load(pdf);
  forged.getPage(0).drawText("9999 MPa", { x: 80, y: 80 });
  put("forged.pdf", await forged.save());
  put("anew.xlsx", repack(xlsx));
  put(
    "forged.xlsx",
    changeXlsx(xlsx, "xl/sharedStrings.xml", (xml) => xml.replace(/<t( [^>]*)?>([^<{]{4,})<\/t>/, "<t$1>$2!</t>")),
  );
  const other = await pdfLib.PDFDocument.create();
  other.addPage();
  put("other.pdf", await other.save());
}, 120_000);
afterAll(() => folder.remove());

// Contract of verify: the three answers with exit 0, 0 and 1; 2 for what is none of ours.
const ANSWERS = [
  ["pdf", "as-issued", 0, "As issued"],
  ["xlsx", "as-issued", 0, "As issued"],
  ["anew.pdf", "re-saved", 0, "Content unchanged, re-saved"],
  ["anew.xlsx", "re-saved", 0, "Content unchanged, re-saved"],
  ["forged.pdf", "changed", 1, "Changed"],
  ["forged.xlsx", "changed", 1, "Changed"],
  ["other.pdf", "not-ours", 2, "Not one of ours"],
] as const;

describe("coilbook verify", () => {
  it.each(ANSWERS)("%s is %s, exit %d", (name, status, exit) => {
    const run = verify(files[name] as string, "--lab", lab);
    expect(run.status, run.err).toBe(exit);
    expect(jsonLines(run.out)[0]).toMatchObject({ schema: "verify/1", status });
  });

  it("answers from the file and a public key alone", () => {
    const listed = expectRun([0], ["key", "list", "--lab", lab]).out;
    const key = join(lab, "register", `key-${kidOf(listed)}.pem`);
    expect(jsonLines(verify(files["pdf"] as string, "--key", key).out)[0]).toMatchObject({
      status: "as-issued",
      key: { trust: "given" },
      findings: [],
    });
    expect(verify(files["pdf"] as string, "--key", files["pdf"] as string).status).toBe(64);
    expect(jsonLines(verify(files["pdf"] as string).out)[0]).toMatchObject({
      status: "as-issued",
      key: { trust: "unknown" },
      findings: [{ code: "key-not-compared", severity: "warning" }],
    });
  });

  it("a file that is not there, and one that is none of ours, in one line", () => {
    expect(coilbook(["verify", join(folder.path, "nowhere.pdf")])).toMatchObject({ status: 2, out: "" });
    const run = coilbook(["verify", files["other.pdf"] as string]);
    expect(run.status).toBe(2);
    expect(run.err.trim().split("\n")).toHaveLength(1);
  });

  it("keys belong to their owner alone", () => {
    const keys = join(lab, "data", "keys");
    for (const entry of readdirSync(keys, { recursive: true, withFileTypes: true })) {
      const mode = statSync(join(entry.parentPath, entry.name)).mode & 0o777;
      expect(mode, entry.name).toBe(entry.isFile() ? 0o600 : 0o700);
    }
  });

  it("the ledger knows every sealed file by its hash", () => {
    expect(expectRun([0], ["audit", "--lab", lab]).out).toMatch(/as it was/);
  });
});

describe("verify.html", () => {
  let browser: Browser;
  let page: Page;
  const asked: string[] = [];

  beforeAll(async () => {
    expectRun([0], ["register", "--lab", lab]);
    const path = await findBrowserPath("", process.env);
    if (path === undefined) throw new Error("no browser");
    browser = await puppeteer.launch({ executablePath: path, headless: "shell", args: ["--no-sandbox", "--lang=en"] });
    page = await browser.newPage();
    await page.setOfflineMode(true);
    page.on("request", (request) => asked.push(request.url()));
    await page.goto(pathToFileURL(join(lab, "register", "verify.html")).href);
  }, 60_000);
  afterAll(() => browser?.close());

  /** Drops a file on the page as a person does. */
  async function drop(file: string): Promise<{ head: string; text: string; status: string }> {
    const bytes = readFileSync(file).toString("base64");
    await page.evaluate(`(async () => {
      document.getElementById("answer").hidden = true;
      const bytes = Uint8Array.from(atob(${JSON.stringify(bytes)}), (c) => c.charCodeAt(0));
      const transfer = new DataTransfer();
      transfer.items.add(new File([bytes], "dropped"));
      document.dispatchEvent(new DragEvent("drop", { dataTransfer: transfer, bubbles: true, cancelable: true }));
    })()`);
    await page.waitForFunction('!document.getElementById("answer").hidden', { timeout: 20_000 });
    return (await page.evaluate(
      '({ head: document.querySelector("#answer h2").textContent, text: document.getElementById("answer").innerText, status: document.getElementById("answer").className })',
    )) as { head: string; text: string; status: string };
  }

  it.each(ANSWERS)("%s: %s", async (name, status, _exit, head) => {
    const shown = await drop(files[name] as string);
    expect(shown).toMatchObject({ status, head });
    if (name === "forged.pdf") expect(shown.text).toContain("9999 MPa");
  });

  it("reaches for nothing but itself, and says the same in German", async () => {
    expect(asked.filter((url) => !url.startsWith("file:"))).toEqual([]);
    await page.select("#language", "de");
    expect(await drop(files["anew.pdf"] as string)).toMatchObject({ head: "Inhalt unverändert, neu gespeichert" });
    await page.select("#language", "en");
  });

  it("a new key and a retired one: what they sealed stays as issued, in the program and on the page", async () => {
    const person = files["person"] as string;
    const old = kidOf(expectRun([0], ["key", "list", "--lab", lab]).out);
    expectRun([0], ["key", "new", "--by", person, "--lab", lab]);
    expectRun([0], ["key", "retire", old.slice(0, 10), "--by", person, "--lab", lab]);
    expect(coilbook(["key", "retire", old.slice(0, 10), "--by", person, "--lab", lab]).status).toBe(3);
    expect(coilbook(["key", "new", "--by", "Nobody Known", "--lab", lab]).status).toBe(3);
    const { keys } = jsonLines(expectRun([0], ["key", "list", "--json", "--lab", lab]).out)[0] as unknown as {
      keys: { retiredAt?: string }[];
    };
    expect(keys.map((key) => key.retiredAt !== undefined)).toEqual([true, false]);
    expect(verify(files["pdf"] as string, "--lab", lab).status).toBe(0);
    await page.reload();
    expect(await drop(files["pdf"] as string)).toMatchObject({ status: "as-issued" });
  });
});
