/** Rounding, comparing and deciding: the reference's examples and the contract's details. */
import { describe, expect, test } from "vitest";
import { readReference } from "../spec/reference.ts";
import { ask, numberAt } from "./answers.ts";

describe("round (rounding-examples.csv)", () => {
  const rows = readReference("rounding-examples");
  test.for(rows)("$value to $step: $half_even, half up $half_up", (row) => {
    const question = { value: row["value"], step: row["step"] };
    for (const [ties, text] of [
      ["even", row["half_even"]],
      ["away", row["half_up"]],
    ] as const) {
      const rounded = ask("round", { ...question, ties })["text"];
      expect(Number(rounded)).toBe(Number(text));
      expect(String(rounded).split(".")[1]?.length ?? 0).toBe(row["step"]?.split(".")[1]?.length ?? 0);
    }
  });
  test.for(rows.filter((row) => row["limit"] !== ""))(
    "$value against $limit_kind $limit: rounded $verdict_rounding_method_half_even",
    (row) => {
      const limits = { [row["limit_kind"] ?? ""]: row["limit"] };
      for (const [method, verdict] of [
        ["round", row["verdict_rounding_method_half_even"]],
        ["absolute", row["verdict_absolute_method"]],
      ] as const)
        expect(ask("compare", { value: row["value"], ...limits, method, step: row["step"], ties: "even" })["outcome"]).toBe(
          verdict === "conforms" ? "conforms" : "does-not-conform",
        );
    },
  );
  test.for([
    // value, step, ties, text, source
    ["24.75", "1", "none", "24", "contract: whole turns, toward zero"],
    ["-24.75", "1", "none", "-24", "contract: toward zero"],
    ["-0.004", "0.01", "even", "0.00", "no negative zero (common practice, no source)"],
    ["2.5", "5", "even", "0", "tie between 0 and 5: the even multiple (ISO 80000-1 rule A)"],
    ["7.5", "5", "even", "10", "tie between 5 and 10: the even multiple"],
    [-2.5, 1, "away", "-3", "away from zero on both sides"],
    [1e-7, "0.0000001", "even", "0.0000001", "contract: a JSON number is its shortest decimal text"],
    ["2.675", 0.01, "even", "2.68", "a tie in decimals, none in binary"],
  ] as const)("%s to %s, %s: %s (%s)", ([value, step, ties, text]) => {
    expect(ask("round", { value, step, ties })).toEqual({ text });
  });
});

describe("compare", () => {
  test.for([
    // input, answer, source
    [{ value: "4.25", max: "4", method: "round" }, { outcome: "conforms", compared: "4" }, "E29: 4 is written to units"],
    [
      { value: "4.25", max: "4.0", method: "round" },
      { outcome: "does-not-conform", compared: "4.2", reason: "above-max" },
      "E29: 4.0 is written to tenths",
    ],
    [
      { value: "1.996", min: "1.99", max: "2.0", method: "round" },
      { outcome: "conforms", compared: "2.00" },
      "contract: of two limits the finer",
    ],
    [
      { value: "4.25", max: "4", method: "round", step: "0.1", ties: "away" },
      { compared: "4.3", reason: "above-max" },
      "step and ties given",
    ],
    [
      { value: "19.99", min: 20, method: "whole" },
      { outcome: "does-not-conform", compared: "19", reason: "below-min" },
      "contract: whole drops the part turn",
    ],
    [{ value: "20.9", max: 20, method: "whole" }, { outcome: "conforms", compared: "20" }, "contract: whole drops the part turn"],
    [{ value: "19.99", min: "20.0", method: "whole" }, { compared: "19" }, "whole turns, however the limit is written"],
    [{ value: "1959.9999", min: "1960", method: "absolute" }, { compared: "1959.9999", reason: "below-min" }, "E29 absolute method"],
    [{ value: "1960.000", min: "1960", max: "1960", method: "absolute" }, { outcome: "conforms" }, "both edges included"],
  ] as const)("%j gives %j (%s)", ([input, answer]) => {
    expect(ask("compare", input)).toMatchObject(answer);
  });
});

describe("decide (decision-rule-examples.csv)", () => {
  const rows = readReference("decision-rule-examples");
  const WORDS: Readonly<Record<string, string>> = {
    pass: "conforms",
    fail: "does-not-conform",
    "conditional pass": "undecided",
    "conditional fail": "undecided",
  };
  test.for(rows)("$case, $y", (row) => {
    const given = { value: row["y"], min: row["T_L"] || null, max: row["T_U"] || null, U: row["U_k2"] };
    const outcome = (rule: string, r?: string): unknown => ask("decide", { ...given, rule, r })["outcome"];
    expect(outcome("simple")).toBe(WORDS[row["simple_acceptance"] ?? ""]);
    expect(outcome("guarded")).toBe(WORDS[row["guard_band_w_U"] ?? ""]);
    expect(outcome("guarded", "0.83")).toBe(WORDS[row["guard_band_w_0.83U"] ?? ""]);
    // The reference calls everything outside the acceptance zone conditional; beyond w outside a limit it does not conform.
    const beyond = [row["T_L"] && Number(row["T_L"]) - Number(row["y"]), row["T_U"] && Number(row["y"]) - Number(row["T_U"])];
    const far = beyond.some((distance) => distance !== "" && Number(distance) > Number(row["U_k2"]) + 1e-9);
    expect(outcome("guarded-open")).toBe(far ? "does-not-conform" : WORDS[row["non_binary_w_U"] ?? ""]);
    expect(numberAt(ask("decide", { ...given, rule: "simple" }), "conformanceProbability")).toBeCloseTo(Number(row["p_conform"]), 5);
  });
  test.for([
    // input, answer, source
    [{ value: "1985.4", min: "1960", U: "25.4", rule: "guarded" }, { outcome: "conforms", acceptanceMin: "1985.4" }, "edges included"],
    [
      { value: "2.522", min: "2.475", max: "2.525", U: "0.003", rule: "guarded" },
      { outcome: "conforms", acceptanceMax: "2.522" },
      "in decimals (B3)",
    ],
    [{ value: "1934.6", min: "1960", U: "25.4", rule: "guarded-open" }, { outcome: "undecided" }, "w outside a limit, edge included"],
    [{ value: "1934.5", min: "1960", U: "25.4", rule: "guarded-open" }, { outcome: "does-not-conform" }, "more than w outside"],
    [
      { value: "1950", min: "1960", U: "25.4", rule: "guarded", r: -1 },
      { outcome: "conforms", acceptanceMin: "1934.6" },
      "r may be negative",
    ],
    [
      { value: "14.4", min: "12.5", max: "16.3", U: "3.6", rule: "guarded" },
      { outcome: "does-not-conform", acceptanceMin: "16.1", acceptanceMax: "12.7", emptyZone: true },
      "B3 edge case b: nothing can pass",
    ],
    [
      { value: "1960", min: "1960.0", U: "25", rule: "simple" },
      { outcome: "conforms", acceptanceMin: "1960.0", emptyZone: false },
      "simple: the limit itself",
    ],
    [
      { value: "1959.5", min: "1960", U: "25", rule: "simple" },
      { outcome: "conforms" },
      "without a guard band the value is rounded as the limit is written",
    ],
    [{ value: "1959.5", min: "1960", U: "25", rule: "simple", step: "0.1" }, { outcome: "does-not-conform" }, "step given"],
    [
      { value: "1960.5", max: "1960", U: "25", rule: "simple", ties: "away" },
      { outcome: "does-not-conform" },
      "ties given; even would conform",
    ],
    [
      { value: "1959.9", min: "1960", U: "25", rule: "guarded", r: 0 },
      { outcome: "does-not-conform" },
      "guard bands apply to the unrounded value",
    ],
    [{ value: "5", min: "5", U: 0, rule: "guarded" }, { outcome: "conforms", conformanceProbability: 1 }, "no uncertainty: certain"],
  ] as const)("%j gives %j (%s)", ([input, answer]) => {
    expect(ask("decide", input)).toMatchObject(answer);
  });
});
