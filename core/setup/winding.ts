/** Wrap, adherence, coiling and reverse bend: the tool under the wire. */
import { addExact, exact, multiplyExact, toNumber } from "../decimal.ts";
import { bendRadius, wrapMandrel } from "../methods/index.ts";
import type { Measure } from "../model.ts";
import { answered, compareMeasures, cutText, fitting, inUnit, neighbours, tolerated } from "./amounts.ts";
import type { SetUpProblem, Tester } from "./equipment.ts";
import type { SettingsOn, SetUpQuestion } from "./set-up.ts";

/** Wire left straight at each end of a helix or bend piece, to hold it by: common practice, no source. */
const TAIL: Readonly<Record<"mm" | "in", number>> = { mm: 150, in: 6 };
/** Turns of a coiled piece where no count is named: common practice, no source. */
const USUAL_TURNS = 10;

export const windingSettings: SettingsOn = (question, tester) => {
  const { requirement, verdict, conduct } = question;
  const { nominalDiameter: nominal } = verdict;
  const named = requirement.conditions;
  const method = named.mandrelDiameter === undefined ? byMethod(question) : undefined;
  const mandrel = named.mandrelDiameter ?? method?.mandrelDiameter;
  const wraps = named.wraps?.text ?? method?.wraps;
  const tool = toolOf("mandrel", mandrel, named.mandrelDiameterMax, conduct.mandrelTolerance, tester, tester?.mandrels);
  const unit = nominal.unit as "mm" | "in";
  const round = tool.taken ?? named.mandrelDiameterMax ?? mandrel;
  const turns = wraps === undefined ? USUAL_TURNS : Number(wraps);
  const length =
    round === undefined ? undefined : Math.PI * (toNumber(inUnit(round, unit)) + Number(nominal.text)) * (turns + 1) + 2 * TAIL[unit];
  return {
    ...(tester === undefined ? {} : { tester: tester.name }),
    problems: tool.problems,
    ...(mandrel === undefined ? {} : { mandrel }),
    ...(named.mandrelDiameterMax === undefined ? {} : { mandrelMax: named.mandrelDiameterMax }),
    ...(tool.taken === undefined ? {} : { shelfMandrel: tool.taken }),
    ...(wraps === undefined ? {} : { wraps }),
    ...(conduct.wrapMaximumRate === undefined ? {} : { rate: conduct.wrapMaximumRate }),
    ...(length === undefined ? {} : { cutLength: cutText(exact(length.toFixed(6)), unit) }),
  };
};

/** Bends a piece takes to its break are few; the piece is the guide distance, the bend and two tails: common practice, no source. */
export const bendSettings: SettingsOn = (question, tester) => {
  const { requirement, verdict, conduct } = question;
  const { nominalDiameter: nominal } = verdict;
  const method = answered(() => bendRadius(nominal));
  const radius = requirement.conditions.radius ?? method?.radius;
  const tool = toolOf("radius", radius, undefined, conduct.mandrelTolerance, tester, tester?.radii);
  const unit = nominal.unit as "mm" | "in";
  const guide = method !== undefined && radius !== undefined && compareMeasures(method.radius, radius) === 0 ? method.distance : undefined;
  const length = addExact(guide === undefined ? exact("0") : inUnit(guide, unit), multiplyExact(exact("2"), exact(TAIL[unit].toString())));
  return {
    ...(tester === undefined ? {} : { tester: tester.name }),
    problems: tool.problems,
    ...(radius === undefined ? {} : { radius }),
    ...(tool.taken === undefined ? {} : { shelfRadius: tool.taken }),
    ...(guide === undefined ? {} : { guideDistance: guide }),
    cutLength: cutText(length, unit),
  };
};

interface Tool {
  readonly taken?: Measure;
  readonly problems: readonly SetUpProblem[];
}

/** The tool of the shelf inside the tolerance; where there is none, the neighbours, and a smaller one as the harder way out. */
function toolOf(
  code: "mandrel" | "radius",
  required: Measure | undefined,
  upper: Measure | undefined,
  share: string,
  tester: Tester | undefined,
  shelf: readonly Measure[] | undefined,
): Tool {
  if (required === undefined || shelf === undefined) return { problems: [] };
  const band = tolerated(required, share, upper);
  const taken = fitting(shelf, required, band);
  if (taken !== undefined) return { taken, problems: [] };
  const nearest = neighbours(shelf, band);
  const smaller = nearest.find((size) => compareMeasures(size, band[0]) < 0);
  return {
    problems: [
      {
        code,
        ...(tester === undefined ? {} : { machine: tester.name }),
        from: band[0],
        to: band[1],
        nearest,
        ...(smaller === undefined ? {} : { harder: smaller }),
      },
    ],
  };
}

/** The method's mandrel where the requirement names none. */
function byMethod({ requirement, verdict }: SetUpQuestion): { mandrelDiameter: Measure; wraps?: string } | undefined {
  if (requirement.property !== "wrap" && requirement.property !== "adherence") return undefined;
  const purpose = requirement.property === "wrap" ? "ductility" : "adherence";
  return answered(() => wrapMandrel({ standard: verdict.specification, grade: verdict.grade, diameter: verdict.nominalDiameter, purpose }));
}
