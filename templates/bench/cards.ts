/** A set-up as a card: what to cut, set, run, count and look at, in worked-out figures, with the cautions that belong to the step. */
import type { Measure } from "../../core/model.ts";
import type { SetUp, SetUpProblem } from "../../core/setup/index.ts";
import { limitText, measureText, nominalText, shownFigure } from "../phrases.ts";
import { figure, propertyWord, type Say } from "../wording.ts";

export interface CardLine {
  readonly label: string;
  readonly text: string;
  readonly kind: "fact" | "caution" | "problem";
}

export interface Card {
  readonly title: string;
  readonly lines: readonly CardLine[];
  /** Pieces for the blanks at the end, with the code that leads back to their row. */
  readonly pieces: readonly { readonly name: string; readonly code: string }[];
  /** Why the test cannot be done here, a sentence each. */
  readonly problems: readonly string[];
  /** One line for the set-up plan. */
  readonly brief: string;
}

/** Where the pieces of a card stand in the workbook. */
export interface CardRows {
  readonly sheet: string;
  readonly first: number;
  readonly last: number;
  /** Row of a piece. */
  readonly rowOf: (testPiece: string) => number | undefined;
}

const NAMES_SHOWN = 12;

export function toCard(setUp: SetUp, number: number, rows: CardRows | undefined, say: Say): Card {
  const facts: { label: string; text: string }[] = [];
  const fact = (label: string, text: string): void => void facts.push({ label: say(`card.${label}`), text });
  const names = [...new Set(setUp.pieces.map((piece) => piece.testPiece))];

  fact(
    "wire",
    say("card.wireText", {
      order: setUp.order,
      item: setUp.item,
      specification: setUp.specification,
      grade: setUp.grade,
      nominal: nominalText(say, setUp.nominal),
    }).replaceAll(/ ,/g, ","),
  );
  const list = names.length === 0 ? say("card.none") : say("card.piecesText", { count: names.length, names: shortList(names, say) });
  fact("pieces", list);
  if (rows !== undefined)
    fact(
      "rows",
      say("card.rowsText", {
        sheet: rows.sheet,
        first: rows.first,
        last: rows.last,
        code: `${setUp.order}-${setUp.item}-${setUp.property}`,
      }),
    );
  fact("limit", requirementsText(setUp, say));
  const brief = settingFacts(setUp, fact, say);
  const problems = setUp.problems.map((problem) => problemText(problem, say));
  const helps = setUp.problems.map((problem) => helpText(problem, say));

  return {
    title: `${say("card.title", { number, test: propertyWord(say, setUp.property) })}`,
    lines: [
      ...problems.map((text): CardLine => ({ label: `✕ ${say("card.problem")}`, text, kind: "problem" })),
      ...helps.map((text): CardLine => ({ label: say("card.help"), text, kind: "problem" })),
      ...(problems.length === 0 ? [] : [{ label: "", text: say("card.problem.wait"), kind: "problem" } as const]),
      ...facts.map((f): CardLine => ({ ...f, kind: "fact" })),
      ...cautionsOf(setUp.sheet).map((code): CardLine => ({ label: say("card.cautions"), text: say(code), kind: "caution" })),
      { label: "", text: say("card.defer"), kind: "caution" },
    ],
    pieces: names.map((name) => ({ name, code: rows === undefined ? "" : `${rows.sheet} ${rows.rowOf(name) ?? ""}`.trim() })),
    problems: setUp.problems.map((problem, i) => `${problems[i]}. ${say("card.help")}: ${helpText(problem, say)}`),
    brief: brief.filter((part) => part !== "").join("; "),
  };
}

/** What is needed and what is there, in figures. */
function problemText(problem: SetUpProblem, say: Say): string {
  return say(`problem.${problem.code}`, problemFigures(problem, say));
}

/** What would make the test possible, and the harder condition that is at hand. */
function helpText(problem: SetUpProblem, say: Say): string {
  const harder = problem.harder === undefined ? "" : say("help.harder", { harder: measureText(say, problem.harder) });
  return `${say(`help.${problem.code}`, problemFigures(problem, say))}${harder}`;
}

function problemFigures({ machine, from, to, nearest }: SetUpProblem, say: Say): Readonly<Record<string, string>> {
  const amount = (m: Measure | undefined): string => (m === undefined ? "" : measureText(say, m));
  return {
    machine: machine ?? say("card.machine.shelf"),
    from: amount(from),
    to: amount(to),
    nearest: nearest.length === 0 ? say("problem.none") : nearest.map(amount).join(", "),
  };
}

/** The requirement, and those read from the same rows by name. */
export function requirementsText({ requirement, also }: SetUp, say: Say): string {
  return [
    limitText(say, requirement),
    ...also.map(
      (r) =>
        `${r.agreedIn === undefined ? propertyWord(say, r.property) : say("card.agreed", { property: propertyWord(say, r.property) })} ${limitText(say, r)}`,
    ),
  ].join("; ");
}

function shortList(names: readonly string[], say: Say): string {
  if (names.length <= NAMES_SHOWN) return names.join(", ");
  return say("card.piecesMore", { names: names.slice(0, NAMES_SHOWN).join(", "), more: names.length - NAMES_SHOWN });
}

type Fact = (label: string, text: string) => void;

function settingFacts(setUp: SetUp, fact: Fact, say: Say): readonly string[] {
  const amount = (m: Measure): string => measureText(say, m);
  const missing = setUp.problems.some((problem) => problem.code === "no-machine");
  const machine = (): void => fact("machine", setUp.tester ?? say(missing ? "card.machine.none" : "card.machine.shelf"));
  const brief: string[] = [];
  /** A fact that also stands in the one line of the plan. */
  const both = (label: string, text: string): void => {
    fact(label, text);
    brief.push(`${say(`card.${label}`)} ${text}`);
  };
  switch (setUp.sheet) {
    case "torsion": {
      machine();
      torsionFacts(setUp, fact, both, say);
      return brief;
    }
    case "wrap":
    case "coiling": {
      machine();
      if (setUp.cutLength !== undefined) fact("cut", say("card.cut.length", { cut: amount(setUp.cutLength) }));
      if (setUp.mandrel !== undefined) both("mandrel", mandrelText(setUp, setUp.mandrel, say));
      if (setUp.wraps !== undefined) both("wraps", say("card.wrapsText", { wraps: setUp.wraps }));
      if (setUp.rate !== undefined) both("rate", say("card.rateText", { rate: setUp.rate }));
      fact(
        "face",
        say(setUp.property === "adherence" ? "card.face.adherence" : setUp.sheet === "coiling" ? "card.face.coiling" : "card.face.wrap"),
      );
      fact("keep", say("card.keepText"));
      return brief;
    }
    case "tensile":
      machine();
      fact("cut", setUp.cutLength === undefined ? say("card.cut.tensile") : say("card.cut.length", { cut: amount(setUp.cutLength) }));
      fact("measure", say("card.measure.tensile"));
      if (setUp.forceAtMin !== undefined)
        both(
          "force",
          setUp.forceAtMax === undefined
            ? say("card.forceLow", { low: amount(setUp.forceAtMin) })
            : say("card.forceText", { low: amount(setUp.forceAtMin), high: amount(setUp.forceAtMax) }),
        );
      fact("grip", say("card.grip.tensile"));
      fact("keep", say("card.keepText"));
      return brief;
    case "diameter":
      fact("measure", say("card.measure.diameter"));
      return [];
    case "coating-mass":
      if (setUp.cutLength !== undefined) fact("cut", say("card.cut.length", { cut: amount(setUp.cutLength) }));
      fact("measure", say("card.measure.coating"));
      return [];
    case "reverse-bend":
      machine();
      if (setUp.cutLength !== undefined) fact("cut", say("card.cut.length", { cut: amount(setUp.cutLength) }));
      if (setUp.radius !== undefined) both("radius", radiusText(setUp, setUp.radius, say));
      fact("count", say("card.count.bends"));
      fact("face", say("card.face.bend"));
      fact("keep", say("card.keepText"));
      return brief;
    default:
      return [];
  }
}

function torsionFacts(setUp: SetUp, fact: Fact, both: Fact, say: Say): void {
  const { cutLength, freeLength, scaled, programme, gripDistance } = setUp;
  const amount = (m: Measure): string => measureText(say, m);
  const turns = scaled?.wholeTurns ?? setUp.requirement.min;
  if (cutLength !== undefined && freeLength !== undefined)
    fact("cut", say("card.cut.torsion", { cut: amount(cutLength), free: amount(freeLength) }));
  if (freeLength !== undefined)
    both(
      "freeLength",
      scaled === undefined
        ? say("card.freeLengthText", { free: amount(freeLength) })
        : say("card.freeLengthScaled", {
            free: amount(freeLength),
            from: amount(scaled.from),
            turns: figure(say, shownFigure(Number(scaled.turns), scaled.wholeTurns)),
            whole: scaled.wholeTurns,
          }),
    );
  both("weights", weightsText(setUp, say));
  both("speed", speedText(setUp, say));
  const counted = setUp.requirement.unit === "turns" && turns !== undefined && (programme?.counts ?? "total") === "total";
  if (programme !== undefined) {
    both("programme", programmeText(programme, say));
    if (programme.perCycle !== undefined)
      fact(
        "count",
        say(programme.total === undefined ? "card.programme.counter" : "card.programme.counter-total", {
          perCycle: programme.perCycle,
          total: programme.total ?? "",
        }),
      );
    fact("count", say(`card.programme.counts.${programme.counts}`));
  } else fact("run", counted ? say("card.run.torsion", { turns }) : say("card.run.open"));
  if (counted) {
    fact("count", say("card.count.torsion", { turns }));
    if (gripDistance !== undefined) fact("grip", say("card.grip.torsion", { turns, distance: amount(gripDistance) }));
  }
  fact("face", say("card.face.torsion"));
  fact("keep", say("card.keepText"));
}

function programmeText({ forward, reverse, cycles }: NonNullable<SetUp["programme"]>, say: Say): string {
  const turns = { forward: figure(say, forward), reverse: figure(say, reverse ?? ""), cycles: cycles ?? "" };
  return say(`card.programme.${reverse === undefined ? "back" : cycles === undefined ? "open" : "cycles"}`, turns);
}

function speedText({ speed }: SetUp, say: Say): string {
  if (speed === undefined) return say("card.speedFree");
  const text = say(speed.advised ? "card.speedAdvised" : "card.speedMost", { speed: figure(say, speed.most) });
  return speed.machineMost === undefined ? text : say("card.speedMachine", { text, speed: figure(say, speed.machineMost) });
}

function mandrelText({ mandrelMax, shelfMandrel }: SetUp, mandrel: Measure, say: Say): string {
  const required =
    mandrelMax === undefined
      ? measureText(say, mandrel)
      : say("card.mandrelRange", { mandrel: figure(say, mandrel.text), most: measureText(say, mandrelMax) });
  return shelfMandrel === undefined ? required : say("card.mandrelShelf", { mandrel: measureText(say, shelfMandrel), required });
}

function radiusText({ shelfRadius, guideDistance }: SetUp, radius: Measure, say: Say): string {
  const text =
    shelfRadius === undefined
      ? measureText(say, radius)
      : say("card.mandrelShelf", { mandrel: measureText(say, shelfRadius), required: measureText(say, radius) });
  return guideDistance === undefined ? text : say("card.radiusGuide", { radius: text, distance: measureText(say, guideDistance) });
}

function weightsText({ tension, weights }: SetUp, say: Say): string {
  if (tension === undefined) return say("card.weightsNone");
  const band = { least: measureText(say, tension.leastMass), most: measureText(say, tension.mostMass) };
  return weights === undefined
    ? say("card.weightsBand", { ...band, force: measureText(say, tension.most) })
    : say(weights.light ? "card.weightsLight" : "card.weightsText", {
        ...band,
        names: weights.names.join(" + "),
        total: measureText(say, weights.total),
      });
}

/** Usual cautions beside the step they belong to: common practice, no source. */
function cautionsOf(sheet: SetUp["sheet"]): readonly string[] {
  switch (sheet) {
    case "torsion":
      return ["caution.strap", "caution.guard", "caution.gloves", "caution.eyes", "caution.weight", "caution.hot", "caution.lock"];
    case "wrap":
    case "coiling":
      return ["caution.strap", "caution.guard", "caution.gloves", "caution.eyes", "caution.slivers", "caution.lock"];
    case "tensile":
    case "reverse-bend":
      return ["caution.strap", "caution.guard", "caution.eyes"];
    case "coating-mass":
      return ["caution.acid", "caution.eyes", "caution.slivers"];
    default:
      return ["caution.strap", "caution.eyes"];
  }
}
