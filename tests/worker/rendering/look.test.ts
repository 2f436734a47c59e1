/** The laboratory's own paper: logo, colour and foot from the settings. */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { createRenderer, lookOf } from "../../../worker/rendering/index.ts";
import { type Lab, readSettings } from "../../../worker/settings/settings.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { ISSUE, inventedCertificate } from "../../helpers/invented-records.ts";
import { structureFaults } from "../../helpers/pdf-structure.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());
const LOGO = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 10"><path d="M0 0h40v10H0z" fill="#0a4a6b"/></svg>';

function labWith(documents: object): Lab {
  mkdirSync(folder.path, { recursive: true });
  writeFileSync(join(folder.path, "logo.svg"), LOGO);
  writeFileSync(join(folder.path, "large.png"), new Uint8Array(300_001));
  return { folder: folder.path, data: folder.path, settings: readSettings(JSON.stringify({ documents }), "coilbook.json", {}) };
}

describe("settings of the look", () => {
  it.each([
    [{ logo: "logo.gif" }, 'found "logo.gif"'],
    [{ logo: "nowhere.svg" }, 'found "nowhere.svg"'],
    [{ logo: "large.png" }, "accepted are at most 300000"],
  ])("%j is refused and named", (documents, text) => {
    expect(() => lookOf(labWith(documents))).toThrow(text);
  });

  /** @source WCAG 2.2, 1.4.3: 4.5 : 1; #767676 on white is 4.54, #777777 is 4.48 (published examples) */
  it.each([
    ["", true],
    ["#000000", true],
    ["#767676", true],
    ["#777777", false],
    ["#ffcc00", false],
    ["0a4a6b", false],
    ["#0a4", false],
  ])("colour %s is accepted: %s", (colour, accepted) => {
    const read = (): Lab => labWith({ colour });
    if (accepted) expect(lookOf(read()).colour ?? "").toBe(colour);
    else expect(read).toThrow("documents.colour");
  });

  it("methods come from the file or, as JSON, from the environment", () => {
    expect(labWith({ methods: { torsion: "ISO 7800:2012" } }).settings.documents.methods).toEqual({ torsion: "ISO 7800:2012" });
    const environment = { COILBOOK_DOCUMENTS_METHODS: '{"wrap":"ISO 7802:2013"}' };
    expect(readSettings("{}", "coilbook.json", environment).documents.methods).toEqual({ wrap: "ISO 7802:2013" });
  });
});

it("a logo is a picture with a name, a colour changes the page, and both stay conforming", async () => {
  const plain = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
  const own = createRenderer({ browserPath: "", browsers: 1, paper: "A4", look: lookOf(labWith({ logo: "logo.svg", colour: "#0a4a6b" })) });
  try {
    const [a, b] = [await plain.render(inventedCertificate(1), ISSUE, "pdf"), await own.render(inventedCertificate(1), ISSUE, "pdf")];
    expect(Buffer.from(a).equals(Buffer.from(b))).toBe(false);
    expect(await structureFaults(b)).toEqual([]);
    expect(Buffer.from(b).toString("latin1")).toContain("/Alt (Logo of Quillmark Wire");
    expect(Buffer.from(a).toString("latin1")).not.toContain("/Alt (Logo of");
  } finally {
    await plain.close();
    await own.close();
  }
});
