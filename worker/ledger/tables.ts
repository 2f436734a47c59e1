import type { Kysely, Transaction } from "kysely";

/** The tables of the store, as the ledger and the queue that lives in it see them. Times are ISO text, or milliseconds in jobs. */
export interface Tables {
  fact: {
    seq: number;
    kind: string;
    key: string;
    payload: string;
    recorded_at: string;
    recorded_by: string;
    account: string;
    program: string;
    supersedes: number | null;
    previous_hash: string;
    hash: string;
  };
  /** One row: how many facts there are and the hash of the last, so that a missing tail is seen. */
  anchor: { id: number; facts: number; last_hash: string };
  state: { kind: string; key: string; owner: string; value: string };
  outbox: { id?: number; job: string; key: string; payload: string; relayed: number; priority: number };
  job: {
    key: string;
    name: string;
    payload: string;
    state: string;
    attempts: number;
    run_after: number;
    locked_until: number;
    locked_by: string;
    error: string;
    /** The lower goes first. */
    priority: number;
  };
  /** Processes that have the store open for writing; a row that outlives its process tells of an unclean stop. */
  session: { id: string; host: string; pid: number; process_started: number };
  /** One row, made with the ledger. */
  identity: { id: number; value: string };
}

export type Db = Kysely<Tables> | Transaction<Tables>;
