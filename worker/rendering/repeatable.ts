/**
 * Makes a printed PDF depend on its content alone: the ids of the tag tree, which grow with the life of the page, are numbered anew.
 * Lengths stay, so every offset in the file stays. Dates come from the document where the file is corrected.
 */
export function repeatable(pdf: Uint8Array): Uint8Array {
  const text = Buffer.from(pdf).toString("latin1");
  const ids = [...new Set([...text.matchAll(/\(node(\d{8})\)/g)].map((match) => match[1] ?? ""))].sort();
  const numbers = new Map(ids.map((id, index) => [id, String(index + 1).padStart(8, "0")]));
  const numbered = text.replaceAll(/\(node(\d{8})\)/g, (whole, id: string) => (numbers.has(id) ? `(node${numbers.get(id)})` : whole));
  return new Uint8Array(Buffer.from(numbered, "latin1"));
}
