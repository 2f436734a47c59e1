import { Command } from "commander";
import { requirePerson } from "../registers.ts";
import type { KeyState } from "../seal/keys.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

type KeyFlags = LabFlags & { readonly by: string };

const line = (key: KeyState): string =>
  `${key.kid}  made ${key.madeAt} by ${key.madeBy}${key.retiredAt === undefined ? "" : `, retired ${key.retiredAt} by ${key.retiredBy}`}`;

export function keyCommand(): Command {
  const key = new Command("key").description("keys that seal documents");
  key.addCommand(
    labCommand("new", "makes a key; from now on documents are sealed with it", 'coilbook key new --by "Q. Example"')
      .requiredOption("--by <person>", "a person of the role quality or admin")
      .action(async (flags: KeyFlags) => {
        const { makeKey } = await import("../seal/keys.ts");
        const { writeSealFiles } = await import("../seal/register-files.ts");
        await inWorkshop(flags, async (workshop) => {
          const { ledger, lab, clock } = workshop;
          const person = await requirePerson(ledger, flags.by, ["quality", "admin"]);
          const made = await makeKey(lab.data, lab.settings.lab.name, clock.now(), person.name);
          await writeSealFiles(workshop);
          answer(flags, { schema: "key-new/1", ...made }, () => line(made));
        });
      }),
  );
  key.addCommand(
    labCommand(
      "retire",
      "a key that seals nothing new; what it sealed stays verifiable",
      'coilbook key retire NRh9r0HoDy --by "Q. Example"',
    )
      .argument("<key>", "its name or the beginning of it")
      .requiredOption("--by <person>", "a person of the role quality or admin")
      .action(async (named: string, flags: KeyFlags) => {
        const { retireKey } = await import("../seal/keys.ts");
        const { writeSealFiles } = await import("../seal/register-files.ts");
        await inWorkshop(flags, async (workshop) => {
          const { ledger, lab, clock } = workshop;
          const person = await requirePerson(ledger, flags.by, ["quality", "admin"]);
          const retired = retireKey(lab.data, named, clock.now(), person.name);
          await writeSealFiles(workshop);
          answer(flags, { schema: "key-retire/1", ...retired }, () => line(retired));
        });
      }),
  );
  key.addCommand(
    labCommand("list", "the keys, oldest first, with the file of each public key", "coilbook key list").action(async (flags: LabFlags) => {
      const { listKeys, publicKeyText } = await import("../seal/keys.ts");
      await inWorkshop(
        flags,
        async ({ lab }) => {
          const keys = listKeys(lab.data).map((state) => ({ ...state, publicKey: publicKeyText(lab.data, state.kid) }));
          answer(flags, { schema: "key-list/1", keys }, () =>
            keys.length === 0
              ? "No key yet: the first one is made when the first document is sealed."
              : keys.map((state) => `${line(state)}\n  register/key-${state.kid}.pem`).join("\n"),
          );
        },
        { readOnly: true },
      );
    }),
  );
  return key;
}
