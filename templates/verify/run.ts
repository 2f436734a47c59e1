/** What the page does in a browser: takes a file, checks it with the same code as the program, and says the answer in words. */
import { fromBase64url } from "../../core/seal/bytes.ts";
import { type Subtle, webCryptography } from "../../core/seal/cryptography.ts";
import { LARGEST_FILE, verifyFile } from "../../core/seal/index.ts";
import { toVerificationText } from "./sentences.ts";

export interface PageData {
  readonly words: Readonly<Record<string, Readonly<Record<string, string>>>>;
  readonly lab: string;
  /** `YYYY-MM-DD` */
  readonly writtenOn: string;
  readonly keys: readonly { readonly kid: string; readonly publicKey: string; readonly retiredAt?: string }[];
  /** The signed list of withdrawn documents, or "". */
  readonly withdrawn: string;
}

/** The few things of a browser that are used. */
interface Element {
  textContent: string | null;
  hidden: boolean;
  className: string;
  lang: string;
  value: string;
  readonly files: ArrayLike<ChosenFile> | null;
  append(...children: readonly Element[]): void;
  replaceChildren(...children: readonly Element[]): void;
  addEventListener(type: string, listener: (event: DropEvent) => void): void;
}
interface ChosenFile {
  readonly name: string;
  readonly size: number;
  arrayBuffer(): Promise<ArrayBuffer>;
}
interface DropEvent {
  preventDefault(): void;
  readonly dataTransfer?: { readonly files: ArrayLike<ChosenFile> } | null;
}
export interface BrowserWindow {
  readonly document: {
    readonly documentElement: Element;
    title: string;
    getElementById(id: string): Element;
    createElement(name: string): Element;
    addEventListener(type: string, listener: (event: DropEvent) => void): void;
  };
  readonly navigator: { readonly language: string };
  readonly crypto: { readonly subtle?: Subtle };
}

export function startPage(browser: BrowserWindow): void {
  const { document } = browser;
  const part = (id: string): Element => document.getElementById(id);
  const data = JSON.parse(part("data").textContent ?? "") as PageData;
  let words = data.words[browser.navigator.language.slice(0, 2)] ?? data.words["en"] ?? {};
  const say = (code: string, values: Readonly<Record<string, string | number>> = {}): string =>
    (words[code] ?? code).replaceAll(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? ""));
  const element = (name: string, text: string, className = ""): Element => {
    const made = document.createElement(name);
    made.textContent = text;
    made.className = className;
    return made;
  };
  const fill = (): void => {
    document.documentElement.lang = Object.keys(data.words).find((language) => data.words[language] === words) ?? "en";
    document.title = say("verify.title");
    for (const name of ["title", "intro", "choose"]) part(name).textContent = say(`verify.${name}`);
    part("keys").textContent = data.keys.length === 0 ? say("verify.noKeys") : say("verify.keys", { lab: data.lab });
    part("key-list").replaceChildren(
      ...data.keys.map(({ kid, retiredAt }) =>
        element("li", retiredAt === undefined ? kid : `${kid} (${say("verify.retired", { on: retiredAt.slice(0, 10) })})`),
      ),
    );
    part("made").textContent = say("verify.made", { at: data.writtenOn });
  };
  const show = (name: string, status: string, head: string, lines: readonly Element[]): void => {
    const answer = part("answer");
    answer.hidden = false;
    answer.className = status;
    answer.replaceChildren(element("p", name, "file"), element("h2", head), ...lines);
  };
  const check = async (file: ChosenFile): Promise<void> => {
    try {
      const { subtle } = browser.crypto;
      if (subtle === undefined) throw new Error("no Web Cryptography");
      // What is larger cannot be one of ours, and is not read into memory.
      const bytes = file.size > LARGEST_FILE ? new Uint8Array() : new Uint8Array(await file.arrayBuffer());
      const keys = data.keys.map(({ publicKey, retiredAt }) => ({
        publicKey: fromBase64url(publicKey),
        ...(retiredAt === undefined ? {} : { retiredAt }),
      }));
      const trust = {
        source: keys.length === 0 ? ("none" as const) : ("lab" as const),
        keys,
        ...(data.withdrawn === "" ? {} : { withdrawn: data.withdrawn }),
      };
      const verification = await verifyFile(bytes, trust, webCryptography(subtle));
      const text = toVerificationText(say, verification);
      const list = document.createElement("ul");
      list.append(...text.findings.map((finding) => element("li", finding)));
      const called = verification.withdrawn === undefined ? [] : [element("p", say("verify.called"), "called")];
      show(file.name, verification.status, text.head, [
        ...called,
        element("p", text.text),
        ...(text.findings.length > 0 ? [list] : []),
        ...text.facts.map((fact) => element("p", fact, "fact")),
      ]);
    } catch (error) {
      show(file.name, "failed", say("verify.failed", { why: (error as Error).message }), []);
    }
  };
  const first = (files: ArrayLike<ChosenFile> | null | undefined): void => {
    const file = files?.[0];
    if (file !== undefined) void check(file);
  };
  part("file").addEventListener("change", () => first(part("file").files));
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    first(event.dataTransfer?.files);
  });
  const languages = part("language");
  for (const language of Object.keys(data.words)) {
    const option = element("option", language);
    option.value = language;
    languages.append(option);
  }
  languages.addEventListener("change", () => {
    words = data.words[languages.value] ?? words;
    fill();
  });
  fill();
  languages.value = document.documentElement.lang;
}
