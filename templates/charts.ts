/**
 * Charts as plain SVG: drawn here, without a browser, so that the same figures give the same bytes. Shapes and dashes tell apart, never
 * colour; one picture with one sentence of facts, for those who cannot see it.
 */

import { compareExact, exact } from "../core/decimal.ts";
import { escapeMarkup } from "./escape-markup.ts";

export interface ChartPoint {
  readonly coil: string;
  /** As compared, decimal text. */
  readonly compared: string;
  readonly outside: boolean;
}

export interface ChartInput {
  /** The sentence of facts. */
  readonly sentence: string;
  readonly points: readonly ChartPoint[];
  readonly min?: string;
  readonly max?: string;
  /** Decimal text in the language's way of writing. */
  readonly figure: (text: string) => string;
}

const WIDTH = 340;
const HEIGHT = 118;
const LEFT = 34;
const RIGHT = 6;
const TOP = 8;
const BOTTOM = 18;
const INK = "#161616";
const GREY = "#595959";
const TICKS = 4;

const place = (value: number): string => value.toFixed(1).replace(/\.0$/, "");
/** Smallest and largest point; the first of equals. @throws RangeError where there is none */
export function extremesOf(points: readonly ChartPoint[]): readonly [ChartPoint, ChartPoint] {
  let [low, high] = [points[0], points[0]];
  for (const point of points) {
    if (low === undefined || compareExact(exact(point.compared), exact(low.compared)) < 0) low = point;
    if (high === undefined || compareExact(exact(point.compared), exact(high.compared)) > 0) high = point;
  }
  if (low === undefined || high === undefined) throw new RangeError("a chart wants at least one point");
  return [low, high];
}

/** A point a coil, in their order, between its limits. */
export function coilChart({ sentence, points, min, max, figure }: ChartInput): string {
  const values = points.map((point) => Number(point.compared));
  const limits = [min, max].flatMap((limit) => (limit === undefined ? [] : [Number(limit)]));
  const ticks = ticksFor(Math.min(...values, ...limits), Math.max(...values, ...limits));
  const [low, high] = [ticks[0]?.value ?? 0, ticks.at(-1)?.value ?? 1];
  const y = (value: number): number => TOP + ((high - value) / (high - low)) * (HEIGHT - TOP - BOTTOM);
  const step = (WIDTH - LEFT - RIGHT) / Math.max(points.length, 1);
  const size = Math.max(0.9, Math.min(3.2, step * 0.7));
  let [inside, outside] = ["", ""];
  points.forEach((point, index) => {
    const [cx, cy] = [LEFT + step * (index + 0.5), y(Number(point.compared))];
    const [x0, y0, s] = [place(cx - size / 2), place(cy - size / 2), place(size)];
    if (point.outside) outside += `M${x0} ${y0}l${s} ${s}m0-${s}l-${s} ${s}`;
    else inside += `M${x0} ${y0}h${s}v${s}h-${s}z`;
  });
  const bottom = HEIGHT - BOTTOM;
  const beyond = (from: number, to: number): string =>
    to - from < 0.5
      ? ""
      : `<rect x="${LEFT}" y="${place(from)}" width="${WIDTH - LEFT - RIGHT}" height="${place(to - from)}" fill="#ececea"/>`;
  const limitLine = (value: number): string =>
    `<path d="M${LEFT} ${place(y(value))}H${WIDTH - RIGHT}" stroke="${INK}" stroke-width="1" stroke-dasharray="5 2"/>`;
  return [
    `<svg class="chart" role="img" aria-label="${escapeMarkup(sentence)}" viewBox="0 0 ${WIDTH} ${HEIGHT}">`,
    max === undefined ? "" : beyond(TOP, y(Number(max))),
    min === undefined ? "" : beyond(y(Number(min)), bottom),
    ...ticks.map(
      ({ value, text }) =>
        `<path d="M${LEFT} ${place(y(value))}H${WIDTH - RIGHT}" stroke="#c9c9c9" stroke-width="0.4"/><text x="${LEFT - 4}" y="${place(y(value) + 2.8)}" text-anchor="end">${escapeMarkup(figure(text))}</text>`,
    ),
    ...limits.map(limitLine),
    inside === "" ? "" : `<path d="${inside}" fill="${INK}"/>`,
    outside === "" ? "" : `<path d="${outside}" fill="none" stroke="${INK}" stroke-width="1"/>`,
    `<path d="M${LEFT} ${TOP}V${bottom}H${WIDTH - RIGHT}" fill="none" stroke="${GREY}" stroke-width="0.6"/>`,
    `<text x="${LEFT}" y="${HEIGHT - 6}">${escapeMarkup(short(points[0]?.coil ?? ""))}</text>`,
    points.length < 2
      ? ""
      : `<text x="${WIDTH - RIGHT}" y="${HEIGHT - 6}" text-anchor="end">${escapeMarkup(short(points.at(-1)?.coil ?? ""))}</text>`,
    "</svg>",
  ].join("");
}

const short = (text: string): string => (text.length > 18 ? `${text.slice(0, 17)}…` : text);

/** Round figures around a range: 1, 2 or 5 times a power of ten apart, the outermost beyond the range. */
function ticksFor(low: number, high: number): readonly { readonly value: number; readonly text: string }[] {
  const range = high > low ? high - low : Math.abs(high) || 1;
  const rough = range / TICKS;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((factor) => factor * power >= rough) ?? 10);
  const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const first = Math.floor(low / step - 0.15);
  const last = Math.ceil(high / step + 0.15);
  return Array.from({ length: last - first + 1 }, (_, index) => {
    const text = ((first + index) * step).toFixed(places);
    return { value: Number(text), text };
  });
}
