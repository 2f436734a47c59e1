/**
 * Puts compiled modules together into one script that needs no loader: each becomes a function of its own that gives its exports back,
 * in the order in which they need each other. Only the forms of import and export that our compiler writes are understood.
 */
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const IMPORT = /^import\s+(?:\{([^}]*)\}\s+from\s+)?"([^"]+)";?$/gm;
const RE_EXPORT = /^export\s+\{([^}]*)\}(?:\s+from\s+"([^"]+)")?;?$/gm;
const SEVERAL = /^export\s+const\s+\[([\w$,\s]*)\]/gm;
const DECLARATION = /^export\s+((?:async\s+)?(?:function\*?|class|const|let|var))\s+([\w$]+)/gm;

/** `{ a, b as c }` as pairs. */
const names = (list: string): readonly (readonly [string, string])[] =>
  list
    .split(",")
    .map((item) => item.trim())
    .filter((item) => item !== "")
    .map((item) => {
      const [from = "", to = from] = item.split(/\s+as\s+/);
      return [from, to] as const;
    });

/**
 * @param entry the compiled module to begin with
 * @param packages where a package's own browser module lies, by name
 * @returns a script that leaves the exports of `entry` in the constant `entry`
 * @throws Error on a form of module that is not understood
 */
export function bundle(entry: URL, packages: Readonly<Record<string, URL>>): string {
  const order: string[] = [];
  const parts = new Map<string, string>();
  const open = new Set<string>();
  const visit = (url: URL): string => {
    if (parts.has(url.href)) return url.href;
    if (open.has(url.href)) throw new Error(`${url.pathname}: modules that need each other in a circle`);
    open.add(url.href);
    const locate = (named: string): string => {
      const target = named.startsWith(".") ? new URL(named, url) : packages[named];
      if (target === undefined)
        throw new Error(`${url.pathname}: imports "${named}"; accepted are own modules and ${Object.keys(packages).join(", ")}`);
      return visit(target);
    };
    parts.set(
      url.href,
      moduleText(readFileSync(fileURLToPath(url), "utf8"), url.pathname, (named) => `m[${JSON.stringify(locate(named))}]`),
    );
    order.push(url.href);
    return url.href;
  };
  const first = visit(entry);
  // Addresses of this machine do not belong into the page.
  const short = new Map(order.map((href, index) => [href, String(index)]));
  const body = order.map((href) => `m[${JSON.stringify(href)}] = (() => {\n${parts.get(href)}\n})();`).join("\n");
  const script = `const m = {};\n${body}\nconst entry = m[${JSON.stringify(first)}];\n`;
  return order.reduce((text, href) => text.replaceAll(JSON.stringify(href), JSON.stringify(short.get(href))), script);
}

function moduleText(source: string, path: string, place: (named: string) => string): string {
  const given: (readonly [string, string])[] = [];
  const text = source
    .replaceAll(/^\/\/# sourceMappingURL=.*$/gm, "")
    .replaceAll(IMPORT, (_, list: string | undefined, named: string) => {
      const held = place(named);
      return list === undefined
        ? ""
        : `const { ${names(list)
            .map(([from, to]) => `${from}: ${to}`)
            .join(", ")} } = ${held};`;
    })
    .replaceAll(RE_EXPORT, (_, list: string, named: string | undefined) => {
      const held = named === undefined ? "" : `${place(named)}.`;
      given.push(...names(list).map(([from, to]) => [to, `${held}${from}`] as const));
      return "";
    })
    .replaceAll(SEVERAL, (_, list: string) => {
      given.push(...names(list).map(([name]) => [name, name] as const));
      return `const [${list}]`;
    })
    .replaceAll(DECLARATION, (_, kind: string, name: string) => {
      given.push([name, name]);
      return `${kind} ${name}`;
    });
  if (/^(?:import|export)\b/m.test(text)) throw new Error(`${path}: a form of import or export that is not understood`);
  return `"use strict";\n${text}\nreturn { ${given.map(([name, value]) => `${name}: ${value}`).join(", ")} };`;
}
