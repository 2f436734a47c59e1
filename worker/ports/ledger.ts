/**
 * The ledger keeps facts and derives states from them. A fact is never changed; a state can always be made again.
 * One transaction writes facts, the states they lead to, and the outbox rows of the work they ask for.
 */
export type FactKind =
  | "file-received"
  | "file-refused"
  | "order-registered"
  | "coil-registered"
  | "heat-registered"
  | "agreed-registered"
  | "instrument-registered"
  | "instrument-changed"
  | "person-changed"
  | "customer-changed"
  | "specification-adopted"
  | "row-read"
  | "row-unread"
  | "row-mended"
  | "judged"
  | "settled"
  | "held"
  | "released"
  | "conceded"
  | "shipped"
  | "document-drafted"
  | "document-signed"
  | "document-written"
  | "document-failed"
  | "document-superseded"
  | "document-questioned"
  | "document-confirmed"
  | "document-withdrawn"
  | "document-replaced"
  | "notice-raised"
  | "notice-changed"
  | "mail-changed"
  | "digest-written";

export interface NewFact {
  readonly kind: FactKind;
  /** Names the thing the fact is about; states are kept under it. */
  readonly key: string;
  readonly payload: object;
}

export interface Fact extends NewFact {
  readonly seq: number;
  /** ISO time. */
  readonly recordedAt: string;
  /** The person or `worker`. */
  readonly recordedBy: string;
  /** The operating system's account. */
  readonly account: string;
  readonly program: string;
  /** Sequence of the last fact of this kind and key, which this one supersedes. */
  readonly supersedes: number | null;
  readonly previousHash: string;
  readonly hash: string;
}

export type StateKind =
  | "order"
  | "coil"
  | "heat"
  | "agreed"
  | "instrument"
  | "person"
  | "customer"
  | "adoption"
  | "row"
  | "unread"
  | "verdict"
  | "settlement"
  | "hold"
  | "concession"
  | "shipment"
  | "mail"
  /** Ways to find coils: by heat, by the coil they were cut from, by an instrument that any of their rows ever named. */
  | "coil-of-heat"
  | "daughter"
  | "tested-with"
  | "file"
  | "document"
  | "notice"
  | "series"
  | "number"
  | "digest";

export interface State<T = unknown> {
  readonly kind: StateKind;
  readonly key: string;
  /** What it belongs to: the order item of a coil, the coil of a row. */
  readonly owner: string;
  readonly value: T;
}

export interface OutboxEntry {
  readonly job: string;
  /** Names the work, not the attempt. */
  readonly key: string;
  readonly payload: object;
  /** The lower goes first. 0 where none is given: somebody waits for it. */
  readonly priority?: number;
}

export interface LedgerReader {
  get<T>(kind: StateKind, key: string): Promise<T | undefined>;
  /** All of a kind, or those of one owner, in key order. */
  list<T>(kind: StateKind, owner?: string): Promise<readonly State<T>[]>;
  /** Facts in order, optionally of some kinds, of one key, up to a time. */
  facts(filter?: { readonly kinds?: readonly FactKind[]; readonly key?: string; readonly until?: string }): Promise<readonly Fact[]>;
}

export interface LedgerTransaction extends LedgerReader {
  append(fact: NewFact): Promise<Fact>;
  enqueue(entry: OutboxEntry): Promise<void>;
}

export interface AuditFinding {
  readonly seq?: number;
  readonly text: string;
}

export interface Ledger extends LedgerReader {
  /** Runs `work` in one immediate transaction. @param by the person or `worker` */
  transaction<T>(by: string, work: (tx: LedgerTransaction) => Promise<T>): Promise<T>;
  /** Makes every state again from the facts. */
  rebuild(): Promise<void>;
  /** Names the first altered, missing or added fact; where there is none, every state that a rebuild would not give. */
  audit(): Promise<readonly AuditFinding[]>;
  close(): Promise<void>;
}
