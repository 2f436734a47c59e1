/** The project's own jobs. Every handler bears running twice: it looks in the ledger before it acts. */
export interface JobPayloads {
  /** Puts the annotated copy, or the refusal, where the clerk looks for it. */
  "answer-file": { readonly receipt: string };
  "render-document": { readonly document: string; readonly format: "pdf" | "xlsx" };
}
export type JobName = keyof JobPayloads;
export type Handlers = { readonly [K in JobName]: (payload: JobPayloads[K]) => Promise<void> };
/** Told once a job is given up, before it counts as dead; bears running twice. */
export type GaveUp = { readonly [K in JobName]?: (payload: JobPayloads[K], reason: string) => Promise<void> };

export interface WaitingJobs {
  readonly due: number;
  readonly delayed: number;
  readonly dead: number;
}

export interface JobQueue {
  /** A key that is known is a no-op. */
  enqueue(name: JobName, payload: object, key: string): Promise<void>;
  /**
   * Runs what is due, up to `concurrency` at once; resolves with the number of jobs that ended.
   * @param pause asked before each job is taken: true leaves the rest for the next turn, so that the inbox is never kept waiting
   */
  runDue(handlers: Handlers, concurrency: number, gaveUp?: GaveUp, pause?: () => boolean): Promise<number>;
  /** Gives jobs that were given up another set of attempts; not those whose worker died over them. @returns how many */
  revive(): Promise<number>;
  waiting(): Promise<WaitingJobs>;
  /** Lets go of every connection of its own; jobs stay where they are. */
  close(): Promise<void>;
}

/** Another attempt cannot help. */
export class PermanentJobError extends Error {
  override name = "PermanentJobError";
}
