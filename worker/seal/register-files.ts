/** What the register holds for customers: the page that checks a file, the keys, and the signed list of withdrawn documents. */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { dayIn } from "../clock.ts";
import { writeAtomically } from "../files.ts";
import type { Workshop } from "../workshop.ts";
import { demandKey, keyFor, listKeys, publicKeyText } from "./keys.ts";
import { canWritePage, verifyPage } from "./verify-page.ts";
import { signedList, withdrawnDocuments } from "./withdrawn.ts";

/** Writes only what is not there or would be another: the page itself changes once a day at most. */
export async function writeSealFiles({ lab, ledger, clock }: Workshop): Promise<void> {
  const folder = join(lab.folder, "register");
  const put = (name: string, text: string): void => {
    const path = join(folder, name);
    if (!existsSync(path) || readFileSync(path, "utf8") !== text) writeAtomically(path, text);
  };
  const now = clock.now();
  const keys = listKeys(lab.data);
  for (const { kid } of keys) put(`key-${kid}.pem`, publicKeyText(lab.data, kid));
  let list = "";
  const at = now.toISOString();
  // A laboratory that has sealed nothing has no key, and nothing to call back; one that retired all says nothing more.
  if (keyFor(keys, at) !== undefined) {
    const key = await demandKey(lab.data, lab.settings.lab.name, at, now);
    list = await signedList(await withdrawnDocuments(ledger), lab.settings.lab.name, now, key);
    writeAtomically(join(folder, "withdrawn.jws"), `${list}\n`);
  }
  if (canWritePage()) put("verify.html", verifyPage(lab.data, lab.settings.lab.name, dayIn(lab.settings.timeZone, now), list));
}
