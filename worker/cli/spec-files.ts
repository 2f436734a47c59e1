/** Commands about specification files: a form to fill, the check of a filled one, and what differs between two. */
import { existsSync, statSync } from "node:fs";
import { basename } from "node:path";
import { type Command, Option } from "commander";
import {
  createSpecificationLibrary,
  problemText,
  type SpecificationData,
  type SpecificationDifference,
  specificationDifferences,
  specificationOfGrade,
  specificationSchema,
} from "../../core/spec/index.ts";
import { type FormContent, specificationForm } from "../../templates/specification/index.ts";
import { InputRefused, UsageError } from "../errors.ts";
import { writeAtomically } from "../files.ts";
import { findLab } from "../settings/settings.ts";
import { type OrderHit, openOrdersHit } from "../specification-hits.ts";
import { adoptionStateOf, checkSpecificationFile, contentHash, loadLibrary } from "../specifications.ts";
import { answer, type LabFlags, labCommand } from "./context.ts";
import { adoptionText, type Shelf, standing, withShelf } from "./spec-standing.ts";

type FormFlags = LabFlags & { readonly out: string; readonly extends?: string; readonly grade?: string; readonly from?: string };

export const formCommand = (): Command =>
  labCommand(
    "form",
    "a workbook in which the lab writes its own specification",
    'coilbook spec form --out own.xlsx --extends "EN 10270-1" --grade SM',
  )
    .requiredOption("--out <file>", "the workbook to write; it must not be there yet")
    .option("--extends <id>", "a held specification that the new one stands on; its rows are shown beside")
    .option("--grade <grade>", "one grade of it")
    .addOption(new Option("--from <file>", "a specification file of the lab to go on with, filled in").conflicts(["extends", "grade"]))
    .action((flags: FormFlags) => {
      if (!flags.out.toLowerCase().endsWith(".xlsx"))
        throw new UsageError(`spec form --out: found "${flags.out}", accepted is a name that ends in .xlsx`);
      if (existsSync(flags.out))
        throw new UsageError(`spec form --out: ${flags.out} is there already; accepted is a new name, so that nothing filled in is lost`);
      const content = formContent(flags);
      writeAtomically(flags.out, formBytes(flags, content));
      const { base } = content;
      answer(
        flags,
        {
          schema: "spec-form/1",
          file: flags.out,
          ...(base === undefined ? {} : { extends: { specification: base.id, edition: base.edition } }),
        },
        () => `${flags.out}: fill it in, then "coilbook spec check ${flags.out}"`,
      );
    });

function formBytes(flags: FormFlags, content: FormContent): Uint8Array {
  try {
    return specificationForm(content);
  } catch (error) {
    if (error instanceof RangeError) throw new InputRefused(`spec form: ${flags.from}: ${error.message}`);
    throw error;
  }
}

function formContent(flags: FormFlags): FormContent {
  const folder = findLab(flags, process.env)?.folder;
  if (flags.from !== undefined) {
    const { specification, written } = acceptedFile(flags.from, folder);
    const base =
      written.extends === undefined ? undefined : loadLibrary(folder).find(written.extends.specification, written.extends.edition)?.data;
    return { filled: written.extends === undefined ? specification : written, ...(base === undefined ? {} : { base }) };
  }
  if (flags.extends === undefined) {
    if (flags.grade !== undefined)
      throw new UsageError("spec form --grade: found without --extends, accepted is a grade of the specification it names");
    return {};
  }
  const base = loadLibrary(folder).find(flags.extends);
  if (base === undefined)
    throw new UsageError(`spec form --extends: found "${flags.extends}", which is not held; "coilbook spec list" names what is`);
  if (flags.grade !== undefined && !base.grades.includes(flags.grade))
    throw new UsageError(
      `spec form --grade: found "${flags.grade}", accepted are ${base.grades.join(", ") || "none: it has one grade only"}`,
    );
  const filled = {
    extends: { specification: base.id, edition: base.edition, ...(flags.grade === undefined ? {} : { grade: flags.grade }) },
  };
  return { filled, base: flags.grade === undefined ? base.data : specificationOfGrade(base.data, flags.grade) };
}

/** A file that is accepted, whole and as the lab wrote it. @throws UsageError, InputRefused with the first problem */
function acceptedFile(
  file: string,
  labFolder: string | undefined,
): { readonly specification: SpecificationData; readonly written: SpecificationData } {
  demandFile(file);
  const found = checkSpecificationFile(file, labFolder);
  if (found.ok) return { specification: found.specification, written: specificationSchema.parse(found.json) };
  const [first] = found.problems;
  throw new InputRefused(first === undefined ? `${file}: not accepted` : problemText(file, first));
}

function demandFile(file: string): void {
  if (!existsSync(file)) throw new UsageError(`${file}: does not exist`);
  if (statSync(file).isDirectory()) throw new UsageError(`${file}: is a folder; accepted is a file`);
}

export const checkSpecificationCommand = (): Command =>
  labCommand("check", "checks a specification of the lab, JSON or a filled form", "coilbook spec check own.xlsx --out own.json")
    .argument("<file>", "JSON file, or the workbook of spec form")
    .option("--out <file>", "where an accepted one is written as JSON")
    .action((file: string, flags: LabFlags & { out?: string }) =>
      withShelf(flags, ({ adoptions }) => {
        demandFile(file);
        const found = checkSpecificationFile(file, findLab(flags, process.env)?.folder);
        if (!found.ok) {
          answer(flags, { schema: "spec-check/1", file, ok: false, problems: found.problems }, () =>
            found.problems.map((problem) => problemText(basename(file), problem)).join("\n"),
          );
          process.exitCode = 2;
          return;
        }
        if (flags.out !== undefined) writeAtomically(flags.out, `${JSON.stringify(found.json, null, 2)}\n`);
        const [held] = createSpecificationLibrary([found.specification]).list();
        if (held === undefined) throw new Error(`${file} was accepted and is not held`);
        const { id, edition } = held;
        answer(
          flags,
          { schema: "spec-check/1", file, ok: true, problems: [], id, edition, ...standing(held, adoptions), specification: found.json },
          () => `${file}: ${id} ${edition} is accepted; ${adoptionText(adoptionStateOf(held, adoptions))}`,
        );
      }),
    );

interface Side {
  readonly name: string;
  readonly data: SpecificationData;
}

/** A file, a held specification, or one as it was adopted last. */
function sideOf(text: string, shelf: Shelf, labFolder: string | undefined): Side {
  if (/\.(json|xlsx)$/i.test(text) && existsSync(text)) return { name: text, data: acceptedFile(text, labFolder).specification };
  const held = shelf.library.find(text);
  if (held === undefined)
    throw new UsageError(`spec diff: found "${text}", accepted is a held specification ("coilbook spec list") or a file that exists`);
  return { name: `${held.id} ${held.edition}`, data: held.data };
}

/** The content somebody compared last, to be held against the content of now. */
function adoptedSide({ name, data }: Side, { adoptions }: Shelf): Side {
  const last = adoptions.findLast((a) => a.specification === data.id && a.edition === data.edition);
  if (last?.tables === undefined)
    throw new UsageError(`spec diff: found one specification, ${name}, which nobody adopted; accepted are two`);
  return { name: `${name} as ${last.by} adopted it on ${last.on}`, data: specificationSchema.parse(JSON.parse(last.tables)) };
}

export const diffCommand = (): Command =>
  labCommand(
    "diff",
    "rows that differ between two specifications, and the open orders they hit; of one, what changed since it was adopted",
    'coilbook spec diff "EN 10270-1" lab/specifications/own.xlsx',
  )
    .argument("<a>", "designation, with or without edition, or a specification file")
    .argument("[b]", "the other one; left out: as it was adopted last, against as it is held now")
    .action((first: string, second: string | undefined, flags: LabFlags) =>
      withShelf(flags, async (shelf) => {
        const folder = findLab(flags, process.env)?.folder;
        const given = sideOf(first, shelf, folder);
        const [a, b] = second === undefined ? [adoptedSide(given, shelf), given] : [given, sideOf(second, shelf, folder)];
        const differences = specificationDifferences(a.data, b.data);
        const orders = shelf.workshop === undefined ? [] : await openOrdersHit(shelf.workshop.ledger, shelf.library, a.data, b.data);
        answer(flags, { schema: "spec-diff/1", a: sideJson(a, shelf), b: sideJson(b, shelf), differences, orders }, () =>
          [
            ...[a, b].map((side, index) => `${"AB"[index]}: ${side.name}; ${sideAdoption(side, shelf)}`),
            ...(differences.length === 0 ? ["no row differs"] : differences.map(differenceText)),
            ...orders.flatMap(hitText),
          ].join("\n"),
        );
        if (differences.length > 0) process.exitCode = 1;
      }),
    );

function sideAdoption({ data }: Side, { adoptions }: Shelf): string {
  const [held] = createSpecificationLibrary([data]).list();
  return held === undefined ? "not adopted" : adoptionText(adoptionStateOf(held, adoptions));
}

function sideJson({ name, data }: Side, { adoptions }: Shelf): object {
  const [held] = createSpecificationLibrary([data]).list();
  return { name, id: data.id, edition: data.edition, ...(held === undefined ? { content: contentHash(data) } : standing(held, adoptions)) };
}

function differenceText({ part, property, grades, row, a, b, judged }: SpecificationDifference): string {
  const where = [property ?? part, ...(grades.length === 0 ? [] : [grades.join(" ")]), ...(row === undefined ? [] : [row])].join(", ");
  return `${where}: A ${a ?? "holds nothing"} | B ${b ?? "holds nothing"}${judged ? "" : " (no limit differs)"}`;
}

const hitText = ({ order, item, grade, nominalDiameter, requirements }: OrderHit): readonly string[] => [
  `open order ${order} item ${item}, ${grade === "" ? "" : `grade ${grade}, `}${nominalDiameter}:`,
  ...requirements.map(({ property, a, b }) => `  ${property}: A ${a} | B ${b}`),
];
