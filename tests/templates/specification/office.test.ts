/** A form that was opened and saved by LibreOffice reads as before. */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { BUILT_IN, canonicalContent, specificationSchema } from "../../../core/spec/index.ts";
import { readSpecificationForm, specificationForm } from "../../../templates/specification/index.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { officeConvert } from "../../helpers/office.ts";
import { describeWith } from "../../helpers/tools.ts";

describeWith(["soffice"], "saved again by an office program", () => {
  test("every value is what it was, last zeros included", () => {
    const folder = temporaryFolder();
    const out = join(folder.path, "out");
    mkdirSync(out);
    // The specifications with the most kinds of content: conditions, chemistry, retest, conduct, sampling, words.
    const chosen = BUILT_IN.filter(({ id }) => ["EN 10270-1", "EN 50189", "ASTM A229", "JIS G 3522"].includes(id));
    const files = chosen.map((data) => {
      const file = join(folder.path, `${data.id.replaceAll(" ", "-")}.xlsx`);
      writeFileSync(file, specificationForm({ filled: data, base: data }));
      return file;
    });
    officeConvert(files, "xlsx", out);
    for (const [index, data] of chosen.entries()) {
      const saved = new Uint8Array(readFileSync(join(out, files[index]?.split("/").at(-1) ?? "")));
      const form = readSpecificationForm(saved);
      expect(form.problems).toEqual([]);
      expect(canonicalContent(specificationSchema.parse(form.json))).toBe(canonicalContent(data));
    }
    folder.remove();
  }, 120_000);
});
