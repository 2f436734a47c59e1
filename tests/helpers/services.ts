/** PostgreSQL and Redis of a test's own: in a temporary folder, on a free port, ended with the test. */
import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { chmodSync, mkdirSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { connect as connectTo, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import pg from "pg";
import { toolPath } from "./tools.ts";

const START_MS = 60_000;
/** After a crash it would flush every file of its folder one by one. */
const QUICK = ["-c", "recovery_init_sync_method=syncfs"] as const;

export const freePort = (): Promise<number> =>
  new Promise((resolve, reject) => {
    const server = createServer();
    server.once("error", reject);
    server.listen(0, "127.0.0.1", () => {
      const { port } = server.address() as { port: number };
      server.close(() => resolve(port));
    });
  });

const listens = (port: number): Promise<boolean> =>
  new Promise((resolve) => {
    const socket = connectTo({ port, host: "127.0.0.1" });
    socket.once("connect", () => {
      socket.destroy();
      resolve(true);
    });
    socket.once("error", () => resolve(false));
  });

async function until(what: string, holds: () => Promise<boolean>): Promise<void> {
  for (const started = performance.now(); !(await holds()); ) {
    if (performance.now() - started > START_MS) throw new Error(`${what} did not start within ${START_MS / 1000} s`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

const ended = (child: ChildProcess): Promise<void> =>
  new Promise((resolve) => {
    if (child.exitCode !== null || child.signalCode !== null) resolve();
    else child.once("exit", () => resolve());
  });

export interface TestService {
  readonly url: string;
  start(): Promise<void>;
  /** @param signal SIGKILL is the power that goes */
  stop(signal?: NodeJS.Signals): Promise<void>;
  remove(): Promise<void>;
}

export interface TestRedis extends TestService {
  /** Everything it holds is gone, as after a loss of its disk. */
  lose(): void;
}

export async function startRedis(): Promise<TestRedis> {
  const folder = mkdtempSync(join(tmpdir(), "coilbook-redis-"));
  const port = await freePort();
  let child: ChildProcess | undefined;
  const redis: TestRedis = {
    url: `redis://127.0.0.1:${port}`,
    async start() {
      const options = [
        "--port",
        String(port),
        "--bind",
        "127.0.0.1",
        "--dir",
        folder,
        "--appendonly",
        "yes",
        "--maxmemory-policy",
        "noeviction",
      ];
      child = spawn("redis-server", options, { stdio: "ignore" });
      await until("redis-server", () => listens(port));
    },
    async stop(signal = "SIGTERM") {
      child?.kill(signal);
      if (child !== undefined) await ended(child);
    },
    lose() {
      for (const name of readdirSync(folder)) rmSync(join(folder, name), { recursive: true, force: true });
    },
    async remove() {
      await this.stop("SIGKILL");
      rmSync(folder, { recursive: true, force: true });
    },
  };
  await redis.start();
  return redis;
}

export interface TestPostgres extends TestService {
  /** A new empty database. @returns its address */
  database(): Promise<string>;
}

/** The server refuses to run as root: there it runs as the user that its Debian package made. */
function runner(): { prefix: readonly string[]; own(folder: string): void } {
  if (process.getuid?.() !== 0) return { prefix: [], own: () => undefined };
  return {
    prefix: ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"],
    own(folder) {
      const done = spawnSync("chown", ["-R", "postgres:postgres", folder], { encoding: "utf8" });
      if (done.status !== 0) throw new Error(`chown: ${done.stderr}`);
    },
  };
}

export async function startPostgres(): Promise<TestPostgres> {
  const folder = mkdtempSync(join(tmpdir(), "coilbook-postgres-"));
  chmodSync(folder, 0o755);
  const { prefix, own } = runner();
  const data = join(folder, "data");
  mkdirSync(data);
  own(data);
  const run = (name: string, ...args: readonly string[]): readonly [string, string[]] => {
    const [program = "", ...rest] = [...prefix, toolPath(name), ...args];
    return [program, rest];
  };
  const [init, initArgs] = run("initdb", "-D", data, "-U", "coilbook", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "-N");
  const made = spawnSync(init, initArgs, { encoding: "utf8", cwd: folder, timeout: 120_000 });
  if (made.status !== 0) throw new Error(`initdb: ${made.stderr}${made.stdout}`);
  const port = await freePort();
  let child: ChildProcess | undefined;
  let count = 0;
  const ask = async (statement: string): Promise<void> => {
    const client = new pg.Client({ host: "127.0.0.1", port, user: "coilbook", database: "postgres", connectionTimeoutMillis: 5000 });
    await client.connect();
    try {
      await client.query(statement);
    } finally {
      await client.end();
    }
  };
  const postgres: TestPostgres = {
    url: `postgres://coilbook@127.0.0.1:${port}/postgres`,
    async start() {
      const [program, args] = run("postgres", "-D", data, "-p", String(port), "-h", "127.0.0.1", "-k", data, ...QUICK);
      child = spawn(program, args, { stdio: "ignore", cwd: folder });
      await until("postgres", () =>
        ask("select 1").then(
          () => true,
          () => false,
        ),
      );
    },
    /** SIGINT is its fast stop, SIGQUIT its immediate one, which is like a crash. */
    async stop(signal = "SIGINT") {
      child?.kill(signal);
      if (child !== undefined) await ended(child);
    },
    async database() {
      count += 1;
      await ask(`create database lab${count} template template0`);
      return `postgres://coilbook@127.0.0.1:${port}/lab${count}`;
    },
    async remove() {
      await this.stop("SIGQUIT");
      rmSync(folder, { recursive: true, force: true });
    },
  };
  await postgres.start();
  return postgres;
}
