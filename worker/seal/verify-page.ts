/** `verify.html`: one page that checks a file in the reader's own browser, with our own code inside and no network. */
import { createHash, createPublicKey } from "node:crypto";
import { existsSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { pathToFileURL } from "node:url";
import Handlebars from "handlebars";
import { base64url } from "../../core/seal/bytes.ts";
import type { PageData } from "../../templates/verify/run.ts";
import { bundle } from "./bundle.ts";
import { listKeys, publicKeyText } from "./keys.ts";

const templates = new URL("../../templates/verify/", import.meta.url);
const ENTRY = new URL("run.js", templates);
const LANGUAGES = ["en", "de"];

/** The page is made of the compiled modules; a run from the sources has none. */
export const canWritePage = (): boolean => existsSync(ENTRY);

let script: string | undefined;
function pageScript(): string {
  // The package names its module for browsers only to bundlers; it lies beside the folder of its entry.
  const fflate = join(dirname(createRequire(import.meta.url).resolve("fflate")), "..", "esm", "browser.js");
  script ??= `${bundle(ENTRY, { fflate: pathToFileURL(fflate) })}entry.startPage(window);\n`;
  return script;
}

const inPolicy = (text: string): string => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;

/** The words of the page and of its findings. */
function wordsOf(language: string): Readonly<Record<string, string>> {
  const all = JSON.parse(readFileSync(new URL(`../wording/${language}.json`, templates), "utf8")) as Record<string, string>;
  return Object.fromEntries(Object.entries(all).filter(([code]) => code.startsWith("verify.") || code.startsWith("seal.")));
}

/** @param withdrawn the signed list, or "" */
export function verifyPage(data: string, lab: string, writtenOn: string, withdrawn: string): string {
  const style = readFileSync(new URL("page.css", templates), "utf8");
  const code = pageScript();
  const words = Object.fromEntries(LANGUAGES.map((language) => [language, wordsOf(language)]));
  const pageData: PageData = {
    words,
    lab,
    writtenOn,
    keys: listKeys(data).map(({ kid, retiredAt }) => ({
      kid,
      publicKey: base64url(new Uint8Array(createPublicKey(publicKeyText(data, kid)).export({ format: "der", type: "spki" }))),
      ...(retiredAt === undefined ? {} : { retiredAt }),
    })),
    withdrawn,
  };
  const page = Handlebars.compile(readFileSync(new URL("page.hbs", templates), "utf8"), { knownHelpersOnly: true });
  return page({
    policy: `default-src 'none'; style-src ${inPolicy(style)}; script-src ${inPolicy(code)}; base-uri 'none'; form-action 'none'`,
    style,
    script: code,
    // Nothing in the data can end the element that holds it.
    data: JSON.stringify(pageData).replaceAll("<", "\\u003c"),
  });
}
