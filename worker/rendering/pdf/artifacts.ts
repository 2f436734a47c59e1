/**
 * Marks what a page paints outside its tags. The printer tags the document's own text; running heads and feet come unmarked, and a
 * reader's program could not tell them from the text.
 * @source ISO 14289-1, 7.1: content is tagged or marked as artifact; ISO 32000-1, 14.8.2.2
 */
import { tokensOf } from "./syntax.ts";

const OPEN = "/Artifact <</Type /Pagination>> BDC\n";
const CLOSE = "\nEMC\n";
/** Operators that begin a painted object, those that end one, and those that paint by themselves. */
const PATH_BEGINS = new Set(["m", "re"]);
const PATH_ENDS = new Set(["f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "n"]);
const PAINTS_ALONE = new Set(["Do", "sh"]);
const NUMBER = /^[+-]?[\d.]+$/;

/** Ends and beginnings of sections; a string is passed over whole, whatever words it holds. */
const SECTIONS = /\((?:\\[\s\S]|[^\\()])*\)|\b(?:BDC|BMC|EMC)\b/g;

/** Behind the end of the section that begins before `from`. Nearly all of a page lies in such sections, so this is the fast way over it. */
function sectionEnd(content: string, from: number): number {
  let depth = 1;
  SECTIONS.lastIndex = from;
  for (let found = SECTIONS.exec(content); found !== null; found = SECTIONS.exec(content)) {
    if (found[0] === "EMC") depth -= 1;
    else if (found[0] === "BDC" || found[0] === "BMC") depth += 1;
    if (depth === 0) return SECTIONS.lastIndex;
  }
  throw new Error("page content: a marked section has no end");
}

/** A content stream with everything unmarked inside `/Artifact`. The same text comes back where nothing was unmarked. */
export function markArtifacts(content: string): string {
  const cuts: { readonly at: number; readonly text: string }[] = [];
  let operands: { readonly token: string; readonly at: number }[] = [];
  let [path, text, textIsMarked] = [-1, -1, false];
  const wrap = (from: number, to: number): void => {
    cuts.push({ at: from, text: OPEN }, { at: to, text: CLOSE });
  };
  // Sections that say nothing about their content are walked through like the rest.
  for (let tokens = tokensOf(content), next = tokens.next(); !next.done; next = tokens.next()) {
    const found = next.value;
    const { token, at } = found;
    if (NUMBER.test(token) || /^[/<>([\])]/.test(token)) {
      operands.push(found);
      continue;
    }
    const begin = operands[0]?.at ?? at;
    const end = at + token.length;
    if ((token === "BDC" || token === "BMC") && operands.some((o) => o.token === "/MCID" || o.token === "/Artifact")) {
      if (text >= 0) textIsMarked = true;
      tokens = tokensOf(content, sectionEnd(content, end));
    } else if (token === "BT") [text, textIsMarked] = [begin, false];
    else if (token === "ET") {
      if (text >= 0 && !textIsMarked) wrap(text, end);
      text = -1;
    } else if (PATH_BEGINS.has(token) && path < 0) path = begin;
    else if (PATH_ENDS.has(token)) {
      // A path that only clips paints nothing.
      if (token !== "n" && path >= 0) wrap(path, end);
      path = -1;
    } else if (PAINTS_ALONE.has(token)) wrap(begin, end);
    else if (token === "BI") throw new Error("page content: an inline image; accepted are images as objects");
    operands = [];
  }
  if (cuts.length === 0) return content;
  let [out, from] = ["", 0];
  for (const { at, text: inserted } of cuts) {
    out += content.slice(from, at) + inserted;
    from = at;
  }
  return out + content.slice(from);
}
