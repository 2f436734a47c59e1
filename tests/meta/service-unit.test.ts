/** The unit for systemd. Figure: an exposure of at most 2.5 by systemd's own measure; a bare unit has 9.6. */
import { spawnSync } from "node:child_process";
import { expect, it } from "vitest";
import { projectPath } from "../helpers/cli.ts";
import { describeWith } from "../helpers/tools.ts";

const analyze = (...args: readonly string[]) => spawnSync("systemd-analyze", [...args], { encoding: "utf8" });

describeWith(["systemd-analyze"], "docs/ops/coilbook.service", () => {
  it("is closed as far as a browser and a compiler inside allow", () => {
    const done = analyze("security", "--offline=true", "--threshold=25", projectPath("docs", "ops", "coilbook.service"));
    expect(done.status, done.stdout + done.stderr).toBe(0);
  });

  it("is measured by a threshold that a bare unit would not pass", () => {
    const done = analyze("security", "--offline=true", "--threshold=25", projectPath("docs", "ops", "coilbook-nightly.service"));
    expect(done.status).not.toBe(0);
  });
});
