/** How the laboratory's own paper looks: its logo and its colour. */
import { existsSync, readFileSync } from "node:fs";
import { extname, resolve } from "node:path";
import { UsageError } from "../errors.ts";
import type { Lab } from "../settings/settings.ts";

export interface Look {
  /** A data address of the picture. */
  readonly logo?: string;
  /** `#rrggbb`, for rules and headings; read on white. */
  readonly colour?: string;
}

const TYPES: Readonly<Record<string, string>> = { ".svg": "image/svg+xml", ".png": "image/png", ".jpg": "image/jpeg" };
/** A logo is printed on every document of the lab. */
const LARGEST_LOGO = 300_000;

/** @throws UsageError where the logo is not there, too large or of another kind */
export function lookOf({ folder, settings }: Lab): Look {
  const { logo, colour } = settings.documents;
  const own = colour === "" ? {} : { colour };
  if (logo === "") return own;
  const path = resolve(folder, logo);
  const type = TYPES[extname(path).toLowerCase()];
  if (type === undefined || !existsSync(path))
    throw new UsageError(`setting documents.logo, found "${logo}": accepted is an SVG, PNG or JPEG file of the lab's folder`);
  const bytes = readFileSync(path);
  if (bytes.length > LARGEST_LOGO)
    throw new UsageError(`setting documents.logo, found ${bytes.length} bytes: accepted are at most ${LARGEST_LOGO}`);
  return { ...own, logo: `data:${type};base64,${bytes.toString("base64")}` };
}
