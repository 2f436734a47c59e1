import type { Command } from "commander";
import type { Coil, OrderItem, OrderVerdict } from "../../core/model.ts";
import { toLabelsRecord } from "../../templates/label/record.ts";
import { toRetestRecord } from "../../templates/retest/record.ts";
import { type DocumentState, labParty } from "../documents/life.ts";
import { UsageError } from "../errors.ts";
import { safeName, writeAtomically } from "../files.ts";
import { itemKey } from "../judge-lab.ts";
import { createRenderer, lookOf } from "../rendering/index.ts";
import type { Workshop } from "../workshop.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";
import { judgedItem } from "./judged-item.ts";
import { listed } from "./wire.ts";

const KINDS = ["retest-order", "labels"] as const;
type PrintFlags = LabFlags & { item?: string; coils?: string[]; out?: string };

/** Papers of the bench and the yard: no number, no seal, nothing kept. */
export function printCommand(): Command {
  return labCommand("print", "a retest order for the bench, or labels for coils", "coilbook print retest-order O-1001 --out retest.pdf")
    .argument("<kind>", KINDS.join(" or "))
    .argument("<order>", "order number")
    .option("--item <item>", "item, where the order has several")
    .option("--coils <coil...>", "labels: these coils only")
    .option("--out <file>", "the PDF to write (else <kind>-<order>.pdf)")
    .action(async (kind: string, name: string, flags: PrintFlags) => {
      if (!KINDS.some((known) => known === kind)) throw new UsageError(`print: found "${kind}", accepted are ${KINDS.join(", ")}`);
      await inWorkshop(flags, async (workshop) => {
        const { order, verdict } = await judgedItem(workshop.ledger, name, flags.item);
        const record = kind === "labels" ? await labels(workshop, order, verdict, flags.coils) : retest(workshop, order, verdict);
        const day = workshop.today();
        const renderer = createRenderer({
          browserPath: workshop.lab.settings.browser.path,
          browsers: 1,
          paper: workshop.lab.settings.paper,
          look: lookOf(workshop.lab),
        });
        const out = flags.out ?? `${kind}-${safeName(order.order)}.pdf`;
        try {
          writeAtomically(out, await renderer.render(record, { number: `${kind} ${name}`, issuedOn: day, signedBy: [] }, "pdf"));
        } finally {
          await renderer.close();
        }
        answer(flags, { schema: "print/1", kind, file: out, order: order.order, item: order.item }, () => out);
      });
    });
}

const retest = ({ lab }: Workshop, order: OrderItem, verdict: OrderVerdict) => toRetestRecord(order, verdict, labParty(lab.settings));

async function labels({ ledger, lab }: Workshop, order: OrderItem, verdict: OrderVerdict, wanted: readonly string[] | undefined) {
  const key = itemKey(order.order, order.item);
  const names = listed(wanted);
  const coils = (await ledger.list<Coil>("coil", key)).map((state) => state.value);
  const unknown = names?.find((coil) => !coils.some((c) => c.coil === coil));
  if (unknown !== undefined) throw new UsageError(`--coils: found "${unknown}", accepted are ${coils.map((c) => c.coil).join(", ")}`);
  const documents = (await ledger.list<DocumentState>("document", key)).map((state) => state.value);
  const numbers = documents
    .filter((d) => d.kind === "certificate" && d.number !== undefined)
    .flatMap((d) => d.coils.map((coil) => [coil, d.number ?? ""] as const));
  return toLabelsRecord(
    order,
    verdict,
    coils.filter((coil) => names === undefined || names.includes(coil.coil)),
    labParty(lab.settings),
    new Map(numbers),
  );
}
