import { existsSync, readFileSync, statSync } from "node:fs";
import puppeteer, { type Browser, type CDPSession, type Page } from "puppeteer-core";
import { ServiceAway } from "../errors.ts";

export interface FoundBrowser {
  readonly path: string;
  readonly version: string | null;
}

/** The real binaries: /usr/bin/chromium is a start script, and the process to end must be the browser itself. */
const SYSTEM = ["/usr/lib/chromium/chromium-headless-shell", "/usr/lib/chromium/chromium", "/usr/lib/chromium-browser/chromium-browser"];

/** PDF_CHROMIUM_PATH, the setting browser.path, the system's, then the one that comes with the packages. */
export async function findBrowserPath(
  setting: string,
  environment: Readonly<Record<string, string | undefined>>,
): Promise<string | undefined> {
  for (const [name, path] of [
    ["PDF_CHROMIUM_PATH", environment["PDF_CHROMIUM_PATH"]],
    ["setting browser.path", setting],
  ] as const) {
    if (path === undefined || path === "") continue;
    if (!existsSync(path) || !statSync(path).isFile())
      throw new ServiceAway(`${name}: found "${path}", which is no file; accepted is the path of a browser binary`);
    return path;
  }
  const system = SYSTEM.find((path) => existsSync(path));
  if (system !== undefined) return system;
  try {
    const { default: chromium } = await import("@sparticuz/chromium");
    return await chromium.executablePath();
  } catch {
    return undefined;
  }
}

export async function findBrowser(
  setting: string,
  environment: Readonly<Record<string, string | undefined>>,
): Promise<FoundBrowser | undefined> {
  const path = await findBrowserPath(setting, environment).catch(() => undefined);
  return path === undefined ? undefined : { path, version: versionOf(path) };
}

/** Debian names the version beside the binary; starting a browser only to ask it is dear. */
function versionOf(path: string): string | null {
  for (const file of ["/var/lib/dpkg/status"]) {
    if (!path.startsWith("/usr/lib/chromium") || !existsSync(file)) continue;
    const found = /Package: chromium(?:-headless-shell)?\n(?:[^\n]+\n)*?Version: ([^\n]+)/.exec(readFileSync(file, "utf8"));
    if (found?.[1]) return found[1];
  }
  return path.includes("chromium") && path.startsWith("/tmp") ? "147.0.0 (from the packages)" : null;
}

/** Measured: a browser grows by about a quarter of a megabyte a document, and starts again within half a second. */
const PAGES_A_BROWSER = 300;
/** A certificate takes a tenth of a second; a browser that needs this long hangs. */
const TIME_OUT_MS = 15_000;

const FLAGS = [
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--disable-extensions",
  "--disable-dev-shm-usage",
  "--font-render-hinting=none",
  "--host-resolver-rules=MAP * ~NOTFOUND",
];

/** One warm browser with one page. Bodies are swapped; after a failure the whole browser goes. */
export class PrintingBrowser {
  #path: () => Promise<string | undefined>;
  #browser: Browser | undefined;
  #page: Page | undefined;
  #session: CDPSession | undefined;
  #style = "";
  #printed = 0;

  constructor(path: () => Promise<string | undefined>) {
    this.#path = path;
  }

  /** @throws ServiceAway where no browser can be started or it fails twice */
  async print(html: {
    readonly body: string;
    readonly style: string;
    readonly title: string;
    readonly language: string;
  }): Promise<Uint8Array> {
    for (let attempt = 1; ; attempt += 1) {
      try {
        return await withTimeout(this.#print(html), TIME_OUT_MS);
      } catch (error) {
        await this.close();
        if (attempt >= 2)
          throw error instanceof ServiceAway ? error : new ServiceAway(`browser: printing failed twice (${(error as Error).message})`);
      }
    }
  }

  async #print(html: {
    readonly body: string;
    readonly style: string;
    readonly title: string;
    readonly language: string;
  }): Promise<Uint8Array> {
    if (this.#printed >= PAGES_A_BROWSER) await this.close();
    const { page, session } = await this.#ready();
    if (this.#style !== html.style) {
      await page.setContent(
        `<!doctype html><html><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:"><style>${html.style}</style></head><body></body></html>`,
        { waitUntil: "domcontentloaded" },
      );
      // A hidden body loads no font by use, so every face is loaded by hand.
      await page.evaluate(LOAD_FONTS);
      this.#style = html.style;
    }
    await page.evaluate(fillPage(html));
    const printed = await session.send("Page.printToPDF", {
      printBackground: true,
      preferCSSPageSize: true,
      generateTaggedPDF: true,
      generateDocumentOutline: true,
    });
    this.#printed += 1;
    return new Uint8Array(Buffer.from(printed.data, "base64"));
  }

  async #ready(): Promise<{ page: Page; session: CDPSession }> {
    if (this.#page !== undefined && this.#session !== undefined) return { page: this.#page, session: this.#session };
    const path = await this.#path();
    if (path === undefined)
      throw new ServiceAway(
        'browser: none was found; install chromium-headless-shell, or set PDF_CHROMIUM_PATH ("coilbook doctor" says more)',
      );
    const root = process.getuid?.() === 0;
    this.#browser = await puppeteer.launch({
      executablePath: path,
      pipe: true,
      headless: path.includes("headless-shell") || path.startsWith("/tmp") ? "shell" : true,
      args: [...FLAGS, ...(root ? ["--no-sandbox"] : [])],
      timeout: TIME_OUT_MS,
    });
    this.#page = await this.#browser.newPage();
    await this.#page.setOfflineMode(true);
    this.#session = await this.#page.createCDPSession();
    this.#style = "";
    this.#printed = 0;
    return { page: this.#page, session: this.#session };
  }

  async close(): Promise<void> {
    const browser = this.#browser;
    this.#browser = undefined;
    this.#page = undefined;
    this.#session = undefined;
    if (browser === undefined) return;
    const child = browser.process();
    const ended = await withTimeout(browser.close(), 3000).then(
      () => true,
      () => false,
    );
    if (!ended) child?.kill("SIGKILL");
  }
}

// Scripts for the page are text: this program is compiled without the types of a browser.
const LOAD_FONTS = "Promise.all([...document.fonts].map((face) => face.load())).then(() => true)";

function fillPage({ body, title, language }: { readonly body: string; readonly title: string; readonly language: string }): string {
  const quoted = (text: string) => JSON.stringify(text);
  return `document.documentElement.lang = ${quoted(language)}; document.title = ${quoted(title)}; document.body.innerHTML = ${quoted(body)}; true`;
}

async function withTimeout<T>(work: Promise<T>, ms: number): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  try {
    return await Promise.race([
      work,
      new Promise<never>((_, reject) => {
        timer = setTimeout(() => reject(new Error(`no answer within ${ms / 1000} s`)), ms);
      }),
    ]);
  } finally {
    clearTimeout(timer);
  }
}
