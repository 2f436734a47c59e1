/** The few rules of PDF syntax (ISO 32000-1, 7.2 and 7.3) that correcting a printed file needs. Text is Latin-1: one character a byte. */

const TOKEN =
  /%[^\r\n]*|\((?:\\[\s\S]|[^\\()]|\((?:\\[\s\S]|[^\\()])*\))*\)|<<|>>|<[0-9A-Fa-f\s]*>|[[\]{}]|\/[^\s()<>[\]{}/%]*|[^\s()<>[\]{}/%]+/g;

/** Every token with its place, from a place on. A string may hold one level of brackets, as the printer writes them. */
export function* tokensOf(text: string, from = 0): Generator<{ readonly token: string; readonly at: number }> {
  const pattern = new RegExp(TOKEN);
  pattern.lastIndex = from;
  for (let match = pattern.exec(text); match !== null; match = pattern.exec(text))
    if (!match[0].startsWith("%")) yield { token: match[0], at: match.index };
}

/**
 * The entries of a dictionary, each value as it is written. Entries of inner dictionaries stay inside their value.
 * @throws Error where the text is no dictionary
 */
export function entriesOf(dictionary: string): Map<string, string> {
  const entries = new Map<string, string>();
  let [depth, key, from] = [0, "", 0];
  const close = (end: number): void => {
    if (key !== "") entries.set(key, dictionary.slice(from, end).trim());
  };
  for (const { token, at } of tokensOf(dictionary)) {
    if (depth === 0 && token !== "<<") throw new Error(`no dictionary: "${dictionary.slice(0, 40)}"`);
    if (token === "<<" || token === "[") depth += 1;
    else if (token === ">>" || token === "]") {
      depth -= 1;
      if (depth === 0) {
        close(at);
        return entries;
      }
    } else if (depth === 1 && token.startsWith("/")) {
      // A name is a value where its key has none yet.
      if (key !== "" && dictionary.slice(from, at).trim() === "") continue;
      close(at);
      [key, from] = [token.slice(1), at + token.length];
    }
  }
  throw new Error(`dictionary without an end: "${dictionary.slice(0, 40)}"`);
}

export const dictionaryOf = (entries: ReadonlyMap<string, string>): string =>
  `<<${[...entries].map(([key, value]) => `/${key}${/^[/([<]/.test(value) ? "" : " "}${value}`).join("\n")}>>`;

/** A text string: plain where it is ASCII, UTF-16 otherwise. */
export function textString(text: string): string {
  if (/^[\x20-\x7e]*$/.test(text)) return `(${text.replaceAll(/[\\()]/g, "\\$&")})`;
  let hex = "FEFF";
  for (let i = 0; i < text.length; i += 1) hex += text.charCodeAt(i).toString(16).padStart(4, "0").toUpperCase();
  return `<${hex}>`;
}

/** The number of an indirect reference `7 0 R`. */
export function referenceIn(value: string | undefined): number | undefined {
  const found = /^(\d+) 0 R$/.exec(value?.trim() ?? "");
  return found === null ? undefined : Number(found[1]);
}
