/** Writes docs/schema/ anew: node dist/scripts/record-schemas.js, after a change of a record. */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { publishedSchemas } from "../templates/record-schemas.ts";

const folder = join(process.cwd(), "docs", "schema");
mkdirSync(folder, { recursive: true });
for (const [name, content] of publishedSchemas()) writeFileSync(join(folder, name), content);
