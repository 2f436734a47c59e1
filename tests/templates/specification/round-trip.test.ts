/** Specification to form and back: nothing is lost, whatever the specification holds. */
import { describe, expect, test } from "vitest";
import { BUILT_IN, canonicalContent, specificationSchema } from "../../../core/spec/index.ts";
import { readSpecificationForm, specificationForm } from "../../../templates/specification/index.ts";

describe("every specification held goes through the form and back", () => {
  test.for(BUILT_IN.map((data) => [`${data.id} ${data.edition}`, data] as const))("%s", ([, data]) => {
    const form = readSpecificationForm(specificationForm({ filled: data }));
    expect(form.problems).toEqual([]);
    // The schema alone: some held tables have gaps, which the laboratory's own may not have.
    expect(canonicalContent(specificationSchema.parse(form.json))).toBe(canonicalContent(data));
  });
});
