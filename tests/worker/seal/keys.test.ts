/** Keys of a laboratory: which one seals what, and what two programs at once do. Times invented. */
import { mkdirSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { demandKey, type KeyState, keyFor, listKeys, makeKey, readPublicKey, retireKey } from "../../../worker/seal/keys.ts";
import { temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

const key = (kid: string, madeAt: string, retiredAt?: string): KeyState => ({
  kid,
  madeAt,
  madeBy: "Ada Thornquist",
  ...(retiredAt === undefined ? {} : { retiredAt }),
});

describe("the key for a document", () => {
  const [first, second] = [key("first", "2026-01-01"), key("second", "2026-06-01")];
  it.each([
    ["the newest made by then", [first, second], "2026-07-01", "second"],
    ["written again later: the one of its own time", [first, second], "2026-03-01", "first"],
    ["retired since: still the one of its own time", [key("first", "2026-01-01", "2026-05-01"), second], "2026-03-01", "first"],
    ["not one that was retired by then", [first, key("second", "2026-06-01", "2026-06-15")], "2026-07-01", "first"],
    ["signed a moment before the first key was made", [first], "2025-12-31", "first"],
    ["none is left", [key("first", "2026-01-01", "2026-05-01")], "2026-05-01", undefined],
    ["there is none", [], "2026-05-01", undefined],
  ])("%s", (_, keys, issuedAt, wanted) => expect(keyFor(keys, issuedAt)?.kid).toBe(wanted));
});

describe("keys in the data folder", () => {
  it("two documents at once make one first key; two programs at once lose none", async () => {
    const data = join(folder.path, "at-once");
    const at = "2026-03-03T09:30:00.000Z";
    const [a, b] = await Promise.all([demandKey(data, "Example", at, new Date(at)), demandKey(data, "Example", at, new Date(at))]);
    expect(a.state.kid).toBe(b.state.kid);
    expect(listKeys(data)).toHaveLength(1);
    await Promise.all([1, 2].map(() => makeKey(data, "Example", new Date(at), "Ada Thornquist")));
    expect(new Set(listKeys(data).map((state) => state.kid)).size).toBe(3);
    expect(readdirSync(join(data, "keys")).sort()).toEqual(["1", "2", "3"]);
  }, 60_000);

  it("retires by the beginning of a name, once", async () => {
    const data = join(folder.path, "retire");
    const made = await makeKey(data, "Example", new Date("2026-01-01T00:00:00Z"), "Ada Thornquist");
    expect(() => retireKey(data, made.kid.slice(0, 3), new Date(), "Ada Thornquist")).toThrow(/accepted is the name of one key/);
    expect(() => retireKey(data, "nothing-such", new Date(), "Ada Thornquist")).toThrow(/found 0/);
    expect(retireKey(data, made.kid, new Date("2026-02-01T00:00:00Z"), "Ada Thornquist").retiredAt).toBe("2026-02-01T00:00:00.000Z");
    expect(() => retireKey(data, made.kid, new Date(), "Ada Thornquist")).toThrow(/was retired/);
  }, 60_000);

  it("names a folder that is no key, and a file that is no public key", () => {
    const data = join(folder.path, "odd");
    expect(listKeys(data)).toEqual([]);
    expect(() => readPublicKey("nonsense", "a.pem")).toThrow(/a\.pem holds no public key/);
    const odd = join(data, "keys", "1");
    mkdirSync(odd, { recursive: true });
    writeFileSync(join(odd, "key.json"), "not JSON");
    expect(() => listKeys(data)).toThrow(/key\.json: is no key of this program/);
  });
});
