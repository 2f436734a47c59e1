/** Replies of a Redis server. @source RESP2, the protocol specification of Redis */
export type Reply = string | number | null | readonly (Reply | Error)[];

interface Parsed {
  readonly value: Reply | Error;
  /** Where the next reply begins. */
  readonly end: number;
}

/** @returns a function that is given what arrives and gives back the replies that are complete; an error reply is an Error */
export function createReplyReader(): (chunk: Buffer) => readonly (Reply | Error)[] {
  let rest: Buffer = Buffer.alloc(0);
  return (chunk) => {
    rest = rest.length === 0 ? chunk : Buffer.concat([rest, chunk]);
    const replies: (Reply | Error)[] = [];
    let at = 0;
    for (let found = parse(rest, at); found !== undefined; found = parse(rest, at)) {
      replies.push(found.value);
      at = found.end;
    }
    rest = rest.subarray(at);
    return replies;
  };
}

/** @returns undefined where the reply has not arrived whole @throws Error on what is no reply */
function parse(bytes: Buffer, at: number): Parsed | undefined {
  const lineEnd = bytes.indexOf("\r\n", at);
  if (lineEnd < 0) return undefined;
  const [kind, line, next] = [String.fromCharCode(bytes[at] ?? 0), bytes.toString("utf8", at + 1, lineEnd), lineEnd + 2];
  switch (kind) {
    case "+":
      return { value: line, end: next };
    case "-":
      return { value: new Error(line), end: next };
    case ":":
      return { value: Number(line), end: next };
    case "$": {
      const length = Number(line);
      if (length < 0) return { value: null, end: next };
      if (bytes.length < next + length + 2) return undefined;
      return { value: bytes.toString("utf8", next, next + length), end: next + length + 2 };
    }
    case "*":
      return parseList(bytes, Number(line), next);
    default:
      throw new Error(`Redis: a reply begins with ${JSON.stringify(kind)}; accepted are + - : $ *`);
  }
}

function parseList(bytes: Buffer, length: number, start: number): Parsed | undefined {
  if (length < 0) return { value: null, end: start };
  const values: (Reply | Error)[] = [];
  let at = start;
  for (let i = 0; i < length; i += 1) {
    const found = parse(bytes, at);
    if (found === undefined) return undefined;
    values.push(found.value);
    at = found.end;
  }
  return { value: values, end: at };
}
