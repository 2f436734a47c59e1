import { execFile } from "node:child_process";
import { readFile } from "node:fs/promises";

const KIBIBYTE = 1024;

/** Memory that a process holds, buffers included, bytes; undefined where it has ended or cannot be looked at. */
export async function residentMemory(pid: number): Promise<number | undefined> {
  if (process.platform === "linux") {
    try {
      const status = await readFile(`/proc/${pid}/status`, "utf8");
      const kibibytes = /^VmRSS:\s+(\d+) kB$/m.exec(status)?.[1];
      return kibibytes === undefined ? undefined : Number(kibibytes) * KIBIBYTE;
    } catch {
      return undefined;
    }
  }
  return new Promise((resolve) => {
    const [command, args] =
      process.platform === "win32"
        ? ["powershell", ["-NoProfile", "-Command", `(Get-Process -Id ${pid}).WorkingSet64 / ${KIBIBYTE}`]]
        : ["ps", ["-o", "rss=", "-p", String(pid)]];
    execFile(command as string, args as string[], (error, out) => {
      const kibibytes = Number.parseInt(out, 10);
      resolve(error !== null || Number.isNaN(kibibytes) ? undefined : kibibytes * KIBIBYTE);
    });
  });
}
