/** The decisions as they are typed: schemas, exit codes and one plain line an error (contract, section 5). The lab is the invented one. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { coilbook, expectRun, type Run, temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
const env = { COILBOOK_DOCUMENTS_FORMATS: "xlsx" };
const run = (...args: string[]): Run => coilbook([...args, "--lab", lab], { env });
const json = (...args: string[]): { schema: string } & Record<string, unknown> => JSON.parse(run(...args, "--json").out) as never;
const WHY = ["--why", "looked at", "--by"];
const [QUALITY, CLERK] = ["Ada Thornquist", "Wren Hollis"];
let good = "";
let coil = "";
let failing = "";

beforeAll(() => {
  expectRun([0], ["init", lab, "--example"]);
  expectRun([0], ["work", "--drain", "--lab", lab], { env });
  good = readdirSync(join(lab, "documents", "EX-001"))[0]?.replace(".xlsx", "") ?? "";
  const [notice] = json("notice", "list")["notices"] as [{ coils: string[] }];
  failing = notice.coils[0] ?? "";
  coil =
    (json("extent", "--instrument", "TT-1")["coils"] as { coil: string; order: string }[]).find((c) => c.order === "EX-001")?.coil ?? "";
}, 120_000);
afterAll(() => folder.remove());

describe("in the order in which a lab meets them", () => {
  it("a notice is listed, shown, contained, decided and closed", () => {
    const [{ number }] = json("notice", "list")["notices"] as [{ number: string }];
    expect(json("notice", "show", number)).toMatchObject({ schema: "notice-show/1", number, status: "raised", coils: [failing] });
    expect(json("notice", "contain", number, ...WHY, CLERK)).toMatchObject({ schema: "notice-contain/1", status: "contained" });
    expect(run("notice", "decide", number, "--as", "eat", ...WHY, QUALITY)).toMatchObject({
      status: 64,
      err: 'coilbook: --as: found "eat", accepted are scrap, concession, regrade, retest, return, release\n',
    });
    expect(run("notice", "close", number, ...WHY, QUALITY)).toMatchObject({
      status: 3,
      err: `coilbook: notice ${number}: nothing is decided of coil ${failing}\n`,
    });
    expect(json("notice", "decide", number, "--as", "scrap", ...WHY, QUALITY)).toMatchObject({
      schema: "notice-decide/1",
      status: "decided",
    });
    expect(json("notice", "close", number, ...WHY, QUALITY)).toMatchObject({ schema: "notice-close/1", status: "closed" });
    expect(json("notice", "list")["notices"]).toEqual([]);
  });

  it("a coil is held, seen so in the register, and released", () => {
    expect(json("hold", "--coil", coil, ...WHY, CLERK)).toMatchObject({ schema: "hold/1", scope: "coil", id: coil });
    expect(run("hold", "--coil", coil, ...WHY, CLERK).status).toBe(3);
    expect(run("ship", "EX-001", "--coils", coil, "--note", "L-1", "--by", CLERK)).toMatchObject({ status: 3 });
    expectRun([0], ["register", "--lab", lab]);
    expect(readFileSync(join(lab, "register", "index.html"), "utf8")).toContain(`▨</td><td>${coil}</td><td>held since`);
    expect(run("release", "--coil", coil, ...WHY, CLERK).err).toContain("this needs quality");
    expect(json("release", "--coil", coil, ...WHY, QUALITY)).toMatchObject({ schema: "release/1" });
  });

  it("a document is sent once; its coil is shipped once; asking for the extent changes nothing", () => {
    expect((json("send", good)["mails"] as { fresh: boolean }[]).map((mail) => mail.fresh)).toEqual([true]);
    expect(run("send", good).status).toBe(0);
    expect((json("send", good)["mails"] as { fresh: boolean }[]).map((mail) => mail.fresh)).toEqual([false]);
    expect(readdirSync(join(lab, "mail")).length).toBe(1);
    expect(json("ship", "EX-001", "--coils", coil, "--note", "L-1", "--by", CLERK)).toMatchObject({ schema: "ship/1", note: "L-1" });
    expect(run("ship", "EX-001", "--coils", coil, "--note", "L-2").status).toBe(3);
    const facts = json("export", "--out", join(folder.path, "before.jsonl"))["facts"];
    expect(json("extent", "--coil", coil)).toMatchObject({ schema: "extent/1", shipped: [coil], documentSent: [coil], here: [] });
    expect(json("extent", "--instrument", "TM-1", "--error", "+0.1 %")["schema"]).toBe("extent/1");
    expect(json("export", "--out", join(folder.path, "after.jsonl"))["facts"]).toBe(facts);
  });

  it("a document is withdrawn", () => {
    expect(run("confirm", good, ...WHY, QUALITY)).toMatchObject({ status: 3, err: `coilbook: document ${good} is not in question\n` });
    expect(run("amend", good, ...WHY, QUALITY).err).toContain("says what is known now");
    expect(json("withdraw", good, ...WHY, QUALITY)).toMatchObject({ schema: "withdraw/1", status: "withdrawn" });
    expect(run("send", good, "--to", "a@b.example").status).toBe(3);
    // The signed list that customers look at says so at once.
    const payload = readFileSync(join(lab, "register", "withdrawn.jws"), "utf8").split(".")[1] ?? "";
    expect(Buffer.from(payload, "base64url").toString()).toContain(good);
  });

  it("the ledger goes into an empty lab, and the limits are proved", () => {
    const file = join(folder.path, "ledger.jsonl");
    expect(json("export", "--out", file)["schema"]).toBe("export/1");
    expect(run("export", "--out", file).status).toBe(64);
    const empty = join(folder.path, "empty");
    expectRun([0], ["init", empty]);
    expectRun([0], ["import", file, "--lab", empty]);
    expect(coilbook(["import", file, "--lab", empty]).status).toBe(3);
    expect(coilbook(["import", join(lab, "coilbook.json"), "--lab", empty]).status).toBe(3);
    expectRun([0], ["rebuild", "--lab", empty]);
    const proof = join(folder.path, "proof");
    expect(json("prove", "--out", proof)).toMatchObject({ schema: "prove/1", ok: true });
    expect([".json", ".txt"].map((ending) => existsSync(proof + ending))).toEqual([true, true]);
    expect(run("prove", "--against", `${proof}.json`).status).toBe(0);
    expect(coilbook(["prove", "--lab", join(folder.path, "empty")]).status).toBe(3);
    expect(run("audit").status).toBe(0);
  });
});

describe("wrong use is one line", () => {
  it.each([
    { args: ["hold", ...WHY, CLERK], status: 64, err: /^coilbook: hold: found nothing to stop; accepted is one of --coil, --order/ },
    { args: ["hold", "--coil", "1", "--heat", "2", ...WHY, CLERK], status: 64, err: /found --coil and --heat/ },
    { args: ["hold", "--coil", "no-such", ...WHY, CLERK], status: 64, err: /coil no-such: is not known/ },
    { args: ["hold", "--coil", "1", "--by", CLERK], status: 64, err: /--why/ },
    { args: ["extent"], status: 64, err: /found nothing to ask about/ },
    {
      args: ["extent", "--instrument", "TM-1", "--error", "0,8"],
      status: 64,
      err: /--error: found "0,8", accepted is a size with its unit/,
    },
    { args: ["extent", "--heat", "H", "--error", "1 %"], status: 64, err: /--error is of an instrument/ },
    { args: ["extent", "--instrument", "TM-1", "--from", "3.3.2026"], status: 64, err: /--from: found "3\.3\.2026"/ },
    { args: ["send", "none"], status: 64, err: /document none: no document of this number was issued/ },
    { args: ["prove", "--specification", "none"], status: 64, err: /prove: none is not held/ },
    { args: ["prove", "--against", "none.json"], status: 2, err: /--against none\.json: cannot be read/ },
    { args: ["import", "none.jsonl"], status: 2, err: /import: none\.jsonl is not there/ },
  ])("$args", ({ args, status, err }) => {
    const done = run(...args);
    expect(done.err).toMatch(err);
    expect([done.status, done.err.trim().split("\n").length]).toEqual([status, 1]);
  });
});
