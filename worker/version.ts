import { readFileSync } from "node:fs";

/** The program's version; the package file stands above `worker/` in the repository and above `dist/worker/` when built. */
export const VERSION: string = (() => {
  for (const path of ["../package.json", "../../package.json"]) {
    try {
      const parsed = JSON.parse(readFileSync(new URL(path, import.meta.url), "utf8")) as { name?: string; version?: string };
      if (parsed.name === "coilbook" && parsed.version) return parsed.version;
    } catch {
      // The other place holds it.
    }
  }
  return "0.0.0";
})();
