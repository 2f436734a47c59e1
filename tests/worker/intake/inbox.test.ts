/**
 * Which files are taken, and when. Rules: the contract, section 4 (run-time details) and the entry workbook's "file kinds"; the cases of
 * slow, moved and growing files are common practice of folder intake, no source. The clock is the test's own.
 */
import {
  appendFileSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  truncateSync,
  utimesSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { createInbox, type Inbox } from "../../../worker/intake/inbox.ts";
import { book, plan } from "../work/lab.ts";

let folder: string;
let now: number;
const QUIET = 500;
const workbook = book(plan());
const inboxOf = (hurry = false): Inbox => createInbox(folder, QUIET, () => now, hurry);

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-inbox-"));
  now = 1000;
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const put = (name: string, bytes: Uint8Array | string = workbook): string => {
  const path = join(folder, name);
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, bytes);
  return path;
};
/** One poll after a time. @returns names that are ready and what is said of those that wait */
const poll = (inbox: Inbox, after = 0) => {
  now += after;
  const { ready, waiting } = inbox.poll();
  return { ready: ready.map((file) => file.name), waiting: waiting.map((file) => `${file.name} ${file.why}`), raw: { ready, waiting } };
};
const NOTHING = { ready: [], waiting: [] };

describe("a whole workbook", () => {
  it("is ready when it was the same on two readings and quiet for the time set, at start-up too", () => {
    put("a.xlsx");
    const inbox = inboxOf();
    expect(poll(inbox)).toMatchObject({ ready: [], waiting: ["a.xlsx is still being written"] });
    expect(poll(inbox, QUIET - 1)).toMatchObject({ ready: [] });
    expect(poll(inbox, 1)).toMatchObject({ ready: ["a.xlsx"], waiting: [] });
    expect(poll(inbox).raw.ready[0]?.bytes).toEqual(workbook);
  });

  it("that changes is quiet anew, also where only its time changed", () => {
    const path = put("a.xlsx");
    const inbox = inboxOf();
    poll(inbox);
    now += QUIET;
    utimesSync(path, new Date(2026, 1, 1), new Date(2026, 1, 1));
    expect(poll(inbox)).toMatchObject({ ready: [], waiting: ["a.xlsx is still being written"] });
    expect(poll(inbox, QUIET)).toMatchObject({ ready: ["a.xlsx"] });
  });

  it("is found in subfolders, under its path, and in any script", () => {
    for (const name of ["b/2/x.xlsx", "b/1/x.xlsx", "ö 試験.xlsx"]) put(name);
    const inbox = inboxOf();
    poll(inbox);
    expect(poll(inbox, QUIET).ready).toEqual(["b/1/x.xlsx", "b/2/x.xlsx", "ö 試験.xlsx"]);
  });

  it("that was renamed meanwhile proves itself under its new name", () => {
    const path = put("a.xlsx");
    const inbox = inboxOf();
    poll(inbox);
    renameSync(path, join(folder, "b.xlsx"));
    expect(poll(inbox, QUIET)).toMatchObject({ ready: [], waiting: ["b.xlsx is still being written"] });
    expect(poll(inbox, QUIET).ready).toEqual(["b.xlsx"]);
  });

  it("that goes before it was ready leaves nothing behind, and comes back as new", () => {
    const path = put("a.xlsx");
    const inbox = inboxOf();
    poll(inbox);
    rmSync(path);
    expect(poll(inbox, QUIET)).toMatchObject(NOTHING);
    put("a.xlsx");
    expect(poll(inbox).ready).toEqual([]);
    expect(poll(inbox, QUIET).ready).toEqual(["a.xlsx"]);
  });
});

describe("passed over without a word", () => {
  it.each([
    "~$a.xlsx",
    ".a.xlsx",
    ".DS_Store",
    "a.xlsx.tmp",
    "a.xlsx.part",
    "a.partial",
    "a.filepart",
    "a.crdownload",
    "a.DOWNLOAD",
    "Thumbs.db",
    "desktop.ini",
    "sub/~$b.xlsx",
    ".hidden/a.xlsx",
  ])("%s", (name) => {
    put(name);
    const inbox = inboxOf(true);
    poll(inbox);
    expect(poll(inbox, 3_600_000)).toMatchObject(NOTHING);
  });

  it("links, and files that lie beyond them", () => {
    const outside = mkdtempSync(join(tmpdir(), "coilbook-outside-"));
    writeFileSync(join(outside, "a.xlsx"), workbook);
    symlinkSync(join(outside, "a.xlsx"), join(folder, "link.xlsx"));
    symlinkSync(outside, join(folder, "linked"));
    const inbox = inboxOf(true);
    poll(inbox);
    expect(poll(inbox, QUIET)).toMatchObject(NOTHING);
    rmSync(outside, { recursive: true });
  });
});

describe("a half-written workbook", () => {
  const INCOMPLETE = "is not complete yet: the end of the workbook is missing";

  it.each([0.2, 0.9, 0.999])("with %f of its bytes waits for ever and is named, then is taken when the rest came", (share) => {
    const path = put("a.xlsx", workbook.slice(0, Math.floor(workbook.length * share)));
    for (const hurry of [false, true]) {
      const inbox = inboxOf(hurry);
      poll(inbox);
      expect(poll(inbox, QUIET).raw.waiting).toEqual([{ name: "a.xlsx", why: INCOMPLETE, settling: false }]);
      expect(poll(inbox, 86_400_000)).toMatchObject({ ready: [], waiting: [`a.xlsx ${INCOMPLETE}`] });
    }
    const inbox = inboxOf();
    poll(inbox);
    appendFileSync(path, workbook.slice(readFileSync(path).length));
    poll(inbox, QUIET);
    expect(poll(inbox, QUIET).ready).toEqual(["a.xlsx"]);
  });

  it("with its full length reserved and filled later is not taken before it is whole", () => {
    const path = put("a.xlsx", workbook.slice(0, 1000));
    truncateSync(path, workbook.length);
    const inbox = inboxOf();
    poll(inbox);
    expect(poll(inbox, 60_000)).toMatchObject({ ready: [], waiting: [`a.xlsx ${INCOMPLETE}`] });
    writeFileSync(path, workbook);
    utimesSync(path, new Date(2026, 1, 2), new Date(2026, 1, 2));
    poll(inbox);
    expect(poll(inbox, QUIET).ready).toEqual(["a.xlsx"]);
  });

  it("does not keep the others waiting", () => {
    put("a.xlsx", workbook.slice(0, 5000));
    put("b.xlsx");
    const inbox = inboxOf(true);
    poll(inbox);
    expect(poll(inbox, QUIET)).toMatchObject({ ready: ["b.xlsx"], waiting: [`a.xlsx ${INCOMPLETE}`] });
  });

  it("that never stops growing holds up a drain for ten seconds only", () => {
    const path = put("a.xlsx", workbook.slice(0, 1000));
    const inbox = inboxOf(true);
    const settling: boolean[] = [];
    for (let i = 0; i < 13; i += 1) {
      appendFileSync(path, "more");
      settling.push(poll(inbox, 1000).raw.waiting[0]?.settling ?? false);
    }
    expect(settling.slice(0, 9)).toEqual(Array.from({ length: 9 }, () => true));
    expect(settling.slice(11)).toEqual([false, false]);
  });
});

describe("what is no workbook", () => {
  it("is handed on to be refused after 30 s, at once in a drain, after two equal readings", () => {
    put("a.xlsx", "coil;turns\n");
    const patient = inboxOf();
    poll(patient);
    expect(poll(patient, 29_999)).toMatchObject({ ready: [], waiting: ["a.xlsx is no workbook so far"] });
    expect(poll(patient, 1).ready).toEqual(["a.xlsx"]);
    const hasty = inboxOf(true);
    expect(poll(hasty).ready).toEqual([]);
    expect(poll(hasty, QUIET).ready).toEqual(["a.xlsx"]);
  });

  it("is empty: waits a quarter of an hour, or two equal readings in a drain", () => {
    put("a.xlsx", "");
    const patient = inboxOf();
    poll(patient);
    expect(poll(patient, 15 * 60_000 - 1)).toMatchObject({ ready: [], waiting: ["a.xlsx is empty so far"] });
    expect(poll(patient, 1).ready).toEqual(["a.xlsx"]);
    const hasty = inboxOf(true);
    poll(hasty);
    expect(poll(hasty, QUIET).ready).toEqual(["a.xlsx"]);
  });
});

describe("a file that is left alone", () => {
  it("is named meanwhile and comes again after the time, or when it changes", () => {
    const path = put("a.xlsx");
    const inbox = inboxOf();
    poll(inbox);
    const [file] = poll(inbox, QUIET).raw.ready;
    if (file === undefined) throw new Error("not ready");
    inbox.leave(file, 10_000, "is held by another program");
    expect(poll(inbox, 9_999)).toMatchObject({ ready: [], waiting: ["a.xlsx is held by another program"] });
    expect(poll(inbox, 1).ready).toEqual(["a.xlsx"]);
    inbox.leave(file, Number.POSITIVE_INFINITY, "is held by another program");
    expect(poll(inbox, 1e9).ready).toEqual([]);
    appendFileSync(path, "");
    utimesSync(path, new Date(2026, 1, 3), new Date(2026, 1, 3));
    poll(inbox);
    expect(poll(inbox, QUIET).ready).toEqual(["a.xlsx"]);
  });
});
