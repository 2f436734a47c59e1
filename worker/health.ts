/** Says over HTTP whether the worker lives, whether it can work, and its figures. It shows no contents and changes nothing. */
import { createServer } from "node:http";
import { UsageError } from "./errors.ts";
import type { Metrics } from "./metrics.ts";

/** The inbox must have been listed within so long: the longest pause of a worker that is well. */
const LISTED_MS = 60_000;

/** What the worker's loop leaves for others to see. */
export interface Pulse {
  readonly startedAt: number;
  /** When the inbox was last listed, in milliseconds of the monotonic clock. */
  listedAt: number;
  /** Why the ledger or the queue cannot be reached just now. */
  away?: string;
  readonly metrics: Metrics;
}

export interface HealthServer {
  readonly port: number;
  close(): Promise<void>;
}

interface Check {
  readonly name: string;
  readonly ok: boolean;
  readonly text: string;
}

function checksOf(pulse: Pulse): readonly Check[] {
  const age = performance.now() - pulse.listedAt;
  return [
    {
      name: "inbox",
      ok: age < LISTED_MS,
      text: Number.isFinite(age) ? `listed ${Math.round(age / 1000)} s ago` : "not listed yet",
    },
    { name: "services", ok: pulse.away === undefined, text: pulse.away ?? "ledger and queue answered at the last turn" },
  ];
}

/**
 * `/health/live` answers as long as the process turns, `/health/ready` with 503 while it cannot work, `/metrics` in the text of Prometheus.
 * @param port 0 takes a free one @throws UsageError where the port is taken
 */
export async function startHealth(pulse: Pulse, port: number, host: string): Promise<HealthServer> {
  const server = createServer((request, response) => {
    const answer = (status: number, type: string, body: string): void => {
      response.writeHead(status, { "content-type": type, "cache-control": "no-store" });
      response.end(request.method === "HEAD" ? undefined : body);
    };
    const json = (status: number, body: object): void => answer(status, "application/json; charset=utf-8", `${JSON.stringify(body)}\n`);
    if (request.method !== "GET" && request.method !== "HEAD") return json(405, { error: "accepted are GET and HEAD" });
    switch (new URL(request.url ?? "/", "http://worker").pathname) {
      case "/health/live":
        return json(200, { schema: "health/1", ok: true, uptimeSeconds: Math.round((performance.now() - pulse.startedAt) / 1000) });
      case "/health/ready": {
        const checks = checksOf(pulse);
        const ok = checks.every((check) => check.ok);
        return json(ok ? 200 : 503, { schema: "health/1", ok, checks });
      }
      case "/metrics":
        return answer(200, "text/plain; version=0.0.4; charset=utf-8", pulse.metrics.text());
      default:
        return json(404, { error: "accepted are /health/live, /health/ready and /metrics" });
    }
  });
  server.requestTimeout = 10_000;
  await new Promise<void>((resolve, reject) => {
    server.once("error", (error) => reject(new UsageError(`--health-port: ${host}:${port} cannot be listened on (${error.message})`)));
    server.listen(port, host, () => resolve());
  });
  // It never keeps a worker alive that has nothing left to do.
  server.unref();
  return {
    port: (server.address() as { port: number }).port,
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };
}
