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

/** A content stream with everything unmarked inside `/Artifact`. The same text comes back where nothing was unmarked. */
export function markArtifacts(content: string): string {
  const cuts: { readonly at: number; readonly text: string }[] = [];
  /** One entry an open marked-content section: does it say what its content is? */
  const marks: boolean[] = [];
  const isMarked = (): boolean => marks.some((mark) => mark);
  let operands: { readonly token: string; readonly at: number }[] = [];
  let [path, text, textIsMarked, clips] = [-1, -1, false, false];
  const wrap = (from: number, to: number): void => {
    cuts.push({ at: from, text: OPEN }, { at: to, text: CLOSE });
  };
  for (const found of tokensOf(content)) {
    const { token, at } = found;
    if (NUMBER.test(token) || /^[/<>([\])]/.test(token)) {
      operands.push(found);
      continue;
    }
    const begin = operands[0]?.at ?? at;
    const end = at + token.length;
    if (token === "BDC" || token === "BMC") {
      // A span that only carries the text of a ligature looks like a tag and is none.
      const says = operands.some((o) => o.token === "/MCID" || o.token === "/Artifact");
      marks.push(says);
      if (says && text >= 0) textIsMarked = true;
    } else if (token === "EMC") marks.pop();
    else if (token === "BT") [text, textIsMarked] = [begin, isMarked()];
    else if (token === "ET") {
      if (!textIsMarked) wrap(text, end);
      text = -1;
    } else if (PATH_BEGINS.has(token) && path < 0) path = begin;
    else if (token === "W" || token === "W*") clips = true;
    else if (PATH_ENDS.has(token)) {
      // A path that only clips paints nothing.
      if (token !== "n" && !isMarked() && path >= 0) wrap(path, end);
      else if (token === "n" && !clips && path < 0) throw new Error("page content: a path ends that never began");
      [path, clips] = [-1, false];
    } else if (PAINTS_ALONE.has(token) && !isMarked()) wrap(begin, end);
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
