import { existsSync } from "node:fs";
import { basename } from "node:path";
import { Command } from "commander";
import { canonicalContent, describeLibrary, type SpecificationSummary } from "../../core/spec/index.ts";
import { UsageError } from "../errors.ts";
import { requirePerson } from "../registers.ts";
import { findLab } from "../settings/settings.ts";
import { type Adoption, adoptionOf, checkSpecificationFile, contentHash, loadLibrary } from "../specifications.ts";
import { hasLedger } from "../workshop.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

/** Adoption as the lab's ledger knows it; without a lab nothing is adopted. */
async function adopted(flags: LabFlags): Promise<(specification: string, edition: string) => boolean> {
  const lab = findLab(flags, process.env);
  if (lab === undefined || !hasLedger(lab)) return () => false;
  return inWorkshop(flags, async (workshop) => adoptionOf(workshop.ledger, workshop.library), { readOnly: true });
}

export function specCommand(): Command {
  const spec = new Command("spec").description("specifications: list, show, check, adopt");
  spec.addCommand(
    labCommand("list", "the specifications held", "coilbook spec list").action(async (flags: LabFlags) => {
      const isAdopted = await adopted(flags);
      const library = loadLibrary(findLab(flags, process.env)?.folder);
      const contents = library.list().map((s) => contentHash(s.data));
      const held = describeLibrary(library).map((s, index) => ({
        ...s,
        provenance: provenanceWords(s),
        adopted: isAdopted(s.id, s.edition),
        content: contents[index],
      }));
      answer(flags, { schema: "spec-list/1", specifications: held }, () =>
        held
          .map(
            (s) =>
              `${s.id.padEnd(16)} ${s.edition.padEnd(12)} ${s.grades.join(" ").padEnd(28)} ${s.adopted ? "adopted" : "not adopted"}, ${s.provenance}`,
          )
          .join("\n"),
      );
    }),
  );
  spec.addCommand(
    labCommand("show", "one specification with its tables", 'coilbook spec show "EN 10270-1"')
      .argument("<id>", "designation, with or without edition")
      .action(async (id: string, flags: LabFlags) => {
        const found = loadLibrary(findLab(flags, process.env)?.folder).find(id);
        if (found === undefined) throw new UsageError(`spec show: found "${id}", which is not held; "coilbook spec list" names what is`);
        const isAdopted = (await adopted(flags))(found.id, found.edition);
        answer(flags, { schema: "spec-show/1", ...found.data, content: contentHash(found.data), adopted: isAdopted }, () =>
          [
            `${found.id} (edition ${found.edition}): ${found.title}`,
            `grades: ${found.grades.join(", ") || "one only"}; ${isAdopted ? "adopted" : "not adopted"}`,
            ...found.data.tables.map(
              (t) =>
                `${t.property}, ${t.clause}, ${t.unit || "in words"}, ${t.between}: ${t.rows.length} rows, ${t.rows.filter((r) => r.provenance === "read").length} read, ${t.rows.filter((r) => r.provenance === "memory").length} from memory`,
            ),
          ].join("\n"),
        );
      }),
  );
  spec.addCommand(
    labCommand("check", "checks a specification file of the lab", "coilbook spec check lab/specifications/own.json")
      .argument("<file>", "JSON file")
      .action((file: string, flags: LabFlags) => {
        if (!existsSync(file)) throw new UsageError(`${file}: does not exist`);
        const found = checkSpecificationFile(file);
        const problems = found.ok ? [] : found.problems;
        answer(flags, { schema: "spec-check/1", file, ok: found.ok, problems }, () =>
          found.ok
            ? `${file}: ${found.specification.id} ${found.specification.edition} is accepted`
            : problems
                .map(
                  (p) =>
                    `[${basename(file)}]${p.path}: ${p.text}${p.found ? `, found ${p.found}` : ""}${p.accepted ? `, accepted ${p.accepted}` : ""}`,
                )
                .join("\n"),
        );
        if (!found.ok) process.exitCode = 2;
      }),
  );
  spec.addCommand(
    labCommand(
      "adopt",
      "records that a person compared the limits with the licensed text",
      'coilbook spec adopt "EN 10270-1" --by "Q. Example"',
    )
      .argument("<id>", "designation, with or without edition")
      .requiredOption("--by <person>", "a person of the role quality")
      .action(async (id: string, flags: LabFlags & { by: string }) => {
        await inWorkshop(flags, async (workshop) => {
          const found = workshop.library.find(id);
          if (found === undefined) throw new UsageError(`spec adopt: found "${id}", which is not held; "coilbook spec list" names what is`);
          const person = await requirePerson(workshop.ledger, flags.by, ["quality"]);
          const { judgeUnder } = await import("../process-file.ts");
          const adoption: Adoption = {
            specification: found.id,
            edition: found.edition,
            content: contentHash(found.data),
            by: person.name,
            on: workshop.today(),
          };
          await workshop.ledger.transaction(person.name, async (tx) => {
            await tx.append({
              kind: "specification-adopted",
              key: `${found.id}|${found.edition}`,
              payload: { ...adoption, tables: canonicalContent(found.data) },
            });
            await judgeUnder(workshop, tx, found.id, found.edition);
          });
          answer(
            flags,
            { schema: "spec-adopt/1", ...adoption },
            () => `${found.id} ${found.edition} adopted by ${person.name}; content ${adoption.content}`,
          );
        });
      }),
  );
  return spec;
}

/** How far the figures of a specification and the rules beside them can be trusted, in words. */
function provenanceWords({ rows, rules }: SpecificationSummary): string {
  if (rows.read === 0 && rows.memory === 0) return "own";
  const figures = rows.memory === 0 ? "read" : `${rows.read + rows.own} rows read, ${rows.memory} from memory`;
  return rules.memory === 0 ? figures : `${figures}, a rule beside the table from memory`;
}
