/**
 * Makes a printed PDF depend on its content alone: the two dates come from the document, and the ids of the tag tree, which grow with
 * the life of the page, are numbered anew. Lengths stay, so every offset in the file stays.
 */
export function repeatable(pdf: Uint8Array, issuedOn: string): Uint8Array {
  const stamp = `${issuedOn.replaceAll("-", "")}000000`;
  let text = Buffer.from(pdf).toString("latin1");
  text = text.replaceAll(/\/(CreationDate|ModDate) \(D:\d{14}/g, (_, name: string) => `/${name} (D:${stamp}`);
  const ids = [...new Set([...text.matchAll(/\(node(\d{8})\)/g)].map((match) => match[1] ?? ""))].sort();
  const numbers = new Map(ids.map((id, index) => [id, String(index + 1).padStart(8, "0")]));
  text = text.replaceAll(/\(node(\d{8})\)/g, (whole, id: string) => (numbers.has(id) ? `(node${numbers.get(id)})` : whole));
  return new Uint8Array(Buffer.from(text, "latin1"));
}
