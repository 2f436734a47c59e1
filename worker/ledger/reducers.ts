import type { Fact, FactKind, StateKind } from "../ports/ledger.ts";

/** One change of state that a fact leads to; `value` undefined removes it. */
export interface StateChange {
  readonly kind: StateKind;
  readonly key: string;
  readonly owner: string;
  readonly value: object | undefined;
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

const patchDocument: Reducer = async (fact, current) => {
  const before = await current("document", fact.key);
  return [{ kind: "document", key: fact.key, owner: String(before?.["owner"] ?? ""), value: { ...before, ...fact.payload } }];
};

/** What each kind of fact does to the states. Pure but for looking at the state it changes. */
export const REDUCERS: Readonly<Record<FactKind, Reducer>> = {
  "file-received": put("file"),
  "file-refused": put("file"),
  "order-registered": put("order"),
  "coil-registered": (fact) => [
    { kind: "coil", key: fact.key, owner: `${String(fact.payload["order"])}/${String(fact.payload["item"])}`, value: fact.payload },
  ],
  "heat-registered": put("heat", "heat"),
  "agreed-registered": (fact) => [
    { kind: "agreed", key: fact.key, owner: `${String(fact.payload["order"])}/${String(fact.payload["item"])}`, value: fact.payload },
  ],
  "instrument-registered": put("instrument", "instrument"),
  "instrument-changed": put("instrument", "instrument"),
  "person-changed": put("person"),
  "customer-changed": put("customer"),
  "specification-adopted": put("adoption"),
  "row-read": put("row", "coil"),
  "row-unread": put("unread", "coil"),
  "row-mended": (fact) => [{ kind: "unread", key: fact.key, owner: "", value: undefined }],
  judged: put("verdict"),
  settled: put("settlement", "coil"),
  "document-drafted": put("document", "owner"),
  "document-signed": async (fact, current) => {
    const series = (await current("series", String(fact.payload["series"])))?.["last"];
    return [
      ...(await patchDocument(fact, current)),
      {
        kind: "series",
        key: String(fact.payload["series"]),
        owner: "",
        value: { last: Math.max(Number(series ?? 0), Number(fact.payload["counter"])) },
      },
    ];
  },
  "document-written": async (fact, current) => {
    const before = await current("document", fact.key);
    const written = {
      ...(before?.["written"] as object | undefined),
      [String(fact.payload["format"])]: { path: fact.payload["path"], sha256: fact.payload["sha256"] },
    };
    return [{ kind: "document", key: fact.key, owner: String(before?.["owner"] ?? ""), value: { ...before, written } }];
  },
  "document-failed": patchDocument,
  "notice-raised": put("notice", "owner"),
  "digest-written": put("digest"),
};
