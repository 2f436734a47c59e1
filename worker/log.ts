/** What the worker says: one line for a person, or one JSON object a line with the ids that lead from a file to its documents. */
import type { Clock } from "./clock.ts";

/** Names, never contents: no readings, no addresses of people, no passwords. */
export interface LogFields {
  readonly event: string;
  readonly level?: "info" | "warn" | "error";
  /** Of the file, relative to the inbox. */
  readonly file?: string;
  /** Of the file; the job that answers it carries the same. */
  readonly receipt?: string;
  readonly sha256?: string;
  /** Order items that a file touched; a document belongs to one. */
  readonly items?: readonly string[];
  readonly item?: string;
  readonly job?: string;
  readonly document?: string;
  readonly number?: string;
  readonly format?: string;
  readonly ms?: number;
}

export type Log = (line: string, about?: LogFields) => void;

export const silent: Log = () => undefined;

export const textLog =
  (write: (text: string) => void): Log =>
  (line, about) => {
    // For a person, jobs that are done say nothing new: the file and the document were named.
    if (about?.event !== "job-done") write(`${line}\n`);
  };

export const jsonLog =
  (write: (text: string) => void, clock: Clock): Log =>
  (line, about = { event: "said" }) => {
    const { event, level = "info", ...ids } = about;
    write(`${JSON.stringify({ time: clock.now().toISOString(), level, event, text: line, ...ids, pid: process.pid })}\n`);
  };
