import type { Fact, FactKind, StateKind } from "../ports/ledger.ts";

/** One change of state that a fact leads to; `value` undefined removes it. */
export interface StateChange {
  readonly kind: StateKind;
  readonly key: string;
  readonly owner: string;
  readonly value: object | undefined;
  /** The key may never have been taken before. */
  readonly once?: boolean;
}

type Payload = Record<string, unknown>;
type Current = (kind: StateKind, key: string) => Promise<Payload | undefined>;
type Reducer = (
  fact: Pick<Fact, "seq" | "key" | "recordedAt" | "recordedBy"> & { payload: Payload },
  current: Current,
) => Promise<readonly StateChange[]> | readonly StateChange[];

const put =
  (kind: StateKind, ownerField?: string): Reducer =>
  (fact) => [{ kind, key: fact.key, owner: ownerField === undefined ? "" : String(fact.payload[ownerField] ?? ""), value: fact.payload }];

/** What a person or a late change said of a document is not undone by a file that is written or given up afterwards. */
const DECIDED: readonly unknown[] = ["in-question", "withdrawn", "replaced"];

/** A document with a number is signed as long as none of its files was given up. */
const standing = (before: Payload | undefined, failed: Record<string, unknown>): object => ({
  failed,
  status: DECIDED.includes(before?.["status"]) ? before?.["status"] : Object.keys(failed).length > 0 ? "failed" : "signed",
});

/** Patches what is kept under the fact's key; the owner stays. */
const patch =
  (kind: StateKind): Reducer =>
  async (fact, current) => {
    const before = await current(kind, fact.key);
    return [{ kind, key: fact.key, owner: String(before?.["owner"] ?? ""), value: { ...before, ...fact.payload } }];
  };

/** The person looked: the question is gone, and every such look stays with the document. */
const confirmDocument: Reducer = async (fact, current) => {
  const { question: _ended, ...before } = (await current("document", fact.key)) ?? {};
  const earlier = (before["confirmations"] as readonly unknown[] | undefined) ?? [];
  const value = { ...before, status: "signed", confirmations: [...earlier, fact.payload] };
  return [{ kind: "document", key: fact.key, owner: String(before["owner"] ?? ""), value }];
};

const registerCoil: Reducer = ({ key, payload }) => {
  const { heat, motherCoil } = payload;
  const found = { coil: key };
  return [
    { kind: "coil", key, owner: `${String(payload["order"])}/${String(payload["item"])}`, value: payload },
    ...(heat === undefined ? [] : [{ kind: "coil-of-heat" as const, key, owner: String(heat), value: found }]),
    ...(motherCoil === undefined ? [] : [{ kind: "daughter" as const, key, owner: String(motherCoil), value: found }]),
  ];
};

/** An instrument that a correction took out of the row stays findable: whoever looks reads the rows of the coil. */
const readRow: Reducer = ({ key, payload }) => {
  const { coil, row } = payload as { coil: string; row: { fields?: Record<string, { text: string } | undefined> } };
  const instruments = [row.fields?.["instrument"]?.text, row.fields?.["diameterInstrument"]?.text].filter((name) => name !== undefined);
  return [
    { kind: "row", key, owner: coil, value: payload },
    ...instruments.map((name) => ({ kind: "tested-with" as const, key: `${name}|${coil}`, owner: name, value: { coil } })),
  ];
};

/** What each kind of fact does to the states. Pure but for looking at the state it changes. */
export const REDUCERS: Readonly<Record<FactKind, Reducer>> = {
  "file-received": put("file", "sha256"),
  "file-refused": put("file", "sha256"),
  "order-registered": put("order"),
  "coil-registered": registerCoil,
  "heat-registered": put("heat", "heat"),
  "agreed-registered": (fact) => [
    { kind: "agreed", key: fact.key, owner: `${String(fact.payload["order"])}/${String(fact.payload["item"])}`, value: fact.payload },
  ],
  "instrument-registered": put("instrument", "instrument"),
  "instrument-changed": put("instrument", "instrument"),
  "person-changed": put("person"),
  "customer-changed": put("customer"),
  "specification-adopted": put("adoption"),
  "row-read": readRow,
  "row-unread": put("unread", "coil"),
  "row-mended": (fact) => [{ kind: "unread", key: fact.key, owner: "", value: undefined }],
  judged: put("verdict"),
  settled: put("settlement", "coil"),
  held: put("hold", "id"),
  released: (fact) => [{ kind: "hold", key: fact.key, owner: "", value: undefined }],
  conceded: put("concession", "coil"),
  shipped: put("shipment", "item"),
  "document-drafted": put("document", "owner"),
  "document-signed": async (fact, current) => {
    const series = (await current("series", String(fact.payload["series"])))?.["last"];
    return [
      ...(await patch("document")(fact, current)),
      {
        kind: "series",
        key: String(fact.payload["series"]),
        owner: "",
        value: { last: Math.max(Number(series ?? 0), Number(fact.payload["counter"])) },
      },
      // One list of numbers for all kinds of documents and all series: the second of a number cannot be entered.
      { kind: "number", key: String(fact.payload["number"]), owner: "", value: { document: fact.key }, once: true },
    ];
  },
  "document-written": async (fact, current) => {
    const before = await current("document", fact.key);
    const written = {
      ...(before?.["written"] as object | undefined),
      [String(fact.payload["format"])]: { path: fact.payload["path"], sha256: fact.payload["sha256"] },
    };
    // A file that could be written after all ends the failure it stood for.
    const failed = { ...(before?.["failed"] as Record<string, unknown> | undefined) };
    delete failed[String(fact.payload["format"])];
    const value = { ...before, written, ...standing(before, failed) };
    return [{ kind: "document", key: fact.key, owner: String(before?.["owner"] ?? ""), value }];
  },
  "document-failed": async (fact, current) => {
    const before = await current("document", fact.key);
    const failed = { ...(before?.["failed"] as object | undefined), [String(fact.payload["format"])]: fact.payload["reason"] };
    return [{ kind: "document", key: fact.key, owner: String(before?.["owner"] ?? ""), value: { ...before, ...standing(before, failed) } }];
  },
  // A draft has neither number nor file: what it said stays in its facts.
  "document-superseded": (fact) => [{ kind: "document", key: fact.key, owner: "", value: undefined }],
  "document-questioned": patch("document"),
  "document-confirmed": confirmDocument,
  "document-withdrawn": patch("document"),
  "document-replaced": patch("document"),
  "notice-raised": put("notice", "owner"),
  "notice-changed": patch("notice"),
  "mail-changed": put("mail", "number"),
  "digest-written": put("digest"),
};
