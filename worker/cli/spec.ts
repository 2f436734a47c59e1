import { Command } from "commander";
import { canonicalContent, describeLibrary, type HeldSpecification, tableText } from "../../core/spec/index.ts";
import { RuleRefusal, UsageError } from "../errors.ts";
import { requirePerson } from "../registers.ts";
import { type Adoption, adoptionStateOf, contentHash } from "../specifications.ts";
import type { Workshop } from "../workshop.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";
import { checkSpecificationCommand, diffCommand, formCommand } from "./spec-files.ts";
import { adoptionText, provenanceWords, standing, withShelf } from "./spec-standing.ts";

/** @throws UsageError where it is not held */
function demandHeld(command: string, found: HeldSpecification | undefined, id: string): HeldSpecification {
  if (found === undefined) throw new UsageError(`spec ${command}: found "${id}", which is not held; "coilbook spec list" names what is`);
  return found;
}

const listCommand = (): Command =>
  labCommand("list", "the specifications held", "coilbook spec list").action((flags: LabFlags) =>
    withShelf(flags, ({ library, adoptions }) => {
      const summaries = describeLibrary(library);
      const held = library.list().map((s, index) => ({ ...summaries[index], ...standing(s, adoptions) }));
      answer(flags, { schema: "spec-list/1", specifications: held }, () =>
        library
          .list()
          .map((s, index) => {
            const summary = summaries[index];
            const words = [adoptionText(adoptionStateOf(s, adoptions)), ...(summary === undefined ? [] : [provenanceWords(summary)])];
            return `${s.id.padEnd(16)} ${s.edition.padEnd(12)} ${s.grades.join(" ").padEnd(28)} ${words.join("; ")}`;
          })
          .join("\n"),
      );
    }),
  );

const showCommand = (): Command =>
  labCommand("show", "one specification with its tables", 'coilbook spec show "EN 10270-1"')
    .argument("<id>", "designation, with or without edition")
    .option("--edition <edition>", "an edition; else the newest held")
    .option("--rows", "every row, with what is known of its origin")
    .action((id: string, flags: LabFlags & { edition?: string; rows?: boolean }) =>
      withShelf(flags, ({ library, adoptions }) => {
        const found = demandHeld("show", library.find(id, flags.edition), id);
        answer(flags, { schema: "spec-show/1", ...found.data, ...standing(found, adoptions) }, () =>
          [
            `${found.id} (edition ${found.edition}): ${found.title}`,
            `grades: ${found.grades.join(", ") || "one only"}; ${adoptionText(adoptionStateOf(found, adoptions))}`,
            ...tableText(found.data, flags.rows === true),
          ].join("\n"),
        );
      }),
    );

/** The specification that is held under the name, and the edition of the text it was compared with. */
function toAdopt(workshop: Workshop, id: string, edition: string | undefined): { held: HeldSpecification; compared?: string } {
  const named = workshop.library.find(id, edition);
  if (named !== undefined) return { held: named };
  const held = demandHeld("adopt", workshop.library.find(id), id);
  // The reference names no edition of this table: the person says which one it was compared with.
  if (held.edition === "unstated" && edition !== undefined) return { held, compared: edition };
  const editions = workshop.library.list().flatMap((s) => (s.id === held.id ? [s.edition] : []));
  throw new RuleRefusal(
    `spec adopt ${held.id}: edition ${edition} is not held; held is ${editions.join(", ")}: a table is adopted for the edition it is of`,
  );
}

const adoptCommand = (): Command =>
  labCommand(
    "adopt",
    "records that a person compared the limits with the licensed text",
    'coilbook spec adopt "EN 10270-1" --by "Q. Example" --edition 2011',
  )
    .argument("<id>", "designation, with or without edition")
    .requiredOption("--by <person>", "a person of the role quality")
    .option("--edition <edition>", "the edition that was compared")
    .action(async (id: string, flags: LabFlags & { by: string; edition?: string }) => {
      await inWorkshop(flags, async (workshop) => {
        const { held, compared } = toAdopt(workshop, id, flags.edition);
        const person = await requirePerson(workshop.ledger, flags.by, ["quality"]);
        const { judgeUnder } = await import("../process-file.ts");
        const adoption: Adoption = {
          specification: held.id,
          edition: held.edition,
          ...(compared === undefined ? {} : { compared }),
          content: contentHash(held.data),
          by: person.name,
          on: workshop.today(),
        };
        await workshop.ledger.transaction(person.name, async (tx) => {
          await tx.append({
            kind: "specification-adopted",
            key: `${held.id}|${held.edition}`,
            payload: { ...adoption, tables: canonicalContent(held.data) },
          });
          await judgeUnder(workshop, tx, held.id, held.edition);
        });
        answer(
          flags,
          { schema: "spec-adopt/1", ...adoption },
          () =>
            `${held.id} ${held.edition} adopted by ${person.name}, compared with edition ${compared ?? held.edition}; content ${adoption.content}`,
        );
      });
    });

export function specCommand(): Command {
  const spec = new Command("spec").description("specifications: list, show, form, check, adopt, diff");
  for (const make of [listCommand, showCommand, formCommand, checkSpecificationCommand, adoptCommand, diffCommand]) spec.addCommand(make());
  return spec;
}
